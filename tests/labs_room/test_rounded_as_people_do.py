"""Answers rounded as a technician rounds them, and slips told as the mistake that was made."""

from __future__ import annotations

from typing import Any

from course_draws import lab, scenarios

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import Scenario, draw

DRAWS = 100
# kbit/s: all drops together (IEC 62026-3).
DROPS = {125: 156.0, 250: 78.0}


def judged(scenario: Scenario, exercise: str, answer: Any) -> Verdict:
    [found] = [each for each in scenario.lab.exercises if each.id == exercise]
    prepared = scenario.prepare(found)
    return check_for(found.kind).check(prepared.ask, prepared.key, answer)


def right_cells(scenario: Scenario, exercise: str) -> dict[str, str]:
    [found] = [each for each in scenario.lab.exercises if each.id == exercise]
    prepared = scenario.prepare(found)
    right: dict[str, str] = check_for(found.kind).right_answer(prepared.ask, prepared.key)
    return right


def question(scenario: Scenario, exercise: str) -> str:
    [found] = [each for each in scenario.lab.exercises if each.id == exercise]
    return " ".join(found.question.render(scenario.names).split())


def test_times_may_be_written_with_the_three_decimals_that_the_working_prints() -> None:
    for scenario in scenarios("timing", DRAWS):
        names = scenario.names
        for exercise, ms in (
            ("scan-time", names["longest"]),
            ("first-response", names["first_worst"]),
            ("last-response", names["last_worst"]),
        ):
            for answer in (f"{ms:.3f} ms", f"{ms:.3f} ms".replace(".", ","), f"{ms:.2f} ms"):
                assert judged(scenario, exercise, answer).right, (scenario.seed, answer)
            assert "two decimals or more" in question(scenario, exercise)


def test_who_lets_the_first_in_rank_wait_for_itself_is_told_that() -> None:
    told = 0
    for scenario in scenarios("timing", DRAWS):
        own = scenario.names["first_ms"]
        if own > scenario.names["block_ms"]:
            verdict = judged(scenario, "first-response", f"{2 * own:.2f} ms")
            assert verdict.slip == "waits-for-itself", scenario.seed
            told += 1
    assert told > DRAWS / 20


def test_a_scan_may_be_rounded_to_a_tenth_of_a_millisecond() -> None:
    for scenario in scenarios("branches-and-rates", DRAWS):
        cells = right_cells(scenario, "scan-times")
        rounded = {
            name: f"{float(text.split()[0]):.1f} ms" if text.endswith(" ms") else text
            for name, text in cells.items()
        }
        assert judged(scenario, "scan-times", rounded).right, scenario.seed


def test_who_follows_the_branch_that_got_shorter_is_told_that_another_is_longer() -> None:
    told = 0
    for scenario in scenarios("branches-and-rates", DRAWS):
        _, stem, branches = scenario.names["ways"][1]
        if branches[0] < max(branches):
            cells = right_cells(scenario, "mend-the-drop")
            reach = next(name for name in cells if name.startswith("2."))
            typed = {**cells, reach: f"{stem + branches[0]:.2f} m"}
            verdict = judged(scenario, "mend-the-drop", typed)
            assert "Another branch is longer now" in verdict.message, scenario.seed
            told += 1
    assert told > DRAWS / 8


def test_the_laptop_s_address_is_not_said_to_be_a_new_device_s() -> None:
    for scenario in scenarios("addresses-and-rates", 20):
        plan = right_cells(scenario, "plan")
        for kept in ("62", "63"):
            typed = {**plan, next(iter(plan)): kept}
            message = judged(scenario, "plan", typed).message
            assert "kept free" in message
            assert "new device" not in message


def test_nobody_reports_again_at_the_moment_at_which_the_last_in_rank_may_begin() -> None:
    # Drawn without the rule, the first in rank reports again just when the bus comes free.
    for seed in ("tie-379", "tie-476", "tie-530", "tie-796", "tie-1050"):
        names = draw(lab("timing"), seed).names
        others, first, fast = (
            names["once_ms"] - names["last_ms"],
            names["first_ms"],
            names["line_periods"][0],
        )
        for times in range(3):
            free = others + times * first
            assert abs(free - (times + 1) * fast) > 0.001, (seed, times)
