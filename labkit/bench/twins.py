"""Twins: faults that no instrument tells apart, in any situation that a recording holds.

`twins_of` knows them by three rules; `groups_alike` works them out from everything that the
instruments show, and the tests hold the rules against it:

* a conductor that is open, loose or corroded at one end of a cable, or at the other: a probe
  reaches terminals, never the conductor between its two ends;
* two conductors that touch, or one that touches earth, at one end of a cable of no length, or at
  the other: nothing lies between the two ends;
* a terminator or a bias too many at one connector of a joint or part, or at another: it sits on
  terminals that the joint makes one.

Displays are compared digit by digit, as a bench without noise shows them: within a meter's error
there would be more twins, but here a reading repeats.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from labkit.bench.bench import Bench
from labkit.bench.faults import (
    AtConnector,
    BiasExtra,
    Broken,
    Corroded,
    Earthed,
    Fault,
    Loose,
    TerminatorExtra,
    Touching,
)
from labkit.bench.layout import Layout
from labkit.bench.measurements import Look
from labkit.bench.meter import volts_shown
from labkit.bench.recording import dead_texts, places, situations
from labkit.bench.situation import Situation

IN_THE_WAY = (Broken, Loose, Corroded)
"""Faults of a conductor's own way through a connector."""
ACROSS = (Touching, Earthed)
"""Faults between a conductor and something else."""

Display = tuple[object, ...]


def twins_of(layout: Layout, fault: Fault) -> tuple[Fault, ...]:
    """The faults of the same kind, elsewhere, that no instrument tells from this one."""
    if not isinstance(fault, AtConnector):
        return ()
    if isinstance(fault, TerminatorExtra | BiasExtra):
        socket = layout.connector(fault.connector).socket
        places = [c.id for c in layout.connectors.values() if c.socket == socket]
    elif isinstance(fault, (*IN_THE_WAY, *ACROSS)):
        pieces = [p for p in layout.pieces.values() if fault.connector in (p.a, p.b)]
        close = [p for p in pieces if not p.runs or isinstance(fault, IN_THE_WAY)]
        places = [end for piece in close for end in (piece.a, piece.b)]
    else:
        return ()
    return tuple(replace(fault, connector=at) for at in places if at != fault.connector)


def alike(one: Bench, other: Bench, *, recorded: bool = False) -> bool:
    """Whether every instrument shows the same on both; ends at the first difference.

    `recorded`: as an assessed class has it, where a loose contact is measured only as it stands at
    the start. Otherwise it is measured while it is open, too.
    """
    return len(groups_alike([one, other], recorded=recorded)) == 1


def groups_alike(benches: Sequence[Bench], *, recorded: bool = False) -> list[list[int]]:
    """The benches' numbers in groups that show the same, in order; most groups hold one.

    Each bench is looked at only for as long as another one has shown the same as it.
    """
    clocks = [0.0] if recorded else [0.0, *_open_moments(benches)]
    shown = [_displays(bench, clocks) for bench in benches]
    pending, done = [list(range(len(benches)))], list[list[int]]()
    while pending:
        group = pending.pop()
        if len(group) == 1:
            done.append(group)
            continue
        parts: dict[Display | None, list[int]] = {}
        for number in group:
            parts.setdefault(next(shown[number], None), []).append(number)
        ended = parts.pop(None, [])
        done += [ended] if ended else []
        pending += parts.values()
    return sorted(done)


def unseen(bench: Bench, *, recorded: bool = False) -> tuple[Fault, ...]:
    """The faults without which every instrument shows the same, by themselves."""
    return tuple(
        fault
        for fault in sorted(bench.faults, key=lambda each: each.words_on(bench.layout))
        if alike(bench, bench.with_faults(bench.faults - {fault}), recorded=recorded)
    )


def _open_moments(benches: Sequence[Bench]) -> list[float]:
    """Times on the clock in the middle of each time that a loose contact is open, s."""
    loose = {f for bench in benches for f in bench.faults if isinstance(f, Loose)}
    return sorted({fault.open_at_s for fault in loose})


def _displays(bench: Bench, clocks: Sequence[float]) -> Iterator[Display]:
    """What is shown, the telling and quick things first."""
    yield tuple(Look(connector).take(bench).text for connector in bench.layout.connectors)
    found = sorted(situations(bench), key=lambda each: len(each.unplugged))
    whole = [each for each in found if not each.unplugged]
    for clock in clocks:
        for situation in whole:
            yield _meters(bench.standing(situation.at(clock)))
    busy = bench.standing(Situation(power=True))
    for measurement in bench.setup.watches():
        reading = measurement.take(busy)
        yield reading.text, repr(reading.detail)
    for situation in found[len(whole) :]:
        yield _meters(bench.standing(situation))


def _meters(bench: Bench) -> Display:
    return _live(bench) if bench.situation.power else tuple(dead_texts(bench))


def _live(bench: Bench) -> Display:
    nodes = list(places(bench.wiring).values())
    found = bench.potentials
    volts = (volts_shown(found.metered(a, b)).text for a, b in combinations(nodes, 2))
    supplies = (bench.supply_current(s).text for s in bench.layout.supplies)
    return (*volts, *supplies)
