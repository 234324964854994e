"""The ohmmeter's quick circuit reads what the whole one reads, and is worked out once."""

import math
from collections.abc import Sequence
from itertools import combinations, product

import pytest
from test_bench_mend import FAULTS, FREE, SETUP

from labkit.bench import bench as bench_module
from labkit.bench import live as live_module
from labkit.bench import recording
from labkit.bench.bench import Bench
from labkit.bench.faults import Landed, Touching, WrongCable
from labkit.bench.faults.base import Fault
from labkit.bench.layout import EARTH
from labkit.bench.making import MeterTest
from labkit.bench.meter import (
    all_ohms_shown,
    ohms_shown,
    on_edge,
    volts_on_edge,
    volts_shown,
)
from labkit.bench.operating import on_stretches
from labkit.bench.recording import dead_texts, places, situations
from labkit.bench.situation import Situation, Terminal
from labkit.bench.wiring import Wiring
from labkit.families.devicenet.bench.conductors import CAN_H, CONDUCTORS, DRAIN
from labkit.fieldbus.circuit import (
    Circuit,
    Element,
    Resistor,
    Solution,
    all_resistances,
    paired_resistances,
)

SEVERAL = frozenset(
    {
        Landed("valves", (1, 4, 0, 2, 5)),
        Touching("tap 3, left", CAN_H, DRAIN),
        WrongCable("tap 2, right – tap 3, left", "thin"),
    }
)


@pytest.mark.parametrize(
    "faults", [frozenset(), SEVERAL, *(frozenset({fault}) for fault in (*FREE, *FAULTS[::40]))]
)
def test_both_circuits_read_alike_at_every_place_a_probe_can_touch(
    faults: frozenset[Fault],
) -> None:
    dead = [one for one in situations(Bench(SETUP, faults)) if not one.power]
    for situation in dead[:: 7 if faults else 1]:
        wiring = Bench(SETUP, faults, situation).wiring
        nodes = list(places(wiring).values())
        whole, quick = (all_resistances(c, nodes) for c in (wiring.dead, wiring.probed))
        for pair in combinations(nodes, 2):
            assert quick[pair] == pytest.approx(whole[pair], rel=1e-9), (situation, pair)


def test_a_bench_has_fewer_nodes_for_the_ohmmeter_and_more_only_where_something_is_odd() -> None:
    sound, odd = Bench(SETUP).wiring, Bench(SETUP, frozenset({Landed("valves", (1, 4, 3, 2, 5))}))
    assert len(sound.probed.nodes) < len(sound.dead.nodes) / 2
    # The plugs at both ends of the drop, five terminals each.
    assert len(odd.wiring.probed.nodes) == len(sound.probed.nodes) + 10


def test_the_readings_at_two_places_are_one_calculation(monkeypatch: pytest.MonkeyPatch) -> None:
    times: list[int] = []

    def counted(*given: object) -> dict[tuple[str, str], float]:
        times.append(1)
        return all_resistances(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(bench_module, "all_resistances", counted)
    bench = Bench(SETUP)
    for a, b in (("valves/4", "panel/4"), ("valves/4", "valves/2"), ("panel/1", "valves/3")):
        bench.ohms(Terminal.from_text(a), Terminal.from_text(b))
    assert len(times) == 1


def test_what_a_sound_bench_reads_is_read_once_for_all_wirings(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    solved: list[frozenset[Fault]] = []
    foresee = Bench.foresee

    def counted(bench: Bench, terminals: object) -> None:
        if not bench.situation.power:
            solved.append(bench.faults)
        foresee(bench, terminals)  # type: ignore[arg-type]

    monkeypatch.setattr(Bench, "foresee", counted)
    test = MeterTest(SETUP, "valves")
    for terminals in ((1, 4, 3, 2, 5), (5, 2, 3, 4, 1), (1, 2, 0, 4, 5)):
        assert test.telling([Landed("valves", terminals)]) is not None
    # With the earth as it is, and lifted; each wiring at most so often too.
    assert solved.count(frozenset()) <= 2
    assert len(solved) <= 8


def test_earth_stands_alone_among_terminals() -> None:
    assert Terminal(EARTH).row(CONDUCTORS) == (Terminal(EARTH),)
    assert [t.text for t in Terminal("valves", 4, socket=True).row(CONDUCTORS)] == [
        f"valves/{number}s" for number in range(1, 6)
    ]


@pytest.mark.parametrize(
    ("ohm", "so"),
    [
        *((ohm, True) for ohm in (4.45, 4.449999999999999, 599.95, 1234.5)),
        *((ohm, False) for ohm in (4.46, 4.4499, 1234.56, 0.0, math.inf)),
    ],
)
def test_what_the_last_figure_hangs_on_is_an_edge(ohm: float, so: bool) -> None:
    assert on_edge(ohm) is so


@pytest.mark.parametrize("power", range(-2, 9))
def test_many_resistances_are_shown_as_each_alone(power: int) -> None:
    ohms = [power_of_ten * 10.0**power for power_of_ten in (1.0, 2.34567, 5.9995, 6.0, 9.87654)]
    ohms += [ohm * (1 + bit) for ohm in ohms for bit in (-1e-9, 1e-15, 4e-4)]
    shown, sure = all_ohms_shown([*ohms, 0.0, math.inf, 40e6])
    assert shown == {ohm: ohms_shown(ohm).text for ohm in (*ohms, 0.0, math.inf, 40e6)}
    assert sure is not any(map(on_edge, ohms))


def test_one_resistance_on_an_edge_makes_all_unsure() -> None:
    assert all_ohms_shown([120.0, 4.46]) == ({120.0: "120.0 Ω", 4.46: "4.5 Ω"}, True)
    assert all_ohms_shown([120.0, 4.45]) == ({120.0: "120.0 Ω", 4.45: ohms_shown(4.45).text}, False)


def test_on_an_edge_the_figure_is_that_of_the_whole_circuit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bench = Bench(SETUP)
    ends = Terminal.from_text("valves/4"), Terminal.from_text("panel/4")
    quick = bench.ohms(*ends), dead_texts(bench)
    monkeypatch.setattr(bench_module, "on_edge", lambda _: True)
    monkeypatch.setattr(recording, "all_ohms_shown", lambda ohms: (all_ohms_shown(ohms)[0], False))
    # A quick circuit that is wrong is not asked then.
    monkeypatch.setattr(Wiring, "probed", Circuit((Resistor("r", "elsewhere", "here", 1.0),)))
    monkeypatch.setattr(bench_module, "all_resistances", lambda _, nodes: _nothing(nodes))
    monkeypatch.setattr(recording, "paired_resistances", _only_whole)
    assert (Bench(SETUP).ohms(*ends), dead_texts(Bench(SETUP))) == quick


def _nothing(nodes: Sequence[str]) -> dict[tuple[str, str], float]:
    return dict.fromkeys(product(nodes, nodes), 0.0)


def _only_whole(circuit: Circuit, nodes: Sequence[str]) -> list[float]:
    if len(circuit.elements) > 1:
        return paired_resistances(circuit, nodes)
    return [0.0 for _ in combinations(nodes, 2)]


@pytest.mark.parametrize(
    "faults", [frozenset(), SEVERAL, *(frozenset({fault}) for fault in (*FREE, *FAULTS[::6]))]
)
def test_who_is_powered_is_asked_of_the_quick_circuit_and_moves_no_bit(
    faults: frozenset[Fault],
) -> None:
    live, whole = (Bench(SETUP, faults, Situation(power=True)).live for _ in range(2))
    assert live is not None
    assert whole is not None
    whole.wiring.__dict__["quick"] = whole.wiring.passive
    assert live.powered == whole.powered
    assert live.idle == whole.idle


def test_where_a_voltage_is_close_to_what_a_device_needs_the_whole_circuit_decides(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(live_module, "SURE_VOLT", 100.0)
    live, sure = (Bench(SETUP, frozenset(), Situation(power=True)).live for _ in range(2))
    assert live is not None
    assert sure is not None
    live.wiring.__dict__["quick"] = ()
    assert live.powered == {"panel", "valves", "scale"}
    monkeypatch.setattr(live_module, "SURE_VOLT", 0.0)
    solved: list[int] = []

    def counted(elements: tuple[Element, ...]) -> Solution:
        solved.append(len(elements))
        return on_stretches(elements)

    monkeypatch.setattr(live_module, "on_stretches", counted)
    assert sure.powered == live.powered
    # Once, and of less than the whole.
    assert len(solved) == 1
    assert solved[0] < len(sure.wiring.passive)


@pytest.mark.parametrize("faults", [frozenset(), SEVERAL, *(frozenset({f}) for f in FAULTS[::30])])
def test_a_voltmeter_reads_alike_with_and_without_the_whole_circuit(
    faults: frozenset[Fault],
) -> None:
    live = [one for one in situations(Bench(SETUP, faults)) if one.power]
    for situation in live[::5]:
        quick, whole = (Bench(SETUP, faults, situation) for _ in range(2))
        terminals = [
            Terminal(connector, number)
            for connector in quick.layout.connectors
            for number in CONDUCTORS.in_order
        ]
        for a, b in list(combinations(terminals, 2))[::7]:
            one, two = whole.wiring.node(a), whole.wiring.node(b)
            assert quick.volts(a, b) == volts_shown(whole.potentials.metered(one, two)), (a, b)


@pytest.mark.parametrize(
    ("volt", "so"),
    [
        *((volt, True) for volt in (2.5005, -2.500501, 23.995001, 0.59995, 0.0000515)),
        *((volt, False) for volt in (2.5, -2.50051, 24.0, 0.0, 700.0)),
    ],
)
def test_a_voltage_is_on_an_edge_within_what_it_may_be_off(volt: float, so: bool) -> None:
    assert volts_on_edge(volt, 2e-6) is so


def test_on_an_edge_a_voltmeter_shows_what_the_whole_circuit_has(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(live_module, "volts_on_edge", lambda *_: True)
    bench = Bench(SETUP, situation=Situation(power=True))
    assert bench.live is not None
    bench.volts(Terminal.from_text("valves/5"), Terminal.from_text("valves/1"))
    assert "_awake" in vars(bench.live)


def test_a_voltmeter_asks_the_quick_circuit_where_the_whole_one_is_not_known() -> None:
    bench = Bench(SETUP, situation=Situation(power=True))
    ends = Terminal.from_text("valves/5"), Terminal.from_text("valves/1")
    shown = bench.volts(*ends)
    assert bench.live is not None
    assert "_awake" not in vars(bench.live)
    assert bench.live.idle
    del bench.live.__dict__["_quick"]
    assert bench.volts(*ends) == shown
    assert "_quick" not in vars(bench.live)
