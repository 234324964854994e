"""What is wrong with a proposed drawing of a line, held against V1.02 and the rules of a plan."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.modbus.parts import Derivation, Device, Polarization, Tap, Terminator
from labkit.fieldbus.modbus.review import RULES, findings, parts_of, why_right
from labkit.fieldbus.modbus.rules import check_network


def _tap(at: float, *devices: tuple[str, int, float]) -> Tap:
    stubs = (Derivation(length, (Device(name, node),)) for name, node, length in devices)
    return Tap(at, tuple(stubs))


LINE = Network(
    300.0,
    (
        Tap.to(0.0, Device("controller", master=True)),
        _tap(60.0, ("inlet meter", 12, 14.0)),
        _tap(150.0, ("boost drive", 33, 20.0), ("tank gauge", 7, 11.0)),
        _tap(240.0, ("dosing pump", 101, 0.0)),
    ),
    (Terminator(0.0, 120.0), Terminator(300.0, 120.0)),
    (Polarization("controller", 560.0, 560.0),),
    ("controller",),
)


def _found(network: Network) -> list[tuple[str, tuple[str, ...]]]:
    return [(each.rule, each.parts) for each in findings(network)]


def test_a_sound_line_has_no_error_and_every_place_is_a_part() -> None:
    assert findings(LINE) == ()
    assert all(result.ok for result in check_network(LINE))
    ids = ["line", "at 0 m", "at 60 m", "at 150 m", "at 240 m", "at 300 m"]
    assert [part.id for part in parts_of(LINE)] == ids


# Each case by its section of MODBUS over Serial Line V1.02.
CASES = [
    # 3.4.5: one at each end, none on a derivation.
    (
        {"terminators": (Terminator(0.0, 120.0), Terminator("inlet meter", 120.0))},
        [("terminators", ("at 60 m", "at 300 m"))],
    ),
    ({"terminators": (Terminator(300.0),)}, [("terminators", ("at 0 m",))]),
    (
        {"terminators": (*LINE.terminators, Terminator("dosing pump"))},
        [("terminators", ("at 240 m",))],
    ),
    (
        {"terminators": (*LINE.terminators, Terminator(0.0))},
        [("terminators", ("at 0 m",))],
    ),
    # 3.4.6: one pair of resistors for the whole line.
    (
        {"polarizations": (*LINE.polarizations, Polarization("tank gauge"))},
        [("bias", ("at 150 m", "at 0 m"))],
    ),
    # 3.4.4: the common at one point, best at the master.
    ({"earths": ("dosing pump", "controller")}, [("earth", ("at 240 m",))]),
    ({"earths": ()}, [("earth", ("line",))]),
    # 3.4.3: 20 m, and 40 m divided by the derivations of a tap; no trunk beyond 1000 m.
    ({"taps": (*LINE.taps[:1], _tap(60.0, ("a", 1, 20.0)))}, []),
    ({"taps": (*LINE.taps[:1], _tap(60.0, ("a", 1, 20.5)))}, [("derivation", ("at 60 m",))]),
    (
        {"taps": (*LINE.taps[:1], _tap(60.0, ("a", 1, 14.0), ("b", 2, 13.0), ("c", 3, 1.0)))},
        [("derivation", ("at 60 m",))],
    ),
    (
        {"length": 1000.5, "terminators": (Terminator(0.0), Terminator(1000.5))},
        [("trunk", ("line",))],
    ),
    # 2.2: each address once, 1 to 247.
    (
        {"taps": (*LINE.taps[:1], _tap(60.0, ("a", 7, 1.0)), _tap(90.0, ("b", 7, 1.0)))},
        [("address-twice", ("at 60 m", "at 90 m"))],
    ),
    ({"taps": (*LINE.taps[:1], _tap(60.0, ("a", 247, 1.0)))}, []),
    ({"taps": (*LINE.taps[:1], _tap(60.0, ("a", 248, 1.0)))}, [("address-range", ("at 60 m",))]),
    ({"taps": (*LINE.taps[:1], _tap(60.0, ("a", 0, 1.0)))}, [("address-range", ("at 60 m",))]),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "expected"), CASES)
def test_an_error_is_found_where_it_is(
    changes: dict[str, object], expected: list[tuple[str, tuple[str, ...]]]
) -> None:
    network = replace(LINE, **changes)  # type: ignore[arg-type]
    assert _found(network) == expected


@pytest.mark.parametrize(
    ("polarized", "load", "broken"),
    [(True, 27.0, False), (True, 27.5, True), (False, 31.0, False), (False, 31.5, True)],
)
def test_unit_loads_are_32_and_4_fewer_with_a_bias(
    *, polarized: bool, load: float, broken: bool
) -> None:
    # V1.02, 3.4.1 and 3.4.6; the master is one of them.
    heavy = Tap.to(60.0, Device("a", 7, load))
    pairs = LINE.polarizations if polarized else ()
    network = replace(LINE, taps=(LINE.taps[0], heavy), polarizations=pairs)
    assert _found(network) == ([("loads", ("line",))] if broken else [])


def test_of_every_part_it_is_said_why_it_is_right() -> None:
    for part in parts_of(LINE):
        for name, rule in RULES.items():
            told = why_right(LINE, part, name)
            nothing = told.startswith("nothing at this place")
            assert nothing != rule.concerns(LINE, part)
            assert told.endswith(".")
    stub = next(part for part in parts_of(LINE) if part.id == "at 150 m")
    told = why_right(LINE, stub, "derivation")
    assert (
        told == "2 derivations leave this tap; the longest is 20 m long, 20 m are allowed for each."
    )
