"""The quick way to an operating point finds what the search finds, and needs no search."""

import pytest
from test_bench_mend import FAULTS, SETUP

from labkit.bench import operating
from labkit.bench.bench import Bench
from labkit.bench.faults.base import Fault
from labkit.bench.operating import on_stretches, operating_point, searched
from labkit.bench.recording import situations
from labkit.fieldbus.circuit import (
    CurrentLoad,
    Element,
    PowerLoad,
    Resistor,
    Solution,
    VoltageSource,
)
from labkit.fieldbus.circuit.errors import CircuitError

LIVE = [one for one in situations(Bench(SETUP)) if one.power]


@pytest.mark.parametrize("fault", FAULTS[::9], ids=str)
def test_each_load_on_its_stretch_is_the_operating_point(
    fault: Fault, monkeypatch: pytest.MonkeyPatch
) -> None:
    for situation in LIVE[::3]:
        live = Bench(SETUP, frozenset({fault}), situation).live
        assert live is not None
        elements = live._awake.elements
        if not elements:
            continue
        with monkeypatch.context() as without:
            without.setattr(operating, "searched", _must_not)
            found = on_stretches(elements)
        for wanted in (searched(elements), operating_point(elements)):
            assert found.circuit.nodes == wanted.circuit.nodes
            assert found.part == wanted.part
            assert _in_parts(found) == pytest.approx(_in_parts(wanted), abs=1e-6)


def test_a_load_fed_backwards_draws_nothing_and_its_neighbour_does() -> None:
    elements = (
        VoltageSource("supply", "plus", "minus", 24),
        Resistor("lead", "plus", "a", 2),
        CurrentLoad("right", "a", "minus", 1, 11),
        CurrentLoad("turned", "minus", "a", 1, 11),
        CurrentLoad("cut off", "b", "minus", 1, 11),
    )
    found = on_stretches(elements)
    assert found.voltage("a", "minus") == pytest.approx(22)
    assert found.voltage("b", "minus") == 0
    assert found.voltages("minus") == pytest.approx(searched(elements).voltages("minus"))


@pytest.mark.parametrize(
    "load", [PowerLoad("load", "a", "minus", 24, 11), CurrentLoad("load", "a", "minus", 1)]
)
def test_what_has_no_straight_stretches_is_searched_for(
    load: Element, monkeypatch: pytest.MonkeyPatch
) -> None:
    elements = (
        VoltageSource("supply", "plus", "minus", 24),
        Resistor("lead", "plus", "a", 2),
        load,
    )
    assert on_stretches(elements).level == searched(elements).level
    monkeypatch.setattr(operating, "searched", _must_not)
    with pytest.raises(AssertionError):
        on_stretches(elements)


def test_what_no_stretch_solves_raises_what_the_search_raises() -> None:
    elements = (
        VoltageSource("one", "plus", "minus", 24),
        VoltageSource("two", "plus", "minus", 12),
        CurrentLoad("load", "plus", "minus", 1, 11),
    )
    with pytest.raises(CircuitError, match="two"):
        on_stretches(elements)


def _in_parts(solution: Solution) -> list[float]:
    """The voltage of each node above the first of its part, V."""
    first: dict[int, float] = {}
    return [
        level - first.setdefault(part, level)
        for part, level in zip(solution.part, solution.level, strict=True)
    ]


def _must_not(_: object) -> None:
    raise AssertionError("searched for")
