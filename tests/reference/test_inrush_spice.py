"""Switching a line on, against a transient of ngspice: how long its supply is at its limit.

The supply of the decks is a controlled source of no more than its limit, each device a capacitor
and a current from 11 V up. Nothing of the library is used for them but the figures of the plan.
"""

import math
import random
from pathlib import Path

import pytest
from ngspice_batch import MISSING, run_deck

from labkit.fieldbus.devicenet import charging_time
from labkit.fieldbus.errors import PlanError

pytestmark = [
    pytest.mark.spice,
    pytest.mark.skipif(MISSING, reason="ngspice is not installed"),
]
THICK, CONTACT = 0.0089, 0.005  # ohm/m at 20 °C and ohm, each conductor (ODVA PUB00027R1)
STIFF = 500.0  # A for each volt that is missing: the source is at its limit but for the last mV


def at_limit(
    limit: float, taps: list[tuple[float, float, float]], folder: Path, longest: float
) -> float:
    """Seconds until the supply leaves its limit; `taps` are (ohm from the last one, F, A)."""
    source = f"Bsup 0 n0 I = min({limit:.12g}, max(0, (24 - V(n0)) * {STIFF}))"
    lines = [source, "Csup n0 0 1n"]
    for number, (ohm, farad, ampere) in enumerate(taps, 1):
        lines.append(f"R{number} n{number - 1} n{number} {ohm:.12g}")
        lines.append(f"C{number} n{number} 0 {farad:.12g} IC=0")
        # Within a tenth of a volt round 11 V it comes on, so that ngspice can step over it.
        share = f"min(1, max(0, (V(n{number}) - 10.95) * 10))"
        lines.append(f"Bload{number} n{number} 0 I = {ampere:.12g} * {share}")
    control = [
        ".options reltol=1e-6",
        ".control",
        "set numdgt=12",
        f"tran {longest / 4000:.6g} {2 * longest:.6g} 0 {longest / 2000:.6g} uic",
        f"meas tran t_full WHEN v(n0)={24 - limit / STIFF:.9g} RISE=1",
        "quit",
        ".endc",
    ]
    printed = run_deck([*lines, *control], folder)
    [found] = [line for line in printed.splitlines() if line.startswith("t_full")]
    return float(found.split("=")[1].split()[0])


@pytest.mark.parametrize("seed", range(6))
def test_without_cable_it_is_the_time_of_ngspice(seed: int, tmp_path: Path) -> None:
    rng = random.Random(f"inrush {seed}")
    farad, load = rng.uniform(0.5e-3, 8e-3), rng.uniform(0.5, 6)
    limit = load * rng.uniform(1.2, 2.5)
    time = charging_time(farad, limit, load)
    simulated = at_limit(limit, [(1e-4, farad, load)], tmp_path, time)
    assert math.isclose(time, simulated, rel_tol=0.01)


@pytest.mark.parametrize("seed", range(6))
def test_behind_real_cable_a_supply_is_off_its_limit_no_later(seed: int, tmp_path: Path) -> None:
    rng = random.Random(f"cable {seed}")
    devices = [
        (rng.uniform(10, 50), rng.uniform(1e-4, 1e-3), rng.uniform(0.1, 0.5)) for _ in range(8)
    ]
    farad, load = sum(f for _, f, _ in devices), sum(a for _, _, a in devices)
    limit = load * rng.uniform(1.3, 2)
    time = charging_time(farad, limit, load)
    taps = [(2 * (metres * THICK + CONTACT), f, a) for metres, f, a in devices]
    simulated = at_limit(limit, taps, tmp_path, time)
    assert 0.1 * time < simulated <= 1.01 * time


def test_by_hand_and_where_it_never_comes_up() -> None:
    # 4 mF, 6 A, 4 A: 4 · 11 / 6 + 4 · 13 / 2 ms.
    assert math.isclose(charging_time(0.004, 6, 4), 0.004 * 11 / 6 + 0.004 * 13 / 2)
    with pytest.raises(PlanError, match=r"holds 4 A and the devices draw 4 A"):
        charging_time(0.004, 4, 4)
    with pytest.raises(PlanError, match="The voltage of the supply"):
        charging_time(0.004, 4, 1, voltage=9)
