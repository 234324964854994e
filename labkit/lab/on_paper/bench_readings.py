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

from labkit.bench.bench import Bench
from labkit.bench.conductors import WIRES, Wire
from labkit.bench.faults import Fault, Loose
from labkit.bench.layout import EARTH
from labkit.bench.measurements import (
    FrameLog,
    Indicators,
    Look,
    Measurement,
    Ohms,
    ScannerReport,
    SupplyCurrent,
    Volts,
)
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal
from labkit.lab import paper

_DEAD: Final = Situation()
_LIVE: Final = Situation(power=True)
_AT_A_DEVICE: Final = ("4–2, off", "3–earth, off", "5–1, on", "4–1, on", "2–1, on")


class _Both:
    """The bench as it is beside a sound one, in one situation."""

    def __init__(self, setup: Setup, faults: Iterable[Fault], situation: Situation) -> None:
        self._here = Bench(setup, frozenset(faults), situation)
        self._sound = _sound_bench(json.dumps(setup.to_json()), situation)

    def cell(self, measurement: Measurement) -> str:
        """The reading, bold where a sound bench would show another."""
        shows = measurement.take(self._here)
        if shows.agrees(measurement.take(self._sound)):
            return paper.text(shows.text)
        return paper.filled(shows.text)

    def differs(self, measurement: Measurement) -> bool:
        """Whether a sound bench would show another reading."""
        return not measurement.take(self._here).agrees(measurement.take(self._sound))


@lru_cache(maxsize=8)
def _sound_bench(setup: str, situation: Situation) -> Bench:
    """The bench without a fault; the cases of a lab often share it, and its traffic takes long."""
    return Bench(Setup.from_json(json.loads(setup)), frozenset(), situation)


def readings_sheet(setup: Setup, faults: Sequence[Fault]) -> str:
    """Instruments, the meter at every device, and continuity from device to device."""
    dead, live = _Both(setup, faults, _DEAD), _Both(setup, faults, _LIVE)
    parts = [
        paper.note(
            "Read out what is asked for, and no more. Bold: not as on a sound line. The numbers "
            "are terminals: 1 V−, 2 CAN_L, 3 drain, 4 CAN_H, 5 V+."
        ),
        _instruments(setup, live),
        _at_devices(setup, dead, live),
        _from_device_to_device(setup, dead, "Continuity, power off, from"),
        _looks(setup, dead),
    ]
    parts += [_while_open(setup, faults, fault) for fault in faults if isinstance(fault, Loose)]
    return "".join(parts)


def _instruments(setup: Setup, live: _Both) -> str:
    asked: list[tuple[str, Measurement]] = [
        ("Indicators, from power-up on", Indicators()),
        ("The scanner's report", ScannerReport()),
        (f"Frame log at {setup.scanner}", FrameLog(setup.scanner)),
        *((f"Current of {name}", SupplyCurrent(name)) for name in setup.layout.supplies),
    ]
    rows = [[paper.text(words), live.cell(measurement)] for words, measurement in asked]
    return paper.table(["Power on", "What it shows"], rows, "asked", "")


def _at_devices(setup: Setup, dead: _Both, live: _Both) -> str:
    rows = []
    for name, connector in setup.layout.device_connectors.items():
        at = {wire: Terminal.of(connector.id, wire) for wire in Wire}
        minus = at[Wire.V_MINUS]
        rows.append(
            [
                paper.text(name),
                dead.cell(Ohms(at[Wire.CAN_H], at[Wire.CAN_L])),
                dead.cell(Ohms(at[Wire.DRAIN], Terminal(EARTH))),
                live.cell(Volts(at[Wire.V_PLUS], minus)),
                live.cell(Volts(at[Wire.CAN_H], minus)),
                live.cell(Volts(at[Wire.CAN_L], minus)),
            ]
        )
    return paper.table(["Meter at the connector of", *_AT_A_DEVICE], rows)


def _from_device_to_device(setup: Setup, bench: _Both, head: str) -> str:
    rows = []
    for a, b in pairwise(setup.layout.device_connectors.values()):
        ohms = [Ohms(Terminal.of(a.id, wire), Terminal.of(b.id, wire)) for wire in WIRES]
        rows.append([paper.text(f"{a.socket} to {b.socket}"), *map(bench.cell, ohms)])
    heads = [f"{wire.terminal}–{wire.terminal}" for wire in WIRES]
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
        f"{fault.words}: open for {fault.open_s:g} s in every {fault.every_s:g} s. The tables "
        "above show it closed; to a trainee who watches the meter long enough, or moves the plug, "
        "read out these:"
    )
    sheet = _from_device_to_device(setup, _Both(setup, faults, situation), "While it is open")
    return paper.note(words) + sheet
