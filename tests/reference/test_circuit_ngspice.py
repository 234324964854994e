"""DC circuits against ngspice (Debian's package), 260 random networks, to 1e-6 relative."""

import math
import random
from pathlib import Path

import pytest
from ngspice_batch import MISSING, operating_point

from labkit.fieldbus.circuit import (
    Circuit,
    CurrentLoad,
    CurrentSource,
    Element,
    Open,
    PowerLoad,
    Resistor,
    Short,
    Solution,
    VoltageSource,
    all_resistances,
    solve,
)

pytestmark = [pytest.mark.spice, pytest.mark.skipif(MISSING, reason="ngspice is not installed")]

RELATIVE = 1e-6


def cards(elements: list[Element], grounds: set[str]) -> list[str]:
    """The elements as ngspice cards; every node of `grounds` becomes its node 0."""
    lines = []
    for k, e in enumerate(elements):
        a, b = ("0" if end in grounds else end for end in e.ends)
        if isinstance(e, Resistor):
            lines.append(f"R{k} {a} {b} {e.ohm!r}")
        elif isinstance(e, Short):
            lines.append(f"V{k} {a} {b} 0")
        elif isinstance(e, VoltageSource):
            lines.append(f"V{k} {a} {b} {e.volt!r}")
        elif isinstance(e, CurrentSource):
            lines.append(f"I{k} {b} {a} {e.ampere!r}")
        elif isinstance(e, (CurrentLoad, PowerLoad)):
            lines.append(f"B{k} {a} {b} I={curve(e, a, b)}")
    return lines


def curve(load: CurrentLoad | PowerLoad, a: str, b: str) -> str:
    """The load's current; a power load without a dropout needs a resistive tail in ngspice."""
    u = f"V({a},{b})" if "0" not in (a, b) else (f"V({a})" if b == "0" else f"(-V({b}))")
    if isinstance(load, CurrentLoad):
        if not load.dropout_volt:
            return repr(load.ampere)
        tail = load.ampere / load.dropout_volt
        return f"{u} >= {load.dropout_volt!r} ? {load.ampere!r} : ({u} > 0 ? {tail!r}*{u} : 0)"
    knee = load.dropout_volt or 0.5
    tail = load.watt / knee**2
    return f"{u} >= {knee!r} ? {load.watt!r}/{u} : ({u} > 0 ? {tail!r}*{u} : 0)"


def compare(elements: list[Element], grounds: list[str], folder: Path) -> Solution:
    """Every node voltage and every source current, ours against ngspice's."""
    solution = solve(Circuit(elements))
    ours: dict[str, float] = {}
    for ground in grounds:
        voltages = dict(solution.voltages(ground))
        del voltages[ground]
        ours.update({f"v({node})": volt for node, volt in voltages.items()})
    level = max(map(abs, ours.values()))
    sources = {
        f"i(v{k})": -solution.current(e.name)
        for k, e in enumerate(elements)
        if isinstance(e, VoltageSource)
    }
    sources |= {
        f"i(v{k})": solution.current(e.name) for k, e in enumerate(elements) if isinstance(e, Short)
    }
    theirs = operating_point(cards(elements, set(grounds)), [*ours, *sources], folder)
    for name, volt in ours.items():
        assert math.isclose(volt, theirs[name], rel_tol=RELATIVE, abs_tol=1e-9 * level), name
    most = max(abs(solution.current(e.name)) for e in elements)
    for name, ampere in sources.items():
        assert math.isclose(ampere, theirs[name], rel_tol=RELATIVE, abs_tol=1e-8 * most), name
    return solution


def mesh(rng: random.Random, prefix: str, count: int, least: float, most: float) -> list[Element]:
    """A random tree of `count` nodes with a few chords, shorts and opens."""
    elements: list[Element] = []
    for k in range(1, count):
        a, b = f"{prefix}{rng.randrange(k)}", f"{prefix}{k}"
        if rng.random() < 0.1:
            elements.append(Short(f"{prefix}S{k}", a, b))
        else:
            elements.append(Resistor(f"{prefix}T{k}", a, b, 10 ** rng.uniform(least, most)))
    for k in range(rng.randrange(count)):
        one, other = rng.sample(range(count), 2)
        if rng.random() < 0.1:
            elements.append(Open(f"{prefix}O{k}", f"{prefix}{one}", f"{prefix}{other}"))
        else:
            ohm = 10 ** rng.uniform(least, most)
            elements.append(Resistor(f"{prefix}R{k}", f"{prefix}{one}", f"{prefix}{other}", ohm))
    return elements


def sourced(rng: random.Random, prefix: str) -> list[Element]:
    count = rng.randint(3, 30)
    elements = mesh(rng, prefix, count, -1, 4)
    for k in range(rng.randint(1, 4)):
        a, b = rng.randrange(count), rng.randrange(count)
        new = f"{prefix}x{k}"
        elements.append(VoltageSource(f"{new}V", new, f"{prefix}{a}", rng.uniform(-30, 30)))
        elements.append(Resistor(f"{new}R", new, f"{prefix}{b}", 10 ** rng.uniform(-1, 3)))
    for k in range(rng.randint(0, 3)):
        a, b = rng.sample(range(count), 2)
        elements.append(
            CurrentSource(f"{prefix}I{k}", f"{prefix}{a}", f"{prefix}{b}", rng.uniform(-5, 5))
        )
    return elements


@pytest.mark.parametrize("seed", range(80))
def test_linear_networks(seed: int, tmp_path: Path) -> None:
    compare(sourced(random.Random(seed), "n"), ["n0"], tmp_path)


@pytest.mark.parametrize("seed", range(20))
def test_networks_in_two_floating_parts(seed: int, tmp_path: Path) -> None:
    rng = random.Random(1000 + seed)
    compare([*sourced(rng, "p"), *sourced(rng, "q")], ["p0", "q0"], tmp_path)


def trunk(rng: random.Random, load: str) -> list[Element]:
    """Two conductors with a supply somewhere and a device at each tap."""
    taps = rng.randint(1, 20)
    elements: list[Element] = [
        VoltageSource("supply", "sp", "sn", 24.0),
        Resistor("lead", "sp", f"p{rng.randrange(taps)}", 0.01),
        Short("common", "sn", f"m{rng.randrange(taps)}"),
    ]
    for k in range(1, taps):
        ohm = rng.uniform(0.01, 0.6)
        elements.append(Resistor(f"red{k}", f"p{k - 1}", f"p{k}", ohm))
        elements.append(Resistor(f"black{k}", f"m{k - 1}", f"m{k}", ohm))
    for k in range(taps):
        ends = (f"p{k}", f"m{k}")
        kind = rng.choice(["current", "power"]) if load == "mixed" else load
        if kind == "current":
            elements.append(CurrentLoad(f"n{k}", *ends, rng.uniform(0.0, 0.1)))
        elif kind == "power":
            dropout = rng.choice([0.0, 0.0, 9.0])
            elements.append(PowerLoad(f"n{k}", *ends, rng.uniform(0.0, 1.0), dropout))
        elif kind == "starved":
            elements.append(CurrentLoad(f"n{k}", *ends, rng.uniform(0.0, 4.0), 11.0))
        else:
            elements.append(Resistor(f"n{k}", *ends, rng.uniform(50.0, 5000.0)))
    if rng.random() < 0.3:
        elements.append(Resistor("fault", f"p{taps - 1}", "m0", rng.uniform(30.0, 300.0)))
    return elements


@pytest.mark.parametrize("seed", range(25))
@pytest.mark.parametrize("load", ["current", "power", "mixed", "starved"])
def test_loaded_trunks(load: str, seed: int, tmp_path: Path) -> None:
    compare(trunk(random.Random(2000 + seed), load), ["sn"], tmp_path)


@pytest.mark.parametrize("seed", range(60))
def test_resistance_readings(seed: int, tmp_path: Path) -> None:
    rng = random.Random(3000 + seed)
    count = rng.randint(2, 25)
    elements = mesh(rng, "n", count, -2, 5)
    circuit = Circuit(elements)
    readings = all_resistances(circuit, circuit.nodes)
    for a in rng.sample(range(1, count), min(2, count - 1)):
        source = CurrentSource("1 A", f"n{a}", "n0", 1.0)
        lines = cards([*elements, source], {"n0"})
        truth = operating_point(lines, [f"v(n{a})"], tmp_path)[f"v(n{a})"]
        assert math.isclose(readings[f"n{a}", "n0"], truth, rel_tol=RELATIVE, abs_tol=1e-12)
