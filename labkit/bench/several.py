"""A session at a bench with several faults looked back at: which of them each reading showed.

Counting possible single faults says little there: soon none of them explains what was read, which
is the sign that there are several. What a reading showed is asked of the bench itself: it showed a
fault if without that fault alone it would have been another. A reading that is not a sound
network's, and yet stays as it is whichever one fault is taken away, is of faults that hide each
other. After a repair the bench is another one, so all that is asked of the bench as it stood.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault, Loose
from labkit.bench.measurements import Measurement, Reading
from labkit.bench.session import Session, Step
from labkit.bench.situation import Situation


@dataclass(frozen=True, slots=True)
class Showing:
    """One step: the faults that its reading showed, and what it mended or made.

    `hidden` is true where the reading is not a sound network's and shows no fault by itself.
    """

    step: Step
    shows: tuple[Fault, ...] = ()
    hidden: bool = False
    mended: tuple[Fault, ...] = ()
    made: tuple[Fault, ...] = ()


def showings(session: Session) -> tuple[Showing, ...]:
    """Every step of a session, repairs among them."""
    asked = _Asked()
    return tuple(_showing(step, asked) for step in session.steps)


def _showing(step: Step, asked: _Asked) -> Showing:
    before, after = step.before.faults, step.after.faults
    if not isinstance(step.did, Measurement):
        mended, made = _in_order(step, before - after), _in_order(step, after - before)
        return Showing(step, mended=mended, made=made)
    seen = step.reading
    if seen is None or seen.refused:
        return Showing(step)
    shows = tuple(
        fault
        for fault in _in_order(step, before)
        if not asked.reading(step.before, before - {fault}, step.did).agrees(seen)
    )
    hidden = not shows and not asked.reading(step.before, frozenset(), step.did).agrees(seen)
    return Showing(step, shows, hidden)


def _in_order(step: Step, faults: frozenset[Fault]) -> tuple[Fault, ...]:
    layout = step.before.setup.layout
    return tuple(sorted(faults, key=lambda fault: fault.words_on(layout)))


class Letters:
    """A letter for each fault: their words would tell what is wrong to who looks back too soon."""

    def __init__(self, start: Bench) -> None:
        self._layout = start.setup.layout
        self._known: dict[Fault, str] = {}
        names = self._of(start.faults)
        self.introduced = (
            f"{len(start.faults)} faults were in the bench at once, here called {names}."
        )

    def sentences(self, showing: Showing) -> list[str]:
        """What a step showed, mended and made."""
        told = []
        if showing.shows:
            told.append(f"This showed {self._of(showing.shows)}.")
        if showing.hidden:
            told.append("Not as on a sound network, but one fault hides the other here.")
        if showing.mended:
            told.append(f"This mended {self._of(showing.mended)}.")
        if showing.made:
            told.append(f"This made a new fault, {self._of(showing.made)}.")
        return told

    def names(self) -> str:
        """Which fault each letter given so far stands for: only for who has found them all."""
        named = (
            f"{letter}: {fault.words_on(self._layout)}" for fault, letter in self._known.items()
        )
        return f"{'; '.join(named)}."

    def _of(self, faults: Iterable[Fault]) -> str:
        for fault in sorted(faults, key=lambda each: each.words_on(self._layout)):
            self._known.setdefault(fault, chr(ord("A") + len(self._known)))
        return " and ".join(sorted(self._known[fault] for fault in faults))


class _Asked:
    """Readings with other faults in the bench; each bench is worked out once."""

    def __init__(self) -> None:
        self._benches: dict[tuple[frozenset[Fault], Situation], Bench] = {}

    def reading(self, bench: Bench, faults: frozenset[Fault], what: Measurement) -> Reading:
        situation = bench.situation
        if not any(isinstance(fault, Loose) for fault in bench.faults):
            # Only a loose contact comes and goes with the time.
            situation = situation.at(0.0)
        place = faults, situation
        if place not in self._benches:
            self._benches[place] = bench.with_faults(faults).standing(situation)
        return what.take(self._benches[place])
