"""Properties of every circuit: Kirchhoff, Tellegen, superposition, and exact rational answers."""

import math
from collections import defaultdict
from fractions import Fraction
from itertools import combinations

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from labkit.fieldbus.circuit import (
    Circuit,
    CurrentLoad,
    CurrentSource,
    Element,
    Open,
    PowerLoad,
    Resistor,
    Short,
    UnfedLoadError,
    UnpoweredError,
    VoltageSource,
    all_resistances,
    paired_resistances,
    resistance,
    solve,
)

relaxed = settings(
    deadline=None, max_examples=150, suppress_health_check=[HealthCheck.filter_too_much]
)


def ohms(least: int, most: int) -> st.SearchStrategy[float]:
    """Resistances from 10^least to 10^most ohm, evenly over the decades."""
    return st.floats(least, most).map(lambda power: float(f"{10**power:.6g}"))


@st.composite
def resistor_networks(draw: st.DrawFn, least: int = -3, most: int = 6) -> list[Element]:
    """Up to nine nodes with resistors, shorts and opens anywhere; not always connected."""
    nodes = [f"n{k}" for k in range(draw(st.integers(2, 9)))]
    pairs = st.sampled_from(list(combinations(nodes, 2)))
    count = draw(st.integers(1, 16))
    elements: list[Element] = []
    for k in range(count):
        a, b = draw(pairs)
        kind = draw(st.sampled_from(["R", "R", "R", "R", "R", "short", "open"]))
        if kind == "R":
            elements.append(Resistor(f"R{k}", a, b, draw(ohms(least, most))))
        else:
            elements.append((Short if kind == "short" else Open)(f"{kind}{k}", a, b))
    return elements


@st.composite
def linear_circuits(draw: st.DrawFn, least: int = -2, most: int = 4) -> list[Element]:
    """Connected resistors with voltage sources in branches of their own and current sources."""
    count = draw(st.integers(2, 8))
    places = st.integers(0, count - 1)
    elements: list[Element] = []
    for k in range(1, count):
        elements.append(
            Resistor(f"T{k}", f"n{draw(st.integers(0, k - 1))}", f"n{k}", draw(ohms(least, most)))
        )
    for k in range(draw(st.integers(0, 5))):
        a, b = draw(places), draw(places)
        if a != b:
            elements.append(Resistor(f"R{k}", f"n{a}", f"n{b}", draw(ohms(least, most))))
    for k in range(draw(st.integers(1, 3))):
        a, b = draw(places), draw(places)
        volt = draw(st.integers(-240, 240)) / 10
        elements.append(VoltageSource(f"V{k}", f"s{k}", f"n{a}", volt))
        elements.append(Resistor(f"VR{k}", f"s{k}", f"n{b}", draw(ohms(least, most))))
    for k in range(draw(st.integers(0, 3))):
        a, b = draw(places), draw(places)
        ampere = draw(st.integers(-50, 50)) / 10
        if a != b:
            elements.append(CurrentSource(f"I{k}", f"n{a}", f"n{b}", ampere))
    return elements


def exact_voltages(elements: list[Element], ground: str) -> dict[str, Fraction]:
    """Node voltages by modified nodal analysis in exact rational numbers (Ho, Ruehli, Brennan,
    IEEE Trans. Circuits and Systems 22, 1975; cited from memory): nothing shared with labkit."""
    nodes = sorted({end for element in elements for end in element.ends} - {ground})
    ties = [e for e in elements if isinstance(e, (VoltageSource, Short))]
    at = {name: k for k, name in enumerate(nodes)}
    size = len(nodes) + len(ties)
    rows = [[Fraction(0)] * (size + 1) for _ in range(size)]
    for element in elements:
        ends = [at.get(end) for end in element.ends]
        if isinstance(element, Resistor):
            g = 1 / Fraction(element.ohm)
            for p in range(2):
                for q in range(2):
                    row, column = ends[p], ends[q]
                    if row is not None and column is not None:
                        rows[row][column] += g if p == q else -g
        elif isinstance(element, (CurrentSource, CurrentLoad)):
            into = Fraction(element.ampere) * (1 if isinstance(element, CurrentSource) else -1)
            for end, sign in zip(ends, (1, -1), strict=True):
                if end is not None:
                    rows[end][size] += sign * into
    for k, tie in enumerate(ties, start=len(nodes)):
        for name, sign in zip(tie.ends, (1, -1), strict=True):
            if name in at:
                rows[at[name]][k] += sign
                rows[k][at[name]] += sign
        rows[k][size] = Fraction(tie.volt) if isinstance(tie, VoltageSource) else Fraction(0)
    for k in range(size):
        pivot = next(r for r in range(k, size) if rows[r][k] != 0)
        rows[k], rows[pivot] = rows[pivot], rows[k]
        for r in range(size):
            if r != k and rows[r][k] != 0:
                factor = rows[r][k] / rows[k][k]
                rows[r] = [x - factor * y for x, y in zip(rows[r], rows[k], strict=True)]
    volts = {name: rows[k][size] / rows[k][k] for name, k in at.items()}
    return {**volts, ground: Fraction(0)}


@relaxed
@given(linear_circuits())
def test_kirchhoff_and_tellegen(elements: list[Element]) -> None:
    circuit = Circuit(elements)
    try:
        solution = solve(circuit)
    except UnpoweredError:
        assert not any(
            (e.volt if isinstance(e, VoltageSource) else e.ampere) != 0
            for e in elements
            if isinstance(e, (VoltageSource, CurrentSource))
        )
        return
    net: dict[str, float] = defaultdict(float)
    gross: dict[str, float] = defaultdict(float)
    power = size = 0.0
    for element in elements:
        ampere = solution.current(element.name)
        source = isinstance(element, (VoltageSource, CurrentSource))
        across = solution.voltage(*element.ends)
        if isinstance(element, Resistor):
            assert math.isclose(across, ampere * element.ohm, rel_tol=1e-9, abs_tol=1e-12)
        if isinstance(element, VoltageSource):
            assert math.isclose(across, element.volt, rel_tol=1e-12, abs_tol=1e-11)
        out = -ampere if source else ampere
        for end, sign in zip(element.ends, (1, -1), strict=True):
            net[end] += sign * out
            gross[end] += abs(out)
        power += across * out
        size += abs(across * out)
    level = max(abs(v) for v in solution.voltages(elements[0].ends[0]).values())
    most = sum(1 / e.ohm for e in elements if isinstance(e, Resistor))
    for node in net:
        assert abs(net[node]) <= 1e-12 * gross[node] + 1e-14 * level * most
    assert abs(power) <= 1e-12 * size + 1e-14 * level**2 * most


@relaxed
@given(linear_circuits())
def test_superposition(elements: list[Element]) -> None:
    sources = [e for e in elements if isinstance(e, (VoltageSource, CurrentSource))]
    live = [e for e in sources if (e.volt if isinstance(e, VoltageSource) else e.ampere) != 0]
    assume(live)
    together = solve(Circuit(elements)).voltages("n0")
    total: dict[str, float] = defaultdict(float)
    size: dict[str, float] = defaultdict(float)
    for active in live:
        alone = solve(Circuit(e if e == active else asleep(e) for e in elements)).voltages("n0")
        for node, volt in alone.items():
            total[node] += volt
            size[node] = max(size[node], *(abs(v) for v in alone.values()))
    for node, volt in together.items():
        assert math.isclose(volt, total[node], rel_tol=1e-9, abs_tol=1e-11 * size[node] + 1e-15)


def asleep(element: Element) -> Element:
    if isinstance(element, VoltageSource):
        return Short(element.name, *element.ends)
    if isinstance(element, CurrentSource):
        return Open(element.name, *element.ends)
    return element


@relaxed
@given(linear_circuits(-3, 9))
def test_voltages_agree_with_exact_arithmetic(elements: list[Element]) -> None:
    try:
        solution = solve(Circuit(elements))
    except UnpoweredError:
        return
    truth = exact_voltages(elements, "n0")
    size = float(max(map(abs, truth.values())))
    # rounding in the largest current can flow through the largest resistance
    most_ampere = max(abs(solution.current(e.name)) for e in elements)
    ohms = [e.ohm for e in elements if isinstance(e, Resistor)]
    # beside a large conductance a small one loses as many digits as their ratio has
    lost = 4e-16 * max(ohms) / min(ohms)
    for node, volt in solution.voltages("n0").items():
        assert abs(volt - truth[node]) <= (2e-12 + lost) * size + 1e-15 * most_ampere * max(ohms)


@relaxed
@given(resistor_networks(-6, 12))
def test_resistances_agree_with_exact_arithmetic(elements: list[Element]) -> None:
    circuit = Circuit(elements)
    readings = all_resistances(circuit, circuit.nodes)
    pairs = list(combinations(circuit.nodes, 2))
    assert paired_resistances(circuit, circuit.nodes) == [readings[pair] for pair in pairs]
    for a, b in pairs:
        connected = component(elements, a)
        if b not in connected:
            assert readings[a, b] == math.inf
            continue
        inside = without_loops_of_shorts([e for e in elements if e.ends[0] in connected])
        truth = exact_voltages([*inside, CurrentSource("1 A", a, b, 1.0)], b)[a]
        if truth == 0:
            assert readings[a, b] == 0.0
        else:
            assert math.isclose(readings[a, b], float(truth), rel_tol=1e-12)
        assert readings[b, a] == readings[a, b]
        assert math.isclose(resistance(circuit, a, b), readings[a, b], rel_tol=1e-12)


def without_loops_of_shorts(elements: list[Element]) -> list[Element]:
    kept: list[Element] = [e for e in elements if isinstance(e, Resistor)]
    shorts: list[Element] = []
    for e in elements:
        if isinstance(e, Short) and e.ends[1] not in component(shorts, e.ends[0]):
            shorts.append(e)
    return kept + shorts


def component(elements: list[Element], start: str) -> set[str]:
    found = {start}
    grown = True
    while grown:
        grown = False
        for e in elements:
            if not isinstance(e, Open) and len(found.intersection(e.ends)) == 1:
                found.update(e.ends)
                grown = True
    return found


@relaxed
@given(resistor_networks())
def test_resistance_is_a_metric(elements: list[Element]) -> None:
    # Klein, Randić, Journal of Mathematical Chemistry 12, 1993: resistance distance
    circuit = Circuit(elements)
    r = all_resistances(circuit, circuit.nodes)
    for a in circuit.nodes:
        assert r[a, a] == 0.0
        for b in circuit.nodes:
            for c in circuit.nodes:
                assert r[a, c] <= (r[a, b] + r[b, c]) * (1 + 1e-12)


@relaxed
@given(resistor_networks(), st.randoms(use_true_random=False))
def test_the_order_of_elements_has_no_meaning(elements: list[Element], random) -> None:  # type: ignore[no-untyped-def]
    shuffled = elements.copy()
    random.shuffle(shuffled)
    nodes = Circuit(elements).nodes
    one = all_resistances(Circuit(elements), nodes)
    two = all_resistances(Circuit(shuffled), nodes)
    for pair in one:
        assert one[pair] == two[pair] or math.isclose(one[pair], two[pair], rel_tol=1e-12)


@relaxed
@given(resistor_networks(), st.data())
def test_one_more_resistor_never_raises_a_reading(
    elements: list[Element], data: st.DataObject
) -> None:
    # Rayleigh's monotonicity law (Doyle, Snell, Random Walks and Electric Networks, 1984)
    circuit = Circuit(elements)
    a, b = data.draw(st.sampled_from(list(combinations(circuit.nodes, 2))))
    more = Circuit([*elements, Resistor("more", a, b, data.draw(ohms(-3, 6)))])
    before = all_resistances(circuit, circuit.nodes)
    after = all_resistances(more, circuit.nodes)
    assert all(after[pair] <= before[pair] * (1 + 1e-12) for pair in before)


@st.composite
def loaded_circuits(draw: st.DrawFn) -> list[Element]:
    """A supply feeding a random resistor network with loads of every kind."""
    count = draw(st.integers(2, 7))
    places = st.integers(0, count - 1)
    elements: list[Element] = [VoltageSource("supply", "n0", "n1", 24.0)]
    for k in range(2, count):
        elements.append(
            Resistor(f"T{k}", f"n{draw(st.integers(0, k - 1))}", f"n{k}", draw(ohms(-2, 2)))
        )
    for k in range(draw(st.integers(0, 5))):
        a, b = draw(places), draw(places)
        if a != b:
            elements.append(Resistor(f"R{k}", f"n{a}", f"n{b}", draw(ohms(-2, 3))))
    for k in range(draw(st.integers(1, 5))):
        a, b = draw(places), draw(places)
        if a == b:
            continue
        dropout = draw(st.sampled_from([0.0, 0.0, 0.5, 9.0, 30.0]))
        size = draw(st.integers(1, 400)) / 10
        make = CurrentLoad if draw(st.booleans()) else PowerLoad
        elements.append(make(f"L{k}", f"n{a}", f"n{b}", size, dropout))
    return elements


@relaxed
@given(loaded_circuits())
def test_loads_draw_by_their_own_law_and_kirchhoff_holds(elements: list[Element]) -> None:
    try:
        solution = solve(Circuit(elements))
    except UnfedLoadError as error:
        lost = [e for e in elements if e.name in error.loads]
        # a load with a dropout can always be at rest, so it is never the one that is unfed
        assert len(lost) == len(error.loads) > 0  # noqa: PT017
        for e in lost:
            assert isinstance(e, (CurrentLoad, PowerLoad))
            assert not e.dropout_volt
        return
    net: dict[str, float] = defaultdict(float)
    gross: dict[str, float] = defaultdict(float)
    for element in elements:
        ampere = solution.current(element.name)
        volt = solution.voltage(*element.ends)
        if isinstance(element, CurrentLoad) and volt >= element.dropout_volt:
            assert ampere == element.ampere
        elif isinstance(element, PowerLoad) and volt >= element.dropout_volt:
            assert math.isclose(ampere * volt, element.watt, rel_tol=1e-12)
        elif isinstance(element, CurrentLoad):
            expected = element.ampere * max(volt, 0.0) / element.dropout_volt
            assert math.isclose(ampere, expected, rel_tol=1e-12, abs_tol=1e-15)
        elif isinstance(element, PowerLoad):
            expected = element.watt * max(volt, 0.0) / element.dropout_volt**2
            assert math.isclose(ampere, expected, rel_tol=1e-12, abs_tol=1e-15)
        if isinstance(element, (CurrentLoad, PowerLoad)) and not element.dropout_volt:
            assert volt > 0
        out = -ampere if isinstance(element, VoltageSource) else ampere
        for end, sign in zip(element.ends, (1, -1), strict=True):
            net[end] += sign * out
            gross[end] += abs(out)
    # A small current beside a large one has the large one's rounding, and that of a small resistor
    # the rounding of the volts at its ends.
    largest = max(gross.values())
    ohms = [element.ohm for element in elements if isinstance(element, Resistor)]
    volts = [abs(e.volt) for e in elements if isinstance(e, VoltageSource)]
    of_volts = 8 * math.ulp(max(volts)) / min(ohms, default=1.0)
    for node in net:
        assert abs(net[node]) <= 1e-9 * (gross[node] + 1e-3) + 1e-12 * largest + of_volts
