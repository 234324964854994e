"""Behaviour of DC circuits: worked cases, named errors, and bad input."""

import math
from typing import Any

import pytest

from labkit.fieldbus.circuit import (
    Circuit,
    CircuitError,
    ContradictorySourcesError,
    CurrentLoad,
    CurrentSource,
    Element,
    FloatingNodesError,
    LiveCircuitError,
    LoadStudy,
    Open,
    PowerLoad,
    Resistor,
    Short,
    UndefinedCurrentError,
    UnfedLoadError,
    UnknownElementError,
    UnknownNodeError,
    UnpoweredError,
    VoltageSource,
    all_resistances,
    resistance,
    solve,
)
from labkit.fieldbus.errors import PlanError

SUPPLY = VoltageSource("supply", "V+", "V-", 24.0)


def fed_over(load: CurrentLoad | PowerLoad, ohm: float = 1.0) -> Circuit:
    """The supply feeds `load` (between a and b) over `ohm` in each conductor."""
    return Circuit(
        [SUPPLY, Resistor("red", "V+", "a", ohm), Resistor("black", "b", "V-", ohm), load]
    )


def test_a_current_load_over_two_conductors() -> None:
    solution = solve(fed_over(CurrentLoad("node", "a", "b", 2.0)))
    assert solution.voltage("a", "b") == pytest.approx(20.0, rel=1e-14)
    assert solution.voltage("b", "V-") == pytest.approx(2.0, rel=1e-14)
    assert solution.current("supply") == pytest.approx(2.0, rel=1e-14)
    assert solution.current("red") == pytest.approx(2.0, rel=1e-14)
    assert solution.current("black") == pytest.approx(2.0, rel=1e-14)
    assert solution.power("node") == pytest.approx(40.0, rel=1e-14)
    assert solution.power("supply") == pytest.approx(48.0, rel=1e-14)


@pytest.mark.parametrize("watt", [0.0, 1.0, 40.0, 71.0, 71.999])
def test_a_power_load_takes_the_upper_of_its_two_voltages(watt: float) -> None:
    # U (24 - U) / 2 = P has the roots 12 ± sqrt(144 - 2 P)
    solution = solve(fed_over(PowerLoad("node", "a", "b", watt)))
    assert solution.voltage("a", "b") == pytest.approx(12 + math.sqrt(144 - 2 * watt), rel=1e-9)


@pytest.mark.parametrize("watt", [72.001, 80.0, 1e6])
def test_more_power_than_the_conductors_can_carry_is_named(watt: float) -> None:
    # maximum power theorem: at most 24²/(4·2) = 72 W
    with pytest.raises(UnfedLoadError, match="'node'") as caught:
        solve(fed_over(PowerLoad("node", "a", "b", watt)))
    assert caught.value.loads == ("node",)


def test_a_power_load_with_a_dropout_falls_back_to_its_resistance() -> None:
    solution = solve(fed_over(PowerLoad("node", "a", "b", 75.0, dropout_volt=9.0)))
    ohm = 81 / 75
    assert solution.voltage("a", "b") == pytest.approx(24 * ohm / (ohm + 2), rel=1e-12)


def test_a_current_load_with_a_dropout_falls_back_to_its_resistance() -> None:
    solution = solve(fed_over(CurrentLoad("node", "a", "b", 11.0, dropout_volt=8.0), ohm=1.0))
    ohm = 8 / 11
    assert solution.voltage("a", "b") == pytest.approx(24 * ohm / (ohm + 2), rel=1e-12)


def test_a_device_behind_a_break_rests_at_no_voltage() -> None:
    device = PowerLoad("node", "a", "b", 5.0, dropout_volt=9.0)
    solution = solve(
        Circuit([SUPPLY, Resistor("red", "V+", "a", 1.0), Open("black", "b", "V-"), device])
    )
    assert solution.voltage("a", "b") == pytest.approx(0.0, abs=1e-9)
    assert solution.voltage("b", "V-") == pytest.approx(24.0, rel=1e-9)


def test_a_device_connected_backwards_draws_nothing() -> None:
    device = CurrentLoad("node", "b", "a", 1.0, dropout_volt=9.0)
    solution = solve(fed_over(device))
    assert solution.voltage("b", "a") == pytest.approx(-24.0, rel=1e-12)
    assert solution.current("node") == 0.0


def test_a_broken_path_names_the_load_without_dropout() -> None:
    parts: list[Element] = [SUPPLY, Resistor("red", "V+", "a", 1.0), Open("black", "b", "V-")]
    loads: list[Element] = [CurrentLoad("n", "a", "b", 1.0), PowerLoad("n", "a", "b", 1.0)]
    for load in loads:
        with pytest.raises(UnfedLoadError, match="'n'") as caught:
            solve(Circuit([*parts, load]))
        assert caught.value.loads == ("n",)
        rest = solve(Circuit([*parts, load]).without(caught.value.loads))
        assert rest.voltage("a", "V-") == pytest.approx(24.0)


def test_a_current_load_that_leaves_no_voltage_is_named() -> None:
    with pytest.raises(UnfedLoadError, match="'node'"):
        solve(fed_over(CurrentLoad("node", "a", "b", 12.0)))
    with pytest.raises(UnfedLoadError, match="'node'"):
        solve(fed_over(CurrentLoad("node", "b", "a", 1.0)))


def test_floating_parts_have_voltages_only_within() -> None:
    cut = Circuit([SUPPLY, Resistor("r", "V+", "V-", 10.0), VoltageSource("lamp", "x", "y", 5.0)])
    solution = solve(cut)
    assert solution.voltage("x", "y") == 5.0
    assert solution.voltages("y") == {"x": 5.0, "y": 0.0}
    with pytest.raises(FloatingNodesError, match=r"'x'.*'V-'"):
        solution.voltage("x", "V-")


def test_contradictory_sources_are_named() -> None:
    for other in (
        VoltageSource("second", "V+", "V-", 12.0),
        VoltageSource("second", "V-", "V+", 24.0),
        Short("bridge", "V+", "V-"),
    ):
        with pytest.raises(ContradictorySourcesError, match=repr(other.name)):
            solve(Circuit([SUPPLY, other]))
    with pytest.raises(ContradictorySourcesError, match="'pump'"):
        solve(Circuit([SUPPLY, CurrentSource("pump", "x", "V-", 1.0)]))


def test_equal_sources_in_parallel_leave_only_their_currents_undefined() -> None:
    circuit = Circuit(
        [SUPPLY, VoltageSource("twin", "V+", "V-", 24.0), Resistor("r", "V+", "V-", 12.0)]
    )
    solution = solve(circuit)
    assert solution.current("r") == pytest.approx(2.0)
    for name in ("supply", "twin"):
        with pytest.raises(UndefinedCurrentError, match=repr(name)):
            solution.current(name)


def test_an_ammeter_and_shorts_carry_what_kirchhoff_says() -> None:
    circuit = Circuit(
        [
            SUPPLY,
            VoltageSource("meter", "m", "V+", 0.0),
            Short("s1", "m", "x"),
            Short("s2", "x", "y"),
            Short("s2b", "y", "x"),
            Short("s3", "y", "z"),
            Resistor("ra", "x", "V-", 12.0),
            Resistor("rb", "z", "V-", 24.0),
        ]
    )
    solution = solve(circuit)
    assert solution.current("s1") == pytest.approx(3.0)
    assert solution.current("s3") == pytest.approx(1.0)
    assert solution.current("meter") == pytest.approx(3.0)
    assert solution.current("supply") == pytest.approx(3.0)
    for name in ("s2", "s2b"):
        with pytest.raises(UndefinedCurrentError):
            solution.current(name)


def test_balanced_current_sources_between_parts_are_allowed() -> None:
    circuit = Circuit(
        [
            Resistor("r1", "a", "b", 2.0),
            Resistor("r2", "x", "y", 3.0),
            CurrentSource("there", "x", "a", 1.0),
            CurrentSource("back", "b", "y", 1.0),
        ]
    )
    solution = solve(circuit)
    assert solution.voltage("a", "b") == pytest.approx(-2.0)
    assert solution.voltage("x", "y") == pytest.approx(3.0)
    with pytest.raises(FloatingNodesError):
        solution.voltage("a", "x")


def test_unpowered_and_unknown_are_named() -> None:
    dead = Circuit([Resistor("r", "a", "b", 5.0), VoltageSource("off", "a", "b", 0.0)])
    with pytest.raises(UnpoweredError):
        solve(dead)
    with pytest.raises(UnpoweredError):
        solve(Circuit([]))
    solution = solve(fed_over(CurrentLoad("node", "a", "b", 2.0)))
    with pytest.raises(UnknownNodeError, match="'q'"):
        solution.voltage("q", "a")
    with pytest.raises(UnknownElementError, match="'q'"):
        solution.current("q")
    with pytest.raises(UnknownElementError, match="'q'"):
        solution.circuit.without(["q"])
    with pytest.raises(UnknownNodeError, match="'q'"):
        resistance(dead, "a", "q")


def test_two_terminators_in_parallel_read_half() -> None:
    bus = Circuit(
        [
            Resistor("t1", "H1", "L1", 121.0),
            Resistor("white", "H1", "H2", 1.0),
            Resistor("blue", "L1", "L2", 1.0),
            Resistor("t2", "H2", "L2", 121.0),
            CurrentLoad("n", "V+", "V-", 0.1),
        ]
    )
    assert resistance(bus, "H1", "L1") == pytest.approx(121 * 123 / 244, rel=1e-14)
    assert resistance(bus, "V+", "V-") == math.inf
    assert resistance(bus, "H1", "V+") == math.inf
    assert resistance(bus, "H1", "H1") == 0.0
    shorted = Circuit([*bus.elements, Short("wire", "H1", "L2")])
    assert resistance(shorted, "H1", "L2") == 0.0
    assert resistance(shorted, "H2", "L2") == pytest.approx(1 / (1 + 1 / 121), rel=1e-14)


def test_a_live_circuit_has_no_ohmmeter_reading() -> None:
    live = fed_over(CurrentLoad("node", "a", "b", 2.0))
    with pytest.raises(LiveCircuitError, match="'supply'"):
        resistance(live, "a", "b")
    with pytest.raises(LiveCircuitError, match="'pump'"):
        resistance(Circuit([CurrentSource("pump", "a", "b", 1.0)]), "a", "b")
    assert resistance(live.dead(), "V+", "V-") == math.inf
    assert resistance(live.dead(), "V+", "a") == 1.0


def test_a_reading_keeps_its_digits_beside_a_huge_resistance() -> None:
    # the trap: 1e12 ohm to everything else swamps 0.01 ohm in an inverse
    far = Circuit(
        [
            Resistor("leak", "g", "a", 1e12),
            Resistor("short piece", "a", "b", 0.01),
            Resistor("next piece", "b", "c", 0.02),
            Resistor("second leak", "c", "g", 2e12),
        ]
    )
    readings = all_resistances(far, ["g", "a", "b", "c"])
    assert readings["a", "b"] == pytest.approx(0.01, rel=1e-13)
    assert readings["c", "b"] == pytest.approx(0.02, rel=1e-13)
    assert readings["a", "c"] == pytest.approx(0.03, rel=1e-13)


BAD = [math.nan, math.inf, -math.inf, -1.0, "5", None, True, 10**400, [], 1e300]


@pytest.mark.parametrize("value", [*BAD, 0, 1e-12])
def test_bad_resistances_are_refused(value: Any) -> None:
    with pytest.raises(PlanError, match="'R7'"):
        Resistor("R7", "a", "b", value)


@pytest.mark.parametrize("value", BAD)
def test_bad_loads_are_refused(value: Any) -> None:
    with pytest.raises(PlanError, match="'n'"):
        CurrentLoad("n", "a", "b", value)
    with pytest.raises(PlanError, match="'n'"):
        PowerLoad("n", "a", "b", value)
    with pytest.raises(PlanError, match="'n'"):
        CurrentLoad("n", "a", "b", 1.0, value)
    with pytest.raises(PlanError, match="'n'"):
        PowerLoad("n", "a", "b", 1.0, dropout_volt=value)


@pytest.mark.parametrize("value", [v for v in BAD if v != -1.0])
def test_bad_sources_are_refused(value: Any) -> None:
    with pytest.raises(PlanError, match="'s'"):
        VoltageSource("s", "a", "b", value)
    with pytest.raises(PlanError, match="'s'"):
        CurrentSource("s", "a", "b", value)


@pytest.mark.parametrize("name", ["", "  ", None, 5, True])
def test_bad_names_are_refused(name: Any) -> None:
    for element, a, b in ((name, "a", "b"), ("x", name, "b"), ("x", "a", name)):
        with pytest.raises(PlanError, match="name"):
            Short(element, a, b)
        with pytest.raises(PlanError, match="name"):
            VoltageSource(element, a, b, 1.0)


def test_an_element_needs_two_different_nodes() -> None:
    for make in (Short, Open):
        with pytest.raises(CircuitError, match="'x'"):
            make("x", "a", "a")


def test_a_circuit_is_made_of_uniquely_named_elements() -> None:
    with pytest.raises(PlanError, match="'x'"):
        Circuit([Short("x", "a", "b"), Short("x", "b", "c")])
    with pytest.raises(PlanError, match="elements"):
        Circuit(["no element"])  # type: ignore[list-item]


def ladder(count: int, ampere: float) -> list[Element]:
    elements: list[Element] = [SUPPLY]
    ends = ("V+", "V-")
    for k in range(count):
        taps = (f"p{k}", f"m{k}")
        elements += [
            Resistor(f"red{k}", ends[0], taps[0], 0.1),
            Resistor(f"black{k}", ends[1], taps[1], 0.1),
            CurrentLoad(f"n{k}", *taps, ampere),
        ]
        ends = taps
    return elements


@pytest.mark.parametrize("extra", [[], [Resistor("ring", "p0", "p4", 0.3)]])
def test_a_load_study_agrees_with_solving_anew(extra: list[Element]) -> None:
    pump = CurrentSource("pump", "p2", "m3", 0.7)
    study = LoadStudy(Circuit([*ladder(5, 0.0), pump, *extra]))
    assert study.loads == ("n0", "n1", "n2", "n3", "n4")
    for amperes in ([0.0] * 5, [0.1, 0.2, 0.3, 0.4, 0.5], [2, 0, 0, 0, 5]):
        loads = [CurrentLoad(f"n{k}", f"p{k}", f"m{k}", a) for k, a in enumerate(amperes)]
        wires = [e for e in ladder(5, 0.0) if not isinstance(e, CurrentLoad)]
        solution = solve(Circuit([*wires, *loads, pump, *extra]))
        for k, volt in enumerate(study.voltages(amperes)):
            assert volt == pytest.approx(solution.voltage(f"p{k}", f"m{k}"), rel=1e-12)


def test_a_load_study_refuses_what_it_cannot_do() -> None:
    study = LoadStudy(Circuit(ladder(3, 0.5)))
    for bad in ([], [0.1] * 2, [0.1, -0.1, 0.1], [0.1, math.nan, 0.1], [math.inf, 0, 0],
                [True, 0, 0], ["1", 0, 0]):  # fmt: skip
        with pytest.raises(CircuitError, match="3 currents"):
            study.voltages(bad)  # type: ignore[arg-type]
    with pytest.raises(UnfedLoadError) as caught:
        study.voltages([0.0, 0.0, 100.0])
    assert caught.value.loads == ("n2",)
    for load in (PowerLoad("odd", "p0", "m0", 1.0), CurrentLoad("odd", "p0", "m0", 1.0, 9.0)):
        with pytest.raises(CircuitError, match="'odd'"):
            LoadStudy(Circuit([*ladder(3, 0.1), load]))
    with pytest.raises(UnfedLoadError, match="'far'"):
        LoadStudy(Circuit([*ladder(3, 0.1), CurrentLoad("far", "p0", "away", 0.0)]))
