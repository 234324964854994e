"""class.yaml: what a lab says of itself holds for it, what it leaves out the class says."""

from __future__ import annotations

import re
from pathlib import Path
from textwrap import dedent

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.classroom.class_file import ClassFields, read_class_file
from labkit.language.problems import DefinitionError

SPOKEN = """\
id: c
title: C
labs:
  - plan
  - lab: acceptance
    mode: assessed
    weight: 2
    opens: 2026-11-25 13:00
    deadline: 2026-11-25 14:30
mode: practice
time_zone: Africa/Nairobi
deadline: 2026-11-25
"""


def read(text: str) -> ClassFields:
    return read_class_file(text, "class.yaml")


def test_a_lab_may_have_rules_of_its_own() -> None:
    fields = read(SPOKEN)
    assert fields.labs == ["plan", "acceptance"]
    assert [fields.mode_of(lab) for lab in fields.labs] == ["practice", "assessed"]
    assert [fields.practice(lab) for lab in fields.labs] == [True, False]
    assert [fields.weight(lab) for lab in fields.labs] == [1, 2]
    # Nairobi is three hours ahead of UTC (IANA time zone database).
    assert [fields.opens_of(lab) for lab in fields.labs] == [None, "2026-11-25T10:00:00Z"]
    assert [fields.deadline_of(lab) for lab in fields.labs] == [
        "2026-11-25T20:59:59Z",
        "2026-11-25T11:30:00Z",
    ]


def test_of_a_lab_that_is_gone_the_class_says_everything() -> None:
    fields = read(SPOKEN)
    gone = "gone"
    assert (fields.mode_of(gone), fields.weight(gone)) == ("practice", 1)
    assert (fields.opens_of(gone), fields.deadline_of(gone)) == (None, fields.deadline)


def test_a_day_alone_opens_at_its_beginning_and_closes_at_its_end() -> None:
    item = "{lab: a, opens: 2026-11-25, deadline: 2026-11-25}"
    fields = read(f"id: c\ntitle: C\nlabs: [{item}]\nmode: practice\ntime_zone: UTC\n")
    assert fields.opens_of("a") == "2026-11-25T00:00:00Z"
    assert fields.deadline_of("a") == "2026-11-25T23:59:59Z"


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "words"),
    [
        ("    mode: assessed", "    mode: exam", 6, "mode", "practice or assessed"),
        ("    weight: 2", "    weight: 0", 7, "weight", "must be more than 0"),
        ("    weight: 2", "    weight: much", 7, "weight", "Write it in digits"),
        ("    weight: 2", "    wieght: 2", 7, "wieght", "Did you mean 'weight'?"),
        ("    weight: 2", "    labs: 2", 7, "labs", "Did you mean 'lab'?"),
        ("    opens: 2026-11-25 13:00", "    opens: noon", 8, "opens", "2026-11-25 16:30"),
        ("    deadline: 2026-11-25 14:30", "    deadline: late", 9, "deadline", "2026-11-25 16:30"),
        ("2026-11-25 14:30", "2026-11-25 12:30", 8, "opens", "Let it open before its deadline."),
        ("2026-11-25 14:30", "2026-11-25 13:00", 8, "opens", "13:00 UTC+03:00, and its deadline"),
        ("opens: 2026-11-25 13:00", "opens: 2026-11-26", 8, "opens", "26 November 2026 00:00"),
        ("lab: acceptance", "lab: Acceptance", 5, "lab", "Use small letters"),
        ("lab: acceptance\n    mode", "mode", 5, "lab", "is missing"),
    ],
)
def test_a_mistake_in_a_lab_has_its_line_its_field_and_a_mend(
    old: str, new: str, line: int, field: str, words: str
) -> None:
    assert old in SPOKEN
    with pytest.raises(DefinitionError) as caught:
        read(SPOKEN.replace(old, new, 1))
    place = f"class.yaml, line {line}, field 'labs → number 2 → {field}'"
    assert [str(p.place) for p in caught.value.problems] == [place]
    assert words in str(caught.value)


def test_a_lab_opens_before_the_classs_deadline_where_it_has_none() -> None:
    lines = "id: c\ntitle: C\nlabs: [{lab: a, opens: 2026-11-25 15:00Z}]\nmode: practice\n"
    assert read(lines + "deadline: 2026-11-25 16:00Z\n").opens_of("a") == "2026-11-25T15:00:00Z"
    with pytest.raises(DefinitionError, match="line 3, field 'labs → number 1 → opens'"):
        read(lines + "deadline: 2026-11-25 14:00Z\n")


@pytest.mark.parametrize(
    ("items", "line", "field", "words"),
    [
        ("[a, [b]]", 3, "labs → number 2", "must be text, but is a list"),
        ("[{lab: a}, a]", 3, "labs", "'a' is there twice"),
        ("[{a: {mode: assessed}}]", 3, "labs → number 1 → lab", "is missing"),
        ("[a, {}]", 3, "labs → number 2 → lab", "is missing"),
        ("{lab: a}", 3, "labs", "must be a list"),
    ],
)
def test_what_is_no_lab_is_told(items: str, line: int, field: str, words: str) -> None:
    with pytest.raises(DefinitionError) as caught:
        read(f"id: c\ntitle: C\nlabs: {items}\nmode: practice\n")
    assert f"class.yaml, line {line}, field '{field}': " in str(caught.value)
    assert words in str(caught.value)


def test_a_weight_is_said_once() -> None:
    with pytest.raises(DefinitionError) as caught:
        read(SPOKEN + "weights:\n  plan: 3\n  acceptance: 2\n")
    assert str(caught.value) == (
        "class.yaml, line 15, field 'weights → acceptance': this lab has a weight of its own under "
        "'labs' too. Keep one of them."
    )
    fields = read(SPOKEN + "weights: {plan: 3}\n")
    assert [fields.weight(lab) for lab in fields.labs] == [3, 2]


def test_the_clocks_jump_over_a_labs_time_too() -> None:
    # Directive 2000/84/EC: the clocks go from 01:00 to 02:00 UTC on the last Sunday of March.
    text = SPOKEN.replace("Africa/Nairobi", "Europe/Berlin")
    with pytest.raises(DefinitionError, match=r"line 8.*does not exist in Europe/Berlin"):
        read(text.replace("2026-11-25 13:00", "2026-03-29 02:30"))


def test_a_wrong_time_zone_is_told_once() -> None:
    with pytest.raises(DefinitionError) as caught:
        read(SPOKEN.replace("Africa/Nairobi", "Mars/Olympus"))
    assert [problem.place.field for problem in caught.value.problems] == ["time_zone"]


def test_no_field_of_the_file_is_called_as_it_is_inside() -> None:
    with pytest.raises(DefinitionError, match="'lab_items': is not a field here"):
        read("id: c\ntitle: C\nlab_items: [a]\nmode: practice\n")
    with pytest.raises(DefinitionError, match="field 'labs': is missing"):
        read("id: c\ntitle: C\nlab_items: [a]\nmode: practice\n")


_MODES = st.sampled_from(["practice", "assessed"])
_DEADLINES = st.sampled_from(["2026-11-25 14:30", "2026-11-26"])
_OWN = st.fixed_dictionaries(
    {},
    optional={
        "mode": _MODES,
        "weight": st.sampled_from(["2", "0.5"]),
        "opens": st.sampled_from(["2026-11-25 13:00", "2026-11-25"]),
        "deadline": _DEADLINES,
    },
)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.none() | _OWN, min_size=1, max_size=4), _MODES, st.none() | _DEADLINES)
def test_what_a_lab_leaves_out_the_class_says(
    labs: list[dict[str, str] | None], mode: str, deadline: str | None
) -> None:
    def alone(**said: str) -> ClassFields:
        """A class of one lab, in which the class itself says everything."""
        lines = "".join(f"{name}: {value}\n" for name, value in said.items())
        return read(f"id: c\ntitle: C\nlabs: [lab-a]\ntime_zone: UTC\n{lines}")

    text = f"id: c\ntitle: C\nmode: {mode}\ntime_zone: UTC\n"
    text += f"deadline: {deadline}\n" if deadline else ""
    text += "labs:\n"
    for number, own in enumerate(labs):
        rules = "".join(f", {name}: {value}" for name, value in (own or {}).items())
        text += f"- lab-{number}\n" if own is None else f"- {{lab: lab-{number}{rules}}}\n"
    fields = read(text)
    assert fields.labs == [f"lab-{number}" for number in range(len(labs))]
    for lab, own in zip(fields.labs, labs, strict=True):
        said = {"mode": mode, **({"deadline": deadline} if deadline else {}), **(own or {})}
        opens = said.pop("opens", None)
        weight = said.pop("weight", "1")
        same = alone(**said, weights=f"{{lab-a: {weight}}}")
        assert fields.mode_of(lab) == same.mode
        assert fields.practice(lab) == (same.mode == "practice")
        assert fields.deadline_of(lab) == same.deadline
        assert fields.weight(lab) == same.weight("lab-a")
        assert (fields.opens_of(lab) is None) == (opens is None)


def test_a_class_of_plain_ids_is_what_it_was() -> None:
    fields = read("id: c\ntitle: C\nlabs: [a, b]\nmode: assessed\ndeadline: 2026-11-25 10:00Z\n")
    assert fields.labs == ["a", "b"]
    for lab in fields.labs:
        assert (fields.mode_of(lab), fields.deadline_of(lab)) == (fields.mode, fields.deadline)
        assert (fields.opens_of(lab), fields.weight(lab)) == (None, 1)


def test_the_readmes_examples_are_right() -> None:
    text = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    whole, labs = (
        dedent(block) for block in re.findall(r"   ```yaml\n(.*?)   ```", text, re.DOTALL)
    )
    assert read(whole).labs == ["plan-the-trunk"]
    both = read(re.sub(r"labs: .*\n", lambda _: labs, whole, count=1))
    assert [both.mode_of(lab) for lab in both.labs] == ["practice", "assessed"]
    assert both.spoken(both.opens_of("acceptance") or "") == "27 November 2026 13:00 UTC+03:00"
