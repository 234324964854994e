"""A log of the frames that a device hears, as a measurement of any family on CAN."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from labkit.bench.bench import RUN_S, Bench
from labkit.bench.can.frame_log import Heard, heard, heard_load
from labkit.bench.measurements import Measurement, Reading
from labkit.fieldbus.can.frame import Frame

LOG_LINES: Final = 120
"""Lines of a frame log that are kept: power-up and what follows."""
FLAG_WORDS: Final = (
    "a bus error: some device read no valid frame and sent an error flag, which destroys the "
    "frame for everyone; look for a wrong data rate, a duplicate address, or the wiring"
)
UNACKNOWLEDGED_WORDS: Final = (
    "a bus error: a frame that nobody acknowledged; its sender hears nobody, or nobody hears it"
)


def error_words(error: Heard) -> str:
    """A bus error of a log in words."""
    return UNACKNOWLEDGED_WORDS if error.alone else FLAG_WORDS


@dataclass(frozen=True)
class HeardFrames(Measurement):
    """Log the frames that one device hears from power-up on."""

    listener: str
    kind: ClassVar[str] = "frame log"

    @property
    def of_traffic(self) -> bool:
        """It shows the usual run."""
        return True

    def take(self, bench: Bench) -> Reading:
        """Who is heard, and whether there are errors; `detail` holds the first lines."""
        bench.layout.device(self.listener)
        log = heard(bench.trace, self.listener)
        last = [each.frame for each in log if each.time_s >= RUN_S - 1]
        senders = sorted({node for frame in set(last) if frame for node in self._senders(frame)})
        errors = last.count(None)
        often = "none" if not errors else "a few" if errors < 20 else "many"
        voices = ", ".join(str(node) for node in senders) or "nobody"
        load = round(100 * heard_load(bench.trace, self.listener, RUN_S - 1), -1)
        text = (
            f"last second: nodes heard {voices}; error frames {often}; bus load about {load:.0f} %"
        )
        kept = log[:LOG_LINES]
        rows = [each.row() for each in kept]
        return Reading(text, detail={"log": rows, "words": self._in_words(kept)})

    def _senders(self, frame: Frame) -> Sequence[int]:
        """The nodes whose voice a frame is; none where it tells nobody's."""
        raise NotImplementedError

    def _in_words(self, log: Sequence[Heard]) -> list[list[Any]]:
        """Lines, each with its meaning: (s, what the line holds, words, trouble)."""
        raise NotImplementedError

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"frame log at {self.listener}"
