"""A part of the pair that is cut off from both terminators, against the law of a capacitor.

Without a terminator only the receivers' inputs discharge it: after a dominant bit
v(t) = V · e^(-t / RC), with the inputs' 30 kΩ in parallel and the cable's and inputs' capacitance
together. A receiver reads recessive below 0.5 V (ISO 11898-2).
"""

import math

import pytest

from labkit.bench.bench import Bench
from labkit.bench.faults import Broken
from labkit.bench.signals import ragged_points
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.line import LinePiece, LineTopology, Transceiver

FARAD_PER_M = 4.46e-9 / 120
INPUT_OHM, INPUT_FARAD = 30e3, 20e-12


def settles_s(metres: float, receivers: int) -> float:
    """How long the discharge takes from 3 V to 0.5 V, s."""
    farad = receivers * INPUT_FARAD + metres * FARAD_PER_M
    level = 3.0 * (INPUT_OHM / receivers) / (INPUT_OHM / receivers + 30)
    return INPUT_OHM / receivers * farad * math.log(level / 0.5)


@pytest.mark.parametrize("metres", [0.5, 1.0, 5.0, 20.0])
def test_an_unterminated_cable_discharges_as_a_capacitor_does(metres: float) -> None:
    line = LineTopology(
        [LinePiece("piece", "here", "there", metres)],
        [],
        [Transceiver("one", "here"), Transceiver("other", "there")],
    )
    time = settles_s(metres, 2)
    assert ragged_points(line, "one", 1.05 * time) == frozenset()
    assert ragged_points(line, "one", 0.95 * time) == {"here", "there"}


@pytest.mark.parametrize("rate", [125, 250, 500])
@pytest.mark.parametrize("cut", ["tap 1, drop", "tap 1, drop, far end"])
def test_a_drop_that_is_cut_off_hears_itself_alike_wherever_it_is_cut(rate: int, cut: str) -> None:
    devices = (Device("panel", 0.2, 0),), (Drop(2.0, (Device("lamp", 0.1, 4),)),)
    setup = Setup(
        Network(rate, (Segment("thick", 20.0),), (Tap(8.0, Drop(1.0, *devices)),), (Supply(12.0),)),
        "panel",
    )
    bench = Bench(setup, frozenset({Broken(cut, CAN_H)}), Situation(power=True))
    sample_s = 0.875 / (rate * 1000)
    # 2 m of the branch, and the 1 m of drop where that is cut off too
    metres = 2.0 if cut.endswith("end") else 3.0
    assert bench.ears.hear("panel", "lamp") is (settles_s(metres, 2) < sample_s)
