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

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.language.expression import Prose

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


def test_the_picture_and_its_line_of_facts_do_not_tell_a_data_rate() -> None:
    recipe = read_lab(LAB).network
    assert recipe is not None
    for scenario in scenarios()[:20]:
        assert "kbit/s" not in recipe.draw(scenario.network)
        assert "kbit/s" not in recipe.facts(scenario.network)


def test_the_text_names_the_cables_in_the_order_of_the_trunk() -> None:
    for scenario in scenarios()[:50]:
        prose = [part for part in scenario.lab.body if isinstance(part, Prose)]
        text = " ".join(" ".join(part.render(scenario.names).split()) for part in prose)
        first, second = scenario.network.segments
        said = f"{first.length:g} m of {first.cable} cable, then {second.length:g} m of"
        assert f"From its left end the trunk has {said} {second.cable} cable." in text


def judged(scenario: Scenario, exercise: str, answer: Any) -> Verdict:
    [found] = [each for each in scenario.lab.exercises if each.id == exercise]
    prepared = scenario.prepare(found)
    return check_for(found.kind).check(prepared.ask, prepared.key, answer)


def test_who_rounds_up_keeps_the_mixed_rule_and_who_rounds_below_it_breaks_it() -> None:
    limit, weight, _ = PUBLISHED[250]
    for scenario in scenarios():
        thick, thin = scenario.names["sister_thick"], scenario.names["sister_thin"]
        least = scenario.names["swap"]
        for places in (0, 1, 2):
            for metres in (math.floor(least * 10**places), math.ceil(least * 10**places - 1e-6)):
                swap = metres / 10**places
                keeps = thick + swap + weight * (thin - swap) <= limit + 1e-9
                verdict = judged(scenario, "more-thick", f"{swap:.{places}f} m")
                assert verdict.right == keeps, (scenario.seed, swap)


def test_no_verdict_hangs_on_a_rounding_or_on_the_drops_at_the_trunk_s_ends() -> None:
    enough: Counter[bool] = Counter()
    for scenario in scenarios():
        names = scenario.names
        for _, reached, amperes, *_ in names["drop_rows"]:
            carries = min(3.0, 4.57 / reached)
            assert abs(carries - amperes) > 0.02
            enough[amperes <= carries] += 1
        for limit, weight, _ in PUBLISHED.values():
            own = names["thick_length"] + weight * names["thin_length"]
            ends = max(0.0, names["thick_reach"] - names["thick_end"])
            ends += max(0.0, names["thin_reach"] - names["thin_end"])
            # Whoever lets outer drops, thin cable, count instead of the trunk comes to the same.
            assert (own <= limit) == (own + weight * ends <= limit), scenario.seed
    assert min(enough.values()) > DRAWS / 4


def test_the_likely_mistakes_at_the_trunk_s_ends_are_told_as_what_they_are() -> None:
    for scenario in scenarios():
        names = scenario.names
        inner = names["trunk_length"] - names["thick_end"] - names["thin_end"]
        thick, thin = names["thick_reach"], max(names["thin_end"], names["thin_reach"])
        at_thick = max(names["thick_end"], names["stems"][0])
        told = judged(scenario, "longest-distance", f"{inner + at_thick + thin:.2f} m")
        words = "the stem only" if names["stems"][0] > names["thick_end"] else "the trunk"
        assert told.slip == "stem-for-reach", scenario.seed
        assert words in told.message
        shorter = min(names["thin_end"], names["thin_reach"])
        told = judged(scenario, "longest-distance", f"{inner + thick + shorter:.2f} m")
        words = "the drop" if names["thin_reach"] < names["thin_end"] else "the trunk"
        assert told.slip == "shorter-at-the-thin-end", scenario.seed
        assert f"took {words}." in told.message


def test_what_a_drop_carries_may_be_rounded_down_and_its_cap_is_not_the_stem_s_length() -> None:
    for scenario in scenarios():
        rows = scenario.names["drop_rows"]
        [exercise] = [each for each in scenario.lab.exercises if each.id == "drop-power"]
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        right = check.right_answer(prepared.ask, prepared.key)
        for row, (_, reached, *_) in enumerate(rows):
            cells = [name for name, text in right.items() if text.endswith(" A")]
            # Who rounds down what a drop may carry is on the safe side, and right.
            down = {**right, cells[2 * row + 1]: f"{math.floor(457 / reached) / 100:.2f} A"}
            assert check.check(prepared.ask, prepared.key, down).right, scenario.seed
            if 4.57 / reached < 2.9:
                typed = {**right, cells[2 * row + 1]: "3 A"}
                assert check.check(prepared.ask, prepared.key, typed).slip == "cap-alone"


def test_verdicts_agree_with_the_numbers_as_they_are_printed() -> None:
    for scenario in scenarios():
        cells: dict[str, list[str]] = {}
        for exercise in scenario.lab.exercises:
            if exercise.kind == "table":
                prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
                cells[exercise.id] = list(check.right_answer(prepared.ask, prepared.key).values())
        for row in range(3):
            reached, _, verdict = cells["wished-drops"][3 * row : 3 * row + 3]
            assert (float(reached.split()[0]) <= SINGLE_DROP) == (verdict == "keeps it")
            reached, _, verdict = cells["mend-the-drop"][3 * row : 3 * row + 3]
            assert (float(reached.split()[0]) <= SINGLE_DROP) == (verdict == "corrects it")
            flows, carries, verdict = cells["drop-power"][3 * row : 3 * row + 3]
            assert (float(flows.split()[0]) <= float(carries.split()[0])) == (verdict == "enough")
            lasts, verdict = cells["scan-times"][2 * row : 2 * row + 2]
            may_be = scenario.names["may_be_ms"]
            assert (float(lasts.split()[0]) <= may_be) == (verdict == "fast enough")
