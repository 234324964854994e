"""A healthy bench against the power circuit of `labkit.fieldbus.devicenet`, which ngspice checks.

Both take the cable's loop data and 5 mΩ a tap. The planning method lets all current of a tap,
its own and what goes on, pass all 5 mΩ; the bench has half of it at each trunk side, so that a
tap's own current passes the first half only, then as much again in the drop and in the device's
connector. With the current I_k of each device this makes 2 · 2.5 mΩ · (Σ I_k − 2 I_n) more at
node n. The connectors of supply and lead and the trunk side of the power tap are put into the
supply's resistance. What is left comes of loads of constant power, which draw less at more volts:
below 3 mV, where the last digit of the meter is 10 mV.
"""

import math
import random
from dataclasses import replace

import pytest

from labkit.bench.bench import Bench
from labkit.bench.situation import Situation, Terminal
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.power import solve_power

HALF_TAP_OHM = 0.0025
CONTACTS_OHM = 2 * 3 * HALF_TAP_OHM
"""V+ and V- each through the supply's own connector, its lead's, and the tap's trunk side."""
INNER_OHM = 1e-3
"""What the bench takes a supply to have inside where the plan says nothing."""
LAST_DIGIT_V, LEFT_V = 0.01, 3e-3


def random_plan(seed: int) -> Network:
    """A network whose nodes have 20 V at least: below, loads of constant power run away."""
    rng = random.Random(seed)
    while True:
        plan = _any_plan(rng)
        if min(solve_power(plan).voltages.values()) > 20:
            return plan


def _any_plan(rng: random.Random) -> Network:
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
    assert bench.live is not None
    truth = solve_power(replace(plan, supplies=(with_contacts,)))
    total = math.fsum(node.current for node in truth.nodes)
    for node in truth.nodes:
        volt = node.voltage + 2 * HALF_TAP_OHM * (total - 2 * node.current)
        exact = bench.live.idle.between(f"{node.device}#5", f"{node.device}#1")
        assert exact == pytest.approx(volt, abs=LEFT_V), node.device
        shown = bench.volts(Terminal(node.device, 5), Terminal(node.device, 1)).value
        assert shown == pytest.approx(volt, abs=LAST_DIGIT_V / 2 + LEFT_V), node.device
    drawn = bench.live.supply_currents["supply"]
    # A load of constant power draws a little less at a few millivolts more.
    assert drawn == pytest.approx(truth.supplies[0].current, rel=1e-3)
