"""Idle voltages, meter readings and driver loads of random lines against ngspice.

The netlist is written straight from the plan; nothing of the solver is used. The published sums
stand below: MODBUS over Serial Line V1.02, 3.4.5 and 3.4.6, and Ohm's law.
"""

import math
import random
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from modbus_lines import random_line
from ngspice_batch import MISSING, operating_point

from labkit.fieldbus.modbus import (
    Cable,
    Device,
    LineCircuit,
    Network,
    Place,
    Polarization,
    Tap,
    Terminator,
)

COPPER = 1 / 58
SPICE = pytest.mark.skipif(MISSING, reason="ngspice is not installed")


class Netlist:
    """Cards of a line; `rail` says what the polarizing supplies are: on, off, or shorted."""

    def __init__(self, plan: Network, rail: str) -> None:
        self.plan = plan
        self.lines: list[str] = []
        self.points: dict[float, str] = {}
        self.device: dict[str, str] = {}
        self._draw(rail)

    def resistor(self, a: str, b: str, ohm: float) -> None:
        # ngspice makes 1 mΩ of smaller resistors; a source of 0 V is a joint.
        card = f"R{len(self.lines)} {a} {b} {ohm:.17g}" if ohm else f"VJ{len(self.lines)} {a} {b} 0"
        self.lines.append(card)

    def cable(self, here: str, there: str, metres: float) -> None:
        cable = self.plan.cable
        ohm = COPPER / cable.section_mm2 if cable.ohm_per_km is None else cable.ohm_per_km / 1000
        for conductor in "pm":
            self.resistor(conductor + here, conductor + there, ohm * metres)

    def node(self, at: Place) -> str:
        return self.device[at] if isinstance(at, str) else self.points[at]

    def _draw(self, rail: str) -> None:
        plan = self.plan
        at = [each.at for each in plan.terminators] + [each.at for each in plan.polarizations]
        places = {0.0, plan.length, *(tap.position for tap in plan.taps)}
        places |= {place for place in at if not isinstance(place, str)}
        self.points = {at: f"t{number}" for number, at in enumerate(sorted(places))}
        for left, right in pairwise(sorted(places)):
            self.cable(self.points[left], self.points[right], right - left)
        for tap in plan.taps:
            for derivation in tap.derivations:
                end = f"e{len(self.lines)}"
                self.cable(self.points[tap.position], end, derivation.length)
                for device in derivation.devices:
                    self.device[device.name] = end
                    self.resistor(f"p{end}", f"m{end}", 12_000 / device.unit_loads)
        for terminator in plan.terminators:
            end = self.node(terminator.at)
            if terminator.nanofarad == 0:
                self.resistor(f"p{end}", f"m{end}", terminator.ohm)
        for number, pair in enumerate(plan.polarizations):
            end = self.node(pair.at)
            if rail != "off":
                volt = pair.volt if rail == "on" else 0
                self.lines.append(f"V{number} rail{number} com {volt!r}")
            self.resistor(f"rail{number}", f"p{end}", pair.pull_up_ohm)
            self.resistor(f"m{end}", "com", pair.pull_down_ohm)


def ohms(plan: Network, rail: str, at: str, folder: Path) -> float:
    """1 A through the place, whose D0 is ngspice's zero: its volts are the ohms."""
    netlist = Netlist(plan, rail)
    plus, minus = f"p{netlist.node(at)}", f"m{netlist.node(at)}"
    lines = [*netlist.lines, f"I1 0 {plus} 1", f"VZ {minus} 0 0"]
    return operating_point(lines, [f"v({plus})"], folder)[f"v({plus})"]


@pytest.mark.spice
@SPICE
@pytest.mark.parametrize("seed", range(20))
def test_random_lines(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    plan = random_line(rng)
    circuit = LineCircuit(plan)
    netlist = Netlist(plan, "on")
    wanted = {f"v({c}{node})" for node in netlist.device.values() for c in "pm"}
    found = operating_point([*netlist.lines, "VZ com 0 0"], sorted(wanted) or ["v(pt0)"], tmp_path)
    for name, node in netlist.device.items():
        volt = found[f"v(p{node})"] - found[f"v(m{node})"]
        assert math.isclose(circuit.idle_volt(name), volt, rel_tol=1e-6, abs_tol=1e-9)
    for name in rng.sample(sorted(netlist.device), min(2, len(netlist.device))):
        off, shorted = (ohms(plan, rail, name, tmp_path) for rail in ("off", "shorted"))
        assert math.isclose(circuit.meter_ohm(name), off, rel_tol=1e-6)
        assert math.isclose(circuit.driver_ohm(name), shorted, rel_tol=1e-6)


def published(loads: int, terminator: Terminator, ohm: float) -> LineCircuit:
    """So many unit loads on a line whose cable has no resistance, one polarization at its end."""
    taps = tuple(Tap.to(float(at), Device(f"d{at}")) for at in range(loads))
    plan = Network(
        100, taps, polarizations=(Polarization(0.0, ohm, ohm),), cable=Cable(ohm_per_km=0)
    )
    return LineCircuit(plan.with_terminators_at_ends(terminator))


@pytest.mark.parametrize(
    ("loads", "terminator", "ohm", "volt"),
    [
        (0, Terminator(0, 120), 650, 0.221),
        (28, Terminator(0, 120), 650, 0.195),
        (28, Terminator(0, 150), 650, 0.234),
        (28, Terminator(0, 120, 1), 650, 1.24),
        (28, Terminator(0, 120), 450, 0.276),
        (28, Terminator(0, 120), 631.5, 0.200),
    ],
)
def test_idle_voltages_as_worked_out(
    loads: int, terminator: Terminator, ohm: float, volt: float
) -> None:
    assert published(loads, terminator, ohm).idle_volt(0.0) == pytest.approx(volt, abs=6e-4)


def test_what_a_driver_and_a_meter_see_as_worked_out() -> None:
    line = published(28, Terminator(0, 120), 450)
    assert line.driver_ohm(0.0) == pytest.approx(49.7, abs=0.05)
    assert line.meter_ohm(0.0) == pytest.approx(1 / (1 / 60 + 28 / 12_000))
    assert published(0, Terminator(0, 150), 650).meter_ohm(0.0) == pytest.approx(75)
    assert published(0, Terminator(0, 120, 1), 650).meter_ohm(0.0) == math.inf
    one = replace(line.network, taps=(), polarizations=(), terminators=(Terminator(0.0, 120),))
    assert LineCircuit(one).meter_ohm(100.0) == pytest.approx(120)


def test_the_cable_takes_its_share() -> None:
    """1000 m of AWG 26 to the far terminator: 2 · 134.7 Ω in series with it, by hand."""
    plan = Network(
        1000,
        (Tap.to(1000, Device("far", unit_loads=1e-3)),),
        (Terminator(0.0, 120), Terminator(1000, 120)),
        (Polarization(0.0),),
        cable=Cable(0.128),
    )
    loop = 2 * 1000 / 58 / 0.128
    far = 120 + loop
    near = far * 120 / (far + 120)
    volt = 5 * near / (near + 1300)
    circuit = LineCircuit(plan)
    assert circuit.idle_volt(0.0) == pytest.approx(volt, rel=1e-4)
    assert circuit.idle_volt("far") == pytest.approx(volt * 120 / far, rel=1e-4)
    assert circuit.meter_ohm(0.0) == pytest.approx(near, rel=1e-4)
