"""A healthy bench against the power circuit of `labkit.fieldbus.devicenet`, which ngspice checks.

Both take the cable's loop data and 5 mΩ a tap. The bench counts the contacts in other connectors,
too: in the supply's lead and its tap 2.5 mΩ each, which are put into the supply here, and 2.5 mΩ
in each device's own connector, which is left: 2 · 2.5 mΩ · 0.6 A = 3 mV at most, less than half of
the last digit, 10 mV, that the meter shows of 24 V.
"""

import random
from dataclasses import replace

import pytest

from labkit.bench.bench import Bench
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.power import solve_power

CONTACTS_OHM = 2 * 3 * 0.0025
"""V+ and V- each through the supply's own connector, its lead's, and the tap's trunk side."""
INNER_OHM = 1e-3
"""What the bench takes a supply to have inside where the plan says nothing."""
LAST_DIGIT_V = 0.01


def random_plan(seed: int) -> Network:
    rng = random.Random(seed)
    taps, position = [], 0.0
    for number in range(rng.randint(2, 9)):
        position += rng.randint(2, 30) / 2
        length = rng.choice([0.0, 1.0, 3.0, 6.0])
        if rng.random() < 0.3:
            device = Device(f"node {number}", 0.0, number, constant_power=rng.uniform(1, 12))
        else:
            device = Device(f"node {number}", round(rng.uniform(0, 0.6), 2), number)
        taps.append(Tap(position, Drop(length, (device,), cable=rng.choice(["thin", "thick"]))))
    end = position + rng.randint(2, 20) / 2
    cut = round(end * rng.uniform(0.2, 0.8), 1)
    segments = (Segment("thick", cut), Segment(rng.choice(["thin", "thick"]), end - cut))
    place = rng.choice([0.0, end])
    return Network(125, segments, tuple(taps), (Supply(place, rng.choice([24.0, 23.6])),))


@pytest.mark.parametrize("seed", range(40))
def test_every_node_has_the_volts_of_the_power_circuit(seed: int) -> None:
    plan = random_plan(seed)
    bench = Bench(Setup(plan, "node 0"), situation=Situation(power=True))
    with_contacts = replace(plan.supplies[0], resistance=INNER_OHM + CONTACTS_OHM)
    truth = solve_power(replace(plan, supplies=(with_contacts,)))
    assert bench.live is not None
    for name, volt in truth.voltages.items():
        shown = bench.volts(Terminal(name, 5), Terminal(name, 1)).value
        assert shown == pytest.approx(volt, abs=LAST_DIGIT_V), name
    drawn = bench.live.supply_currents["supply"]
    # A load of constant power draws more where 3 mV more are lost: 1 in 5,000.
    assert drawn == pytest.approx(truth.supplies[0].current, rel=2e-4)
    rise = max(node.v_minus for node in truth.nodes) - min(node.v_minus for node in truth.nodes)
    common = [bench.volts(Terminal(name, 1), Terminal("earth")).value for name in truth.voltages]
    assert max(common) - min(common) == pytest.approx(rise, abs=LAST_DIGIT_V)
