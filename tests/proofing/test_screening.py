"""What proof says of the draws that are thrown away: how many at which rule, and at what cost."""

from __future__ import annotations

from collections import Counter

import pytest
from broken import SOUND, broken, line_of, report_on

from labkit.lab.definition import Lab
from labkit.lab.difficulty import window
from labkit.lab.draw import draw, draw_again
from labkit.proofing import PROOF_SEED
from labkit.proofing.screening import RuleCost

RULES = """\
valid:
  - rule: far > near
    because: the names say so
  - rule: load > 0.5
    because: something must be lost
  - rule: length > 40
    because: it must be a long one
"""
THREE = SOUND.replace(SOUND[SOUND.index("valid:") : SOUND.index("difficulty:")], RULES)


def counted(lab: Lab, draws: int) -> tuple[list[int], list[int]]:
    """How many candidates came to each rule and failed at it, asked one by one."""
    asked, failed = Counter[int](), Counter[int]()
    for number in range(1, draws + 1):
        seed = PROOF_SEED.format(number)
        for attempt in range(1, draw(lab, seed).tries + 1):
            names = draw_again(lab, seed, attempt).names
            for place, rule in enumerate(lab.rules):
                asked[place] += 1
                if not rule.formula.evaluate(names):
                    failed[place] += 1
                    break
    places = range(len(lab.rules))
    return [asked[place] for place in places], [failed[place] for place in places]


def test_each_rule_says_how_many_candidates_it_turned_down() -> None:
    report = report_on(THREE)
    asked, failed = counted(report.lab, 150)
    rules = report.screened.rules
    assert [rule.asked for rule in rules] == asked
    assert [rule.turned_down for rule in rules] == failed
    assert [rule.later for rule in rules] == [failed[1] + failed[2], failed[2], 0]
    assert {rule.candidates for rule in rules} == {asked[0]} == {150 + sum(failed)}
    assert report.thrown_away == sum(failed) == report.screened.turned_down
    assert failed[0] == 0 < failed[1] < failed[2]
    data = report.to_json()["screening"]
    assert [rule["turned_down"] for rule in data["rules"]] == failed
    assert [rule["asked"] for rule in data["rules"]] == asked
    assert data["rules"][2]["line"] == line_of("rule: length > 40", THREE)
    assert data["rules"][2]["hangs_on"] == ["near", "far"]


def test_the_drawing_time_is_shared_out_to_rules_and_what_comes_after_them() -> None:
    heavy = THREE.replace("rule: length > 40", "rule: sum([near] * 5000) > 0 and length > 40")
    data = report_on(heavy).to_json()
    shares = [rule["time_share"] for rule in data["screening"]["rules"]]
    rest = data["screening"]["time_share_after_rules"]
    assert all(share > 0 for share in (*shares, rest, data["difficulty"]["time_share"]))
    assert sum(shares) + rest == pytest.approx(1, abs=0.001)
    assert shares[2] > 0.5 > max(shares[:2])


def told(text: str, draws: int = 150) -> tuple[RuleCost, ...]:
    return report_on(text, draws).screened.told


def test_a_rule_where_most_fail_says_which_range_fewer_fail_with() -> None:
    (cost,) = told(SOUND.replace("rule: far > near", "rule: far + near > 2 * 21 + 14"))
    rather = cost.rather
    assert rather is not None
    low, high = rather.values[0], rather.values[-1]
    assert (rather.name, high) == ("far", 60)
    assert rather.values == tuple(range(low, 61))
    failed = [
        names["near"] + names["far"] <= 56
        for seed in (PROOF_SEED.format(number) for number in range(1, 151))
        for attempt in range(1, draw(report_on(SOUND).lab, seed).tries + 1)
        if (names := draw_again(report_on(SOUND).lab, seed, attempt).names)["far"] >= low
    ]
    assert rather.fail < cost.turned_down / cost.asked - 0.15
    assert len(failed) > 30
    assert f"Draw `far` from {low} to 60 so that fewer do" in cost.mend
    assert f"{100 * cost.share:.0f} % of all {cost.candidates} candidates fail" in cost.sentence
    assert "those that come to it" not in cost.sentence  # all of them do


def test_values_that_are_named_are_offered_by_name() -> None:
    text = SOUND.replace("near: {from: 2, to: 20}", "near: {one of: [70, 2, 50, 9, 60]}")
    (cost,) = told(text.replace("rule: far > near", "rule: near < 10"))
    assert cost.rather is not None
    (other,) = set(cost.rather.values) - {2, 9}
    assert cost.rather.values in ((other, 2, 9), (2, other, 9), (2, 9, other))
    assert cost.rather.fail == pytest.approx(1 / 3, abs=0.1)
    values = ", ".join(map(str, cost.rather.values))
    assert f"Draw `near` from {values} so that fewer do: of those that come to it" in cost.mend


def test_a_name_that_would_be_drawn_no_more_is_not_offered() -> None:
    text = SOUND.replace("near: {from: 2, to: 20}", "near: {one of: [2, 50]}")
    (cost,) = told(text.replace("rule: far > near", "rule: near < 10 and load > 0.5"))
    assert cost.rather is None
    assert cost.mend.startswith("It hangs on `near`, `load`: draw so that fewer do")


def test_chance_alone_offers_no_range() -> None:
    # Whether it is kept hangs on the sum of all that is drawn, and so on no range of any.
    chance = "rule: (near + far + round(10 * load)) % 3 == 0"
    (cost,) = told(SOUND.replace("rule: far > near", chance), 15)
    assert cost.hangs_on == ("near", "far", "load")
    assert cost.rather is None


def test_a_dear_rule_before_one_where_many_fail_is_told() -> None:
    text = THREE.replace("rule: load > 0.5", "rule: sum([near] * 5000) > 0 and load > 0.3")
    costs = told(text.replace("length > 40", "length > 55"))
    assert [cost.place.line for cost in costs] == [
        line_of("load > 0.5", THREE),
        line_of("> 40", THREE),
    ]
    assert costs[0].mend.startswith(
        f"{100 * costs[0].later / costs[0].candidates:.0f} % fail after"
    )
    assert costs[0].mend.endswith("put rules that need less before it.")


def test_few_that_fail_are_no_matter_for_an_author() -> None:
    report = report_on(THREE)
    assert 0 < report.thrown_away < report.screened.candidates / 2
    assert report.told_costs == ()


def test_what_no_class_is_dealt_is_counted() -> None:
    report = broken(("formula: near + far, band: [20, 90]", "formula: near, band: [2, 20]"))
    values = [draw(report.lab, PROOF_SEED.format(n)).difficulty or 0.0 for n in range(1, 151)]
    dealt = window(values, (2, 20))
    assert dealt is not None
    inside = [value for value in values if dealt.low <= value <= dealt.high]
    assert report.difficulty is not None
    assert report.difficulty.turned_down.count == 150 - len(inside) > 0
    data = report.to_json()["difficulty"]
    assert data["turned_down"] == 150 - len(inside)
    assert data["dealt"] == {"low": dealt.low, "high": dealt.high}
    assert dealt.high - dealt.low == pytest.approx(4.5)
    (cost,) = report.told_costs
    assert cost.place.line == line_of("difficulty:")
    assert f"{150 - len(inside)} of 150 draws" in cost.sentence
    half = broken().difficulty
    assert half is not None
    assert 0 < half.turned_down.part < 2 / 3
    assert broken().told_costs == ()


def test_no_band_that_a_draw_lies_in_deals_nothing() -> None:
    report = broken(("band: [20, 90]", "band: [200, 900]"))
    assert report.difficulty is not None
    assert report.difficulty.dealt is None
    assert report.to_json()["difficulty"]["turned_down"] == 150
    assert report.told_costs == ()  # 'outside-band' says it
