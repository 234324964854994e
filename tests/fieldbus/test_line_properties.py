"""Properties of every line: it settles to the DC answer, it is reciprocal, linear and passive."""

import math

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from labkit.fieldbus.circuit import Circuit, Element, Resistor, Short, VoltageSource, solve
from labkit.fieldbus.line import (
    LinePiece,
    LineTopology,
    Terminator,
    Transceiver,
    drive_edge,
    inject,
    settled_levels,
)

# shrinking a failure of these slow examples would take minutes
quick = (Phase.explicit, Phase.reuse, Phase.generate)
relaxed = settings(deadline=None, max_examples=25, phases=quick)
STEP_S = 2e-9


@st.composite
def lines(draw: st.DrawFn, farad: float = 0.0) -> LineTopology:
    """A random tree of up to seven pieces with terminators and a device at each point.

    The devices' inputs are of low resistance, so that nothing rings for long.
    """
    count = draw(st.integers(1, 7))
    pieces = [
        LinePiece(
            f"piece {k}",
            f"p{draw(st.integers(0, k - 1))}",
            f"p{k}",
            draw(st.integers(20, 200)) / 10,
            draw(st.sampled_from([90.0, 120.0, 140.0])),
            draw(st.sampled_from([4.46e-9, 5e-9])),
            draw(st.sampled_from([0.0, 0.0452, 0.5])),
        )
        for k in range(1, count + 1)
    ]
    ohms = st.sampled_from([150.0, 200.0, 300.0])
    points = st.integers(0, count).map(lambda k: f"p{k}")
    terminators = [
        Terminator(f"t{k}", draw(points), draw(st.sampled_from([60.0, 121.0, 240.0])))
        for k in range(draw(st.integers(1, 4)))
    ]
    devices = [
        Transceiver(f"x{k}", f"p{k}", input_ohm=draw(ohms), input_farad=farad)
        for k in range(count + 1)
    ]
    return LineTopology(pieces, terminators, devices)


def dc_levels(line: LineTopology, driver: str) -> dict[str, float]:
    """The line as a DC circuit, written here independently of the line's own code."""
    x = line.transceiver(driver)
    elements: list[Element] = [
        VoltageSource("E", "source", "common", x.dominant_volt),
        Resistor("out", "source", x.at, x.output_ohm),
    ]
    for p in line.pieces:
        joint = f"piece {p.name}"
        elements.append(Resistor(joint, p.a, p.b, p.ohm) if p.ohm else Short(joint, p.a, p.b))
    elements += [Resistor(f"end {t.name}", t.at, "common", t.ohm) for t in line.terminators]
    elements += [Resistor(f"in {y.name}", y.at, "common", y.input_ohm) for y in line.transceivers]
    return dict(solve(Circuit(elements)).voltages("common"))


@relaxed
@given(lines(), st.data())
def test_the_waves_settle_to_the_dc_answer(line: LineTopology, data: st.DataObject) -> None:
    driver = data.draw(st.sampled_from(line.transceivers)).name
    truth = dc_levels(line, driver)
    waves = drive_edge(line, driver, duration_s=12e-6, step_s=4e-9)
    levels = settled_levels(line, driver)
    for point in line.points:
        assert math.isclose(levels[point], truth[point], rel_tol=1e-9)
        assert math.isclose(waves.at(point)[-1], truth[point], rel_tol=1e-6)


@relaxed
@given(lines(20e-12), st.data())
def test_a_settled_bus_is_at_rest_until_the_driver_lets_go(
    line: LineTopology, data: st.DataObject
) -> None:
    driver = data.draw(st.sampled_from(line.transceivers))
    waves = drive_edge(line, driver.name, dominant=False, duration_s=12e-6, step_s=4e-9)
    levels = settled_levels(line, driver.name)
    delays = line.delays(driver.at)
    for point in line.points:
        samples = waves.at(point)
        quiet = max(1, int(delays[point] / waves.step_s) - 8)
        assert all(math.isclose(v, levels[point], rel_tol=2e-3) for v in samples[:quiet])
        assert math.isclose(samples[0], levels[point], rel_tol=1e-9)
        assert abs(samples[-1]) < 1e-3, samples[-1]


@relaxed
@given(lines(20e-12), st.data())
def test_two_points_hear_each_other_alike(line: LineTopology, data: st.DataObject) -> None:
    # reciprocity theorem (Carson, Bell System Technical Journal 3, 1924; cited from memory)
    a, b = data.draw(st.sampled_from(line.points)), data.draw(st.sampled_from(line.points))
    volts = [math.exp(-(((k - 20) / 6) ** 2)) for k in range(400)]
    # the generator's resistance must stay in place at the silent end
    both = LineTopology(
        line.pieces, [*line.terminators, Terminator("ga", a, 50.0)], line.transceivers
    )
    other = LineTopology(
        line.pieces, [*line.terminators, Terminator("gb", b, 50.0)], line.transceivers
    )
    there = inject(other, a, 50.0, volts, STEP_S).at(b)
    back = inject(both, b, 50.0, volts, STEP_S).at(a)
    assert all(math.isclose(x, y, abs_tol=1e-9) for x, y in zip(there, back, strict=True))


@relaxed
@given(lines(20e-12), st.data())
def test_the_line_is_linear_and_dies_out(line: LineTopology, data: st.DataObject) -> None:
    at = data.draw(st.sampled_from(line.points))
    one = [1.0 if k < 30 else 0.0 for k in range(3000)]
    two = [math.sin(k / 7) if k < 100 else 0.0 for k in range(3000)]
    mixed = [2 * x - 3 * y for x, y in zip(one, two, strict=True)]
    first, second, sum_ = (inject(line, at, 40.0, v, STEP_S) for v in (one, two, mixed))
    for point in line.points:
        for x, y, z in zip(first.at(point), second.at(point), sum_.at(point), strict=True):
            assert math.isclose(z, 2 * x - 3 * y, abs_tol=1e-9)
        assert max(map(abs, first.at(point)[-200:])) < 1e-3
