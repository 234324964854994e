"""The lab of branches and rates against the published rules, worked out a second time.

Limits: ODVA, Planning and Installation Manual, DeviceNet Cable System, PUB00027R1 (IEC 62026-3).
"""

from __future__ import annotations

import math
from collections import Counter
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab

LAB = Path(__file__).parents[2] / "labs" / "branches-and-rates" / "lab.md"
DRAWS = 150
# kbit/s: thick trunk, weight of a metre of thin cable, all drops together.
PUBLISHED = {125: (500.0, 5.0, 156.0), 250: (250.0, 2.5, 78.0), 500: (100.0, 1.0, 39.0)}
THIN_LIMIT = 100.0
SINGLE_DROP = 6.0

Tap = tuple[float, float, list[float]]


@cache
def scenarios() -> list[Scenario]:
    lab = read_lab(LAB)
    return [draw(lab, f"branches {number}") for number in range(DRAWS)]


def taps(names: Any) -> list[Tap]:
    """Place, first piece and branches of each tap, from the drawn values alone."""
    found = []
    for at, drop, more in zip(
        names["from_thick"], names["tap_drops"], names["tap_branches"], strict=True
    ):
        found.append((at, drop, [length for length, _, _ in more]))
    return found


def reach(tap: Tap) -> float:
    return tap[1] + max(tap[2], default=0.0)


def test_cable_in_the_drops_and_the_two_farthest_points() -> None:
    for scenario in scenarios():
        names = scenario.names
        plan = taps(names)
        cable = math.fsum(drop + math.fsum(branches) for _, drop, branches in plan)
        assert math.isclose(names["all_drops"], cable)
        # Every pair of ends: terminators stand at reach 0 from the trunk's ends.
        ends = [(0.0, 0.0), (names["trunk_length"], 0.0), *((tap[0], reach(tap)) for tap in plan)]
        longest = max(abs(a - b) + up + down for (a, up), (b, down) in combinations(ends, 2))
        assert math.isclose(names["distance"], longest)
        assert max(reach(tap) for tap in plan) <= SINGLE_DROP


def test_the_rate_follows_from_the_published_limits_and_the_time_of_a_scan() -> None:
    outcomes: Counter[str] = Counter()
    for scenario in scenarios():
        names = scenario.names
        allowed, quick = [], []
        for rate, (thick, weight, drops) in PUBLISHED.items():
            trunk = names["thick_length"] + weight * names["thin_length"]
            if trunk <= thick and names["all_drops"] <= drops:
                allowed.append(rate)
            if names["scan_bits_all"] / rate <= names["may_be_ms"]:
                quick.append(rate)
        fit = sorted(set(allowed) & set(quick))
        assert names["thin_length"] <= THIN_LIMIT
        assert names["outcome"] == (f"r{fit[0]}" if fit else "none")
        assert names["allowed"] == max(allowed)
        outcomes[names["outcome"]] += 1
    # Nobody gets far by guessing: each of the four answers is right for a fair share.
    assert min(outcomes.values()) > DRAWS / 8
    assert len(outcomes) == 4


def test_thick_cable_for_thin_mends_the_sister_line_and_no_metre_less_does() -> None:
    thick_limit, weight, _ = PUBLISHED[250]
    for scenario in scenarios():
        names = scenario.names
        thick, thin, swap = names["sister_thick"], names["sister_thin"], names["swap"]
        assert math.isclose(thick + swap + weight * (thin - swap), thick_limit)
        assert thick + weight * thin > thick_limit
        assert 0 < swap < thin


def test_two_proposals_can_mend_the_long_drop_and_the_third_cannot() -> None:
    mended: Counter[int] = Counter()
    for scenario in scenarios():
        for number, (_, stem, branches) in enumerate(scenario.names["ways"]):
            mended[number] += stem + max(branches) <= SINGLE_DROP
        assert scenario.names["too_long_reach"] > SINGLE_DROP
    # Either of the first two mends some drops and not others; without the shortest branch none.
    assert all(DRAWS / 8 < mended[number] < DRAWS * 7 / 8 for number in (0, 1))
    assert mended[2] == 0
