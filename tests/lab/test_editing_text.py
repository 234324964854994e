"""A definition's text changed by form: what is not changed stays to the byte."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.lab.editing.block import UnwritableError, changed, fresh
from labkit.lab.editing.file_text import FileText, NoSuchPlaceError, OtherwiseReadError
from labkit.lab.editing.filled_form import NoFormError, names_of, values_of, wanted_of
from labkit.lab.editing.shape import shape_of
from labkit.lab.editing.wanted import Row, Wanted, Written, same
from labkit.lab.library import lab_library
from labkit.lab.reading.source import read_fields

OWN = Path(__file__).with_name("labs")
LABS = [*sorted(lab_library().glob("*/lab.md")), *sorted(OWN.glob("*/lab.md"))]
ENDS = ("\n", "\r\n", "\r")
HARD = 'It\'s a: "#1" {x}, - y'
LONG = "A question of many words, which has no room in one line of the file. " * 3


@dataclass(frozen=True)
class Shown:
    """An exercise of a lab, and its form."""

    text: FileText
    at: int
    kind: str
    data: dict[str, Any]
    fields: str

    @property
    def values(self) -> dict[str, Any]:
        """As a page gets them, in JSON."""
        return dict(json.loads(json.dumps(values_of(self.fields, shape_of(self.kind)))))

    def written(self, values: dict[str, Any]) -> str:
        """The block's lines with these values."""
        shape = shape_of(self.kind)
        wanted = wanted_of(values, shape, self.kind, self.data)
        return changed(self.fields, wanted, names_of(shape))


@cache
def text_of(file: Path) -> FileText:
    return FileText.of(file.read_bytes().decode(), "lab.md")


def shown(text: FileText) -> Iterator[Shown]:
    for at, piece in enumerate(text.pieces):
        if piece.exercise and piece.block:
            data = piece.block.fields.data
            yield Shown(text, at, data["kind"], data, text.fields_of(at))


def shown_in(text: str) -> Shown:
    return next(shown(FileText.of(f"---\nid: x\n---\n\n```exercise one\n{text}```\n", "lab.md")))


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to each text of a form."""
    if isinstance(value, str):
        yield path
    elif isinstance(value, list):
        for number, row in enumerate(value):
            yield from leaves(row["now"], (*path, number, "now"))
    elif value.keys() != {"lines"}:
        for name, inner in value.items():
            yield from leaves(inner, (*path, name))


def put(value: Any, path: tuple[Any, ...], now: Any) -> None:
    for step in path[:-1]:
        value = value[step]
    value[path[-1]] = now


def got(value: Any, path: tuple[Any, ...]) -> Any:
    for step in path:
        value = value[step]
    return value


@pytest.mark.parametrize("file", LABS, ids=lambda file: file.parent.name)
def test_a_form_that_is_not_changed_changes_nothing(file: Path) -> None:
    text = text_of(file)
    for each in shown(text):
        assert text.changed(each.at, each.written(each.values)) == text.raw


@pytest.mark.parametrize("file", LABS, ids=lambda file: file.parent.name)
def test_one_text_changed_changes_its_own_lines_alone(file: Path) -> None:
    for number, each in enumerate(shown(text_of(file))):
        every = [*leaves(each.values)]
        path = every[number * 7 % len(every)]
        for now in (HARD, "two\nlines: here", LONG):
            values = each.values
            put(values, path, now)
            new = each.written(values)
            # Blank lines stand in long texts: they go and come with these.
            top = [line for line in each.fields.splitlines() if line[:1] not in ("", " ", "-", "}")]
            own = next(line for line in top if line.startswith(f"{path[0]}:"))
            assert [line for line in new.splitlines() if line in top and line != own] == [
                line for line in top if line != own
            ]
            now_read = values_of(new, shape_of(each.kind))
            assert got(now_read, path).strip() == now.strip()
            put(now_read, path, got(each.values, path))
            assert json.loads(json.dumps(now_read)) == each.values


@pytest.mark.parametrize("file", LABS, ids=lambda file: file.parent.name)
def test_what_is_moved_back_stands_as_before(file: Path) -> None:
    text = text_of(file)
    for number, each in enumerate(shown(text)):
        if number % 4:
            continue
        raw = text.raw.replace("\n", ENDS[number // 4 % 3])
        there = FileText.of(raw, "lab.md")
        after = (-1, 2, len(there.pieces) - 1)[number % 3]
        if after in (each.at, each.at - 1):
            continue
        moved = FileText.of(there.moved(each.at, after), "lab.md")
        name = there.pieces[each.at].exercise
        there.stays_but(name, moved, each.fields)
        before = each.at if after < each.at else each.at - 1
        assert moved.moved(moved.place_of(name), before if each.at else -1) == raw


@pytest.mark.parametrize("end", ENDS)
def test_line_ends_stay_as_they_are(end: str) -> None:
    text = text_of(LABS[0])
    raw = "\ufeff" + text.raw.replace("\n", end)
    there = FileText.of(raw, "lab.md")
    each = next(shown(there))
    values = each.values
    values["title"] = "Another title"
    new = there.changed(each.at, each.written(values))
    old = each.values["title"]
    assert new == raw.replace(f"title: {old}{end}", f"title: Another title{end}")
    assert there.copied(each.at, "again").count(end) > raw.count(end)
    assert "\n" not in there.added(-1, "new", "kind: x\n").replace("\r\n", "").replace(end, "")


def test_mixed_line_ends_stay_where_their_lines_stay() -> None:
    raw = (
        "---\r\nid: x\n---\r\n\r\nText.\r```exercise one\nkind: k\r\ntitle: a\nmarks: 1\r\n```\r\n"
    )
    text = FileText.of(raw, "lab.md")
    new = text.changed(text.place_of("one"), "kind: k\ntitle: b\nmarks: 1\n")
    assert new == raw.replace("title: a\n", "title: b\r\n")


SPECIAL = "'\"#:-?!&*{}[],|>%@`\\\n \t~=é€ä“”\u2028\x85\x07"
SIGNS = st.text(
    st.one_of(st.sampled_from(list(SPECIAL)), st.characters(codec="utf-8")), max_size=30
)
BEFORE = """\
kind: k  # note
title: '1'
list: [a, b]
group: {inner: a}
rows:
  - {id: a, text: b}
  # note
  - text: c
"""


@given(SIGNS, SIGNS, SIGNS)
def test_any_text_is_read_back_as_it_was_typed(one: str, two: str, three: str) -> None:
    rows = [Row(None, {"id": one, "text": two}), Row(None, {"text": three})]
    wanted: dict[str, Wanted] = {
        "kind": "k",
        "title": one,
        "list": [Row(None, two), Row(None, three)],
        "group": {"inner": three},
        "rows": rows,
    }
    text = fresh(wanted, ["kind"])
    assert same(read_fields(text, "", 1).data, wanted)
    wanted["list"] = [Row(0, two), Row(1, three)]
    wanted["rows"] = [Row(0, {"id": one, "text": two}), Row(1, {"text": three})]
    text = changed(BEFORE, wanted, ["kind"])
    assert same(read_fields(text, "", 1).data, wanted)
    assert text.count("# note") >= 2


FIRST = """\
  # the right one
  - id: a
    text: A    # first
    tell: No.
"""
OPTIONS = """\
kind: choice
title: Which  # the short one
question: "Which?"
answer: '"a"'
options:
  # the right one
  - id: a
    text: A    # first
    tell: No.
  # the wrong one
  - {id: b, text: B, tell: 'No, no.'}
# what it is worth
marks: 1
hints: [{text: Think., costs: 0.5}]
working: >
  As it
  stands.
"""


def test_rows_move_with_their_notes_and_come_in_the_style_of_others() -> None:
    each = shown_in(OPTIONS)
    values = each.values
    first, second = values["options"]
    values["options"] = [second, first]
    without = OPTIONS.replace(FIRST, "")
    last = "tell: 'No, no.'}\n"
    assert each.written(values) == without.replace(last, last + FIRST)
    new = {"was": None, "now": {"id": "c", "text": "C", "tell": "a: b"}}
    values["options"] = [first, second, new]
    added = "  - {id: c, text: C, tell: 'a: b'}\n"
    assert each.written(values) == OPTIONS.replace(last, last + added)
    values["options"] = [second]
    assert each.written(values) == without
    values = each.values
    values["hints"].append({"was": None, "now": {"text": "Think, again.", "costs": ""}})
    line = "hints: [{text: Think., costs: 0.5}, {text: 'Think, again.'}]"
    assert each.written(values) == OPTIONS.replace("hints: [{text: Think., costs: 0.5}]", line)


def test_fields_come_and_go_as_lines_of_their_own() -> None:
    each = shown_in(OPTIONS)
    values = each.values
    values["hints"] = None
    assert each.written(values) == OPTIONS.replace("hints: [{text: Think., costs: 0.5}]\n", "")
    values["accepted"] = [{"was": None, "now": {"finding": "guessable", "because": "so", "of": ""}}]
    last = "accepted:\n  - finding: guessable\n    because: so\n"
    assert each.written(values).endswith(f"  As it\n  stands.\n{last}")
    empty = shown_in("kind: quantity\ntitle: a\ntolerance: ''\nmarks: 1\n")
    assert empty.written(empty.values) == empty.fields
    quantity = shown_in("kind: quantity\ntitle: a\nunit: ''\nmarks: 1\n")
    values = quantity.values
    assert quantity.written(values) == quantity.fields  # an empty unit is one too
    values |= {"tolerance": "1 %", "answer": "a + 1", "question": "", "decimals": ""}
    new = "title: a\nquestion: ''\nanswer: a + 1\nunit: ''\ntolerance: 1 %\n"
    assert quantity.written(values) == f"kind: quantity\n{new}marks: 1\n"


def test_a_field_of_no_kind_and_of_another_form_are_shown_as_they_are_written() -> None:
    each = shown_in("kind: choice\ntitle: [a, b]\nanswr: '1'\noptions: none\n")
    assert each.values == {
        "title": {"lines": "[a, b]"},
        "answr": {"lines": "'1'"},
        "options": {"lines": "none"},
    }
    values = each.values
    values["answr"] = {"lines": ""}
    values["title"] = {"lines": "[a, c]"}
    assert each.written(values) == "kind: choice\ntitle: [a, c]\noptions: none\n"


@pytest.mark.parametrize(
    ("lines", "stands"),
    [
        ("- [a, b]", "any order:\n  - [a, b]\n"),
        ("[[a, b]]", "any order: [[a, b]]\n"),
        ("- - a\n  - b", "any order:\n  - - a\n    - b\n"),
    ],
)
def test_lines_stand_where_they_are_read(lines: str, stands: str) -> None:
    each = shown_in("kind: sequence\ntitle: a\n")
    assert each.written({**each.values, "any order": {"lines": lines}}).endswith(stands)
    assert Written(lines).data == [["a", "b"]]


def test_what_has_no_room_between_braces_is_written_below() -> None:
    """The whole field is written anew, and no other."""
    each = shown_in("kind: table  # note\nrows: [{cells: [a, {answer: b}]}]\n")
    values = each.values
    values["rows"][0]["now"]["cells"] = {"lines": "- 'a  b'\n- answer: c"}
    assert each.written(values) == (
        "kind: table  # note\nrows:\n  - cells:\n      - 'a  b'\n      - answer: c\n"
    )


def test_lines_that_cannot_be_read_are_not_written() -> None:
    each = shown_in("kind: sequence\ntitle: a\n")
    with pytest.raises(UnwritableError, match="reads as you typed it"):
        each.written({**each.values, "any order": {"lines": "- [a, b"}})
    with pytest.raises(UnwritableError, match="reads as you typed it"):
        fresh({"kind": "k", "any order": Written("- [a, b")}, ["kind"])


def test_what_would_change_other_parts_is_told() -> None:
    text = text_of(LABS[0])
    each = next(shown(text))
    name = text.pieces[each.at].exercise
    for fields in (f"{each.fields}```\n\nMore text.\n", each.fields.replace("title", "```\ntitle")):
        new = FileText.of(text.changed(each.at, fields), "lab.md")
        with pytest.raises(OtherwiseReadError):
            text.stays_but(name, new, fields)


@pytest.mark.parametrize(
    "said",
    [
        None,
        [],
        {"title": 1},
        {"title": ["a"]},
        {"title": {"lines": 1}},
        {"title": "\ud800"},
        {"options": [{"now": "a"}]},
        {"options": [{"was": 0, "now": "a"}]},
        {"options": {"a": "b"}},
        {"hints": [1]},
    ],
)
def test_any_json_is_read_or_refused(said: Any) -> None:
    with pytest.raises(NoFormError):
        wanted_of(said, shape_of("choice"), "choice", {})


def test_an_exercise_that_is_not_there_or_twice_is_told() -> None:
    block = "```exercise one\nkind: k\n```\n\n"
    text = FileText.of(f"---\nid: x\n---\n\n{block * 2}", "lab.md")
    with pytest.raises(NoSuchPlaceError, match="2 exercises 'one'"):
        text.place_of("one")
    with pytest.raises(NoSuchPlaceError, match="no exercise 'two'"):
        text.place_of("two")
    assert [piece.title for piece in text.exercises] == ["one", "one"]


@pytest.mark.parametrize("body", ["", "\n", "\n\nText.\n", "\nText.", "Text.\n"])
def test_the_first_exercise_of_a_file(body: str) -> None:
    raw = f"---\nid: x\n---\n{body}"
    text = FileText.of(raw, "lab.md")
    for after in range(-1, len(text.pieces)):
        new = FileText.of(text.added(after, "one", "kind: k\n"), "lab.md")
        assert new.fields_of(new.place_of("one")) == "kind: k\n"
        text.stays_but("one", new, "kind: k\n")
        assert new.place_of("one") == after + 1
        assert "\n\n\n\n" not in new.raw
