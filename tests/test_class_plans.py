"""The class plans: no gap in a day, each lab's own minutes, and labs in the order of the course."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "instructors" / "class-plans.md").read_text("utf-8")
_, *PLANS = re.split(r"^## ", TEXT, flags=re.MULTILINE)
ROW = re.compile(r"^\| (\d+):(\d\d) \| (\d+):(\d\d) \| (.+?) \|$", re.MULTILINE)
LABS = re.compile(r"`labs: \[(.+)\]`")
COURSE = re.findall(r"^\| `([a-z-]+)` \|", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE)


def rows(plan: str) -> list[tuple[int, int, str]]:
    """Of a plan: from and to, in minutes of the day, and what."""
    return [
        (60 * int(a) + int(b), 60 * int(c) + int(d), what) for a, b, c, d, what in ROW.findall(plan)
    ]


def labs_of(plan: str) -> list[tuple[str, int]]:
    """The labs of a plan's day with the minutes that it gives them."""
    return [
        (lab[1], end - begin)
        for begin, end, what in rows(plan)
        if (lab := re.match(r"`([a-z-]+)`", what))
    ]


def test_there_are_four_plans() -> None:
    assert len(PLANS) == 4
    assert "Caution" in TEXT[: TEXT.index("## ")]


@pytest.mark.parametrize("plan", PLANS)
def test_a_day_has_no_gap_and_ends_after_eight_hours(plan: str) -> None:
    day = rows(plan)
    assert len(day) == plan.count("\n| ") - 1
    assert [begin for begin, _, _ in day[1:]] == [end for _, end, _ in day[:-1]]
    assert (day[0][0], day[-1][1]) == (8 * 60, 16 * 60)


@pytest.mark.parametrize("plan", PLANS)
def test_a_lab_has_its_own_minutes(plan: str) -> None:
    found = labs_of(plan)
    assert found == [(lab, read_lab(lab_library() / lab / "lab.md").minutes) for lab, _ in found]


@pytest.mark.parametrize("plan", PLANS)
def test_nobody_works_much_longer_than_two_hours_without_a_break(plan: str) -> None:
    """But for the one lab that says where its break is."""
    for begin, end, what in rows(plan):
        assert end - begin <= 125 or "short break" in what, what


def test_labs_stand_in_the_order_of_the_course_and_are_those_of_the_class_file() -> None:
    of_file = [found[1].split(", ") for plan in PLANS if (found := LABS.search(plan))]
    days = [[lab for lab, _ in labs_of(plan)] for plan in PLANS]
    one, two, *others = days
    assert of_file == [one, [*one, *two], *others]
    for labs in of_file:
        assert labs == sorted(labs, key=COURSE.index)
