"""The two indicators of a node, run (green) and error (red): patterns and what they mean.

Source: CiA 303-3 of 2006. Times in ms. A pattern repeats without end.
"""

from collections.abc import Collection
from enum import Enum
from typing import Final

from labkit.fieldbus.canopen.nmt import NmtState
from labkit.fieldbus.checked import number

_FLASH: Final = 200
_PAUSE: Final = 1000


def _flashes(count: int) -> tuple[int, ...]:
    return (_FLASH, _FLASH) * (count - 1) + (_FLASH, _PAUSE)


class Pattern(Enum):
    """How an indicator lights: its words, and ms lit, dark, lit, dark … until it repeats.

    One manual has 1.4 s instead of 1 s of pause behind a single flash.
    """

    OFF = ("off", (0, 1))
    ON = ("on", (1, 0))
    FLICKERING = ("flickering", (50, 50))
    BLINKING = ("blinking", (200, 200))
    SINGLE_FLASH = ("single flash", _flashes(1))
    DOUBLE_FLASH = ("double flash", _flashes(2))
    TRIPLE_FLASH = ("triple flash", _flashes(3))
    QUADRUPLE_FLASH = ("quadruple flash", _flashes(4))

    @property
    def words(self) -> str:
        """What one calls it."""
        return str(self.value[0])

    @property
    def times_ms(self) -> tuple[int, ...]:
        """Lit, dark, lit, dark … in ms."""
        times: tuple[int, ...] = self.value[1]
        return times

    def lit_at(self, time_ms: float) -> bool:
        """Whether it is lit so many ms after the pattern began."""
        rest = number(time_ms, "the time", "ms") % sum(self.times_ms)
        for at, length in enumerate(self.times_ms):
            if rest < length:
                return at % 2 == 0
            rest -= length
        return False


RUN_MEANING: Final = {
    Pattern.ON: "operational",
    Pattern.BLINKING: "pre-operational",
    Pattern.SINGLE_FLASH: "stopped",
    Pattern.TRIPLE_FLASH: "a program is being loaded",
    Pattern.FLICKERING: "looking for the bit rate, or being configured by LSS (red flickers too)",
}
"""What the run indicator says (CiA 303-3)."""


class NodeFault(Enum):
    """What the error indicator can tell, the gravest last (CiA 303-3; the order from memory)."""

    INVALID_CONFIGURATION = "the configuration is invalid"
    WARNING_LIMIT = "an error counter has reached its warning limit"
    ERROR_CONTROL = "a guarding or heartbeat did not come"
    SYNC_MISSING = "SYNC did not come within its period (0x1006)"
    PDO_MISSING = "an expected PDO did not come within its event time"
    BUS_OFF = "bus-off"


ERROR_PATTERN: Final = {
    NodeFault.INVALID_CONFIGURATION: Pattern.BLINKING,
    NodeFault.WARNING_LIMIT: Pattern.SINGLE_FLASH,
    NodeFault.ERROR_CONTROL: Pattern.DOUBLE_FLASH,
    NodeFault.SYNC_MISSING: Pattern.TRIPLE_FLASH,
    NodeFault.PDO_MISSING: Pattern.QUADRUPLE_FLASH,
    NodeFault.BUS_OFF: Pattern.ON,
}
"""How the error indicator shows a fault; without one it is off (CiA 303-3)."""
_RUN_PATTERN: Final = {
    NmtState.OPERATIONAL: Pattern.ON,
    NmtState.PRE_OPERATIONAL: Pattern.BLINKING,
    NmtState.STOPPED: Pattern.SINGLE_FLASH,
    NmtState.INITIALISING: Pattern.OFF,
}


def run_pattern(state: NmtState) -> Pattern:
    """The run indicator in a state; CiA 303-3 has none for initialising, it is off here."""
    return _RUN_PATTERN[state]


def error_pattern(faults: Collection[NodeFault]) -> Pattern:
    """The error indicator where there are faults: the gravest is shown (from memory)."""
    gravest = [fault for fault in NodeFault if fault in faults][-1:]
    return ERROR_PATTERN[gravest[0]] if gravest else Pattern.OFF
