"""What an instructor reads out where a fault is looked for on paper: readings of the bench.

Every value is measured on the bench with its faults; one that a sound bench would not show is
printed bold. It is the sheet for the person who plays the meter, never for the trainee.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from typing import Final

from labkit.bench.bench import RUN_S, Bench
from labkit.bench.conductors import Wire
from labkit.bench.faults import AtConnector, AtDevice, Fault, Loose
from labkit.bench.layout import EARTH, LEFT_END, RIGHT_END
from labkit.bench.measurements import Look, Measurement, Ohms, SupplyCurrent, Volts
from labkit.bench.setup import Setup, Words
from labkit.bench.situation import Situation, Terminal
from labkit.kinds.common import paper
from labkit.kinds.common.bench_setup import setup_of

_DEAD: Final = Situation()
_LIVE: Final = Situation(power=True)
_A_TENTH: Final = 0.1
"""s before a loose contact opens or shuts: what is watched ends then, and has settled."""


class _Both:
    """The bench as it is beside a sound one, in one situation."""

    def __init__(self, setup: Setup, faults: Iterable[Fault], situation: Situation) -> None:
        self._here = Bench(setup, frozenset(faults), situation)
        self._sound = _sound_bench(json.dumps(setup.to_json()), situation)

    def cell(self, measurement: Measurement | Words) -> str:
        """The reading, or what is told, bold where a sound bench would show another."""
        if not isinstance(measurement, Measurement):
            return self._said(measurement)
        shows = measurement.take(self._here)
        if shows.agrees(measurement.take(self._sound)):
            return paper.text(shows.text)
        return paper.filled(shows.text)

    def _said(self, words: Words) -> str:
        here = words(self._here)
        return paper.text(here) if here == words(self._sound) else paper.filled(here)

    def differs(self, measurement: Measurement) -> bool:
        """Whether a sound bench would show another reading."""
        return not measurement.take(self._here).agrees(measurement.take(self._sound))


@lru_cache(maxsize=128)
def _sound_bench(setup: str, situation: Situation) -> Bench:
    """The bench without a fault; the cases of a lab often share it, and its traffic takes long."""
    return Bench(setup_of(json.loads(setup)), frozenset(), situation)


def readings_sheet(setup: Setup, faults: Sequence[Fault]) -> str:
    """Instruments, the meter at every device and from device to device, and with plugs pulled.

    What a hint of a lab asks for must be on it.
    """
    loose = [fault for fault in faults if isinstance(fault, Loose)]
    dead, live = _Both(setup, faults, _DEAD), _Both(setup, faults, _LIVE)
    watched = _watched(setup, faults, loose[0].shut_s) if loose else live
    terminals = ", ".join(f"{w.terminal} {w.words}" for w in setup.layout.conductors.wires)
    parts = [
        paper.note(
            "Read out what is asked for, and no more. Bold: not as on a sound line. The numbers "
            f"are terminals: {terminals}."
        ),
        _instruments(setup, watched, checks=not loose),
        _at_connectors(setup, dead, live),
        _from_device_to_device(setup, dead, "Power off, from", live),
        _at_fuses(setup, dead, live),
        _pulled(setup, faults, dead, live),
        _without_the_drop(setup, faults),
        _looks(setup, dead),
    ]
    parts += [_while_open(setup, faults, fault) for fault in loose]
    return "".join(parts)


def _watched(setup: Setup, faults: Sequence[Fault], until_s: float) -> _Both:
    """The bench under power, so that a run from power-up on ends at `until_s` of the rhythm."""
    every = next(fault.every_s for fault in faults if isinstance(fault, Loose))
    return _Both(setup, faults, replace(_LIVE, clock_s=(until_s - _A_TENTH - RUN_S) % every))


def _instruments(setup: Setup, live: _Both, head: str = "Power on", *, checks: bool) -> str:
    # The checks are from power-up, when a loose contact may have been the other way.
    asked: list[tuple[str, Measurement | Words]] = [
        *setup.readings(from_power_up=checks),
        *((f"Current of {name}", SupplyCurrent(name)) for name in setup.layout.supplies),
    ]
    rows = [[paper.text(words), live.cell(measurement)] for words, measurement in asked]
    return paper.table([head, "What it shows"], rows, "asked", "")


def _at_connectors(setup: Setup, dead: _Both, live: _Both) -> str:
    layout, conductors = setup.layout, setup.layout.conductors
    (high, low), shield = conductors.pair, conductors.shield
    live_pairs = [(high, conductors.common), (low, conductors.common)]
    if conductors.power:
        live_pairs.insert(0, conductors.power)
    places = {name: connector.id for name, connector in layout.device_connectors.items()}
    places |= {end: end for end in (LEFT_END, RIGHT_END)}
    places |= {supply: supply for supply in layout.supplies}
    rows = []
    for name, connector in places.items():
        at = {wire: Terminal.of(connector, wire) for wire in conductors.wires}
        rows.append(
            [
                paper.text(name),
                dead.cell(Ohms(at[high], at[low])),
                dead.cell(Ohms(at[shield], Terminal(EARTH))),
                *(live.cell(Volts(at[a], at[b])) for a, b in live_pairs),
            ]
        )
    heads = [f"{_across(high, low)}, off", f"{shield.terminal}–earth, off"]
    heads += [f"{_across(*pair)}, on" for pair in live_pairs]
    return paper.table(["Meter at the connector of", *heads], rows)


def _across(a: Wire, b: Wire) -> str:
    return f"{a.terminal}–{b.terminal}"


def _at_fuses(setup: Setup, dead: _Both, live: _Both) -> str:
    """What the meter shows behind each drop's fuse, and across it."""
    layout = setup.layout
    if not layout.fused:
        return ""
    plus, minus = layout.conductors.plus_and_minus
    rows = []
    for name in layout.fused:
        behind, common = (Terminal.of(name, wire) for wire in (plus, minus))
        tap = Terminal.of(f"{layout.connectors[name].socket}, left", plus)
        across = dead.cell(Ohms(tap, behind))
        rows.append([paper.text(name), live.cell(Volts(behind, common)), across])
    heads = ["Behind the fuse of", f"{_across(plus, minus)}, on", "Across the fuse, off"]
    return paper.table(heads, rows)


def _pulled(setup: Setup, faults: Sequence[Fault], dead: _Both, live: _Both) -> str:
    """What the meter and the displays show with one connector pulled, where that tells anything."""
    layout = setup.layout
    first, *_, last = layout.device_connectors.values()
    high, low = layout.conductors.pair
    across = [Ohms(Terminal.of(at.id, high), Terminal.of(at.id, low)) for at in (first, last)]
    supplies = [s for s in layout.supplies if live.differs(SupplyCurrent(s))]
    if not supplies and not any(map(dead.differs, across)):
        told = (
            "With a plug pulled the meter shows nothing that a sound line would not: without one "
            "end, or with the trunk parted, one terminator is left."
        )
        if layout.supplies:
            told += (
                " The supply's display falls by the planned current of whatever is cut off from it."
            )
        return paper.note(told)

    def cells(connector: str) -> list[str]:
        if connector not in layout.connectors:
            return [""] * (len(across) + len(supplies))
        out = frozenset({connector})
        parted = _Both(setup, faults, replace(_DEAD, unplugged=out))
        found = list(map(parted.cell, across))
        if supplies:
            fed = _Both(setup, faults, replace(_LIVE, unplugged=out))
            found += [fed.cell(SupplyCurrent(supply)) for supply in supplies]
        return found

    joints = [c.socket for c in layout.connectors.values() if c.kind == "trunk"]
    rows = [[paper.text(end), *cells(end), *cells("")] for end in (LEFT_END, RIGHT_END)]
    for joint in dict.fromkeys(joints):
        rows.append([paper.text(joint), *cells(f"{joint}, drop"), *cells(f"{joint}, right")])
    heads = [
        f"{what}: {where}"
        for what in ("end or drop", "trunk, right")
        for where in (*(f"{_across(high, low)} at {at.socket}" for at in (first, last)), *supplies)
    ]
    return paper.table(["Plug pulled at", *heads], rows)


def _without_the_drop(setup: Setup, faults: Sequence[Fault]) -> str:
    """What the scanner says once the drop of a device that is at fault is pulled at its tap.

    One that hangs in the trunk has no drop: its own plug is pulled.
    """
    layout = setup.layout
    names = {f.device for f in faults if isinstance(f, AtDevice)}
    names |= {f.connector for f in faults if isinstance(f, AtConnector)}
    rows = []
    for tap in layout.plan.taps:
        here = [device.name for device in tap.drop.all_devices if device.name in names]
        if here:
            drop, own = f"{tap.name}, drop", (layout.device_connectors[name].id for name in here)
            out = frozenset({drop} if drop in layout.connectors else own)
            live = _Both(setup, faults, replace(_LIVE, unplugged=out))
            rows.append([paper.text(", ".join(here)), live.cell(setup.report)])
    return (
        paper.table(["Drop pulled of", "The scanner's report"], rows, "asked", "") if rows else ""
    )


def _from_device_to_device(setup: Setup, dead: _Both, head: str, live: _Both | None = None) -> str:
    """Continuity of every conductor, and with `live` the volts along the power pair."""
    conductors = setup.layout.conductors
    fed = (conductors.power or ()) if live else ()
    rows = []
    for a, b in pairwise(setup.layout.device_connectors.values()):
        ends = {w: (Terminal.of(a.id, w), Terminal.of(b.id, w)) for w in conductors.wires}
        cells = [dead.cell(Ohms(*pair)) for pair in ends.values()]
        if live:
            cells += [live.cell(Volts(*ends[wire])) for wire in fed]
        rows.append([paper.text(f"{a.socket} to {b.socket}"), *cells])
    heads = [_across(wire, wire) for wire in conductors.wires]
    heads += [f"{_across(wire, wire)}, on" for wire in fed]
    return paper.table([head, *heads], rows)


def _looks(setup: Setup, dead: _Both) -> str:
    """What opened connectors show; those that look as they should are not listed."""
    looks = {name: Look(name) for name in setup.layout.connectors}
    odd = {name: look for name, look in looks.items() if dead.differs(look)}
    if not odd:
        return paper.note("Every connector that is opened looks as it should.")
    rows = [[paper.text(name), dead.cell(look)] for name, look in odd.items()]
    return paper.table(["Opened connector", "It shows"], rows, "asked", "")


def _while_open(setup: Setup, faults: Sequence[Fault], fault: Loose) -> str:
    """A loose contact comes and goes: what continuity shows while it is open."""
    situation = replace(_DEAD, clock_s=fault.open_at_s)
    words = (
        f"{fault.words_on(setup.layout)}: open for {fault.open_s:g} s in every "
        f"{fault.every_s:g} s. The tables above show it closed; to a trainee who watches long "
        "enough, reads the meter again and again, or moves the plug, read out these:"
    )
    sheet = _from_device_to_device(setup, _Both(setup, faults, situation), "While it is open")
    live = _watched(setup, faults, fault.every_s)
    return (
        paper.note(words)
        + sheet
        + _instruments(setup, live, "Power on, while it is open", checks=False)
    )
