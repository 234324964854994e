"""A table that cannot be read takes no more along than what needs it."""

from __future__ import annotations

from pathlib import Path

import pytest
from written_lab import TEXT, Author, author_at

CABLES = "# source: invented for this test\nsize,capacity [A]\n1.5,10\n2.5,16\n"
BOXES = "# source: invented for this test\ntype,taps\nBox 1,4\nBox 2,6\n"
WITH_TABLES = (
    TEXT.replace("draw:\n", "tables: {cables: cables.csv, boxes: boxes.csv}\ndraw:\n")
    .replace("  taps: {from: 2, to: 9}\n", "  box: {row of: boxes, where: taps > 3}\n")
    .replace("let:\n", "let:\n  taps: box.taps\n  light: row_with(cables, 'size', 1.5)\n")
    .replace("What is 2 m and 3 m?", "What is 2 m and 3 m, for {{ light.capacity }} A?")
)
PICTURE = "# Taps\n\n```picture\n```\n"
SOUND = {"loop": "quantity", "taps": "quantity", "fixed": "quantity"}


def author_with(folder: Path, text: str = WITH_TABLES) -> Author:
    author = author_at(folder)
    author.file.with_name("cables.csv").write_text(CABLES, "utf-8")
    author.file.with_name("boxes.csv").write_text(BOXES, "utf-8")
    author.write(text)
    assert author.kinds == SOUND
    assert author.now["problems"] == []
    return author


def saved_table(author: Author, name: str, text: str) -> None:
    author.file.with_name(name).write_text(text, "utf-8")
    assert author.previewed.watched.changed()
    author.previewed.read_again()


def test_what_does_not_use_a_broken_table_is_shown(tmp_path: Path) -> None:
    author = author_with(tmp_path)
    saved_table(author, "boxes.csv", BOXES.replace("2,6", "2,=3+3"))
    assert author.kinds == {**SOUND, "taps": "card"}
    assert not author.now["old"]
    (problem,) = author.now["problems"]
    assert problem["where"] == "small/boxes.csv, line 4"
    assert problem["source"] == "Box 2,=3+3"
    assert problem["exercise"] == "taps"
    assert author.previewed.desk.shown("taps")["problems"] == [problem]
    assert not author.previewed.readable
    saved_table(author, "boxes.csv", BOXES)
    assert author.kinds == SOUND
    assert author.now["problems"] == []


def test_a_row_looked_up_in_a_broken_table_is_missed_where_it_is_shown(tmp_path: Path) -> None:
    author = author_with(tmp_path)
    saved_table(author, "cables.csv", CABLES.replace("# source", "# sauce"))
    assert author.kinds == {**SOUND, "fixed": "card"}
    assert [each["where"] for each in author.now["problems"]] == ["small/cables.csv, line 1"]


def test_of_a_sheet_no_line_is_shown(tmp_path: Path) -> None:
    author = author_with(tmp_path)
    saved_table(author, "boxes.csv", "PK\x03\x04\0\0")
    (problem,) = author.now["problems"]
    assert (problem["where"], problem["source"]) == ("small/boxes.csv, line 1", "")


def test_a_table_that_is_not_there_is_told_where_it_is_named(tmp_path: Path) -> None:
    author = author_with(tmp_path)
    author.save("boxes: boxes.csv", "boxes: bottles.csv")
    assert author.kinds == {**SOUND, "taps": "card"}
    (problem,) = author.now["problems"]
    assert "bottles.csv" in problem["source"]


@pytest.mark.parametrize("rule", ["taps > 3", "boxes | length > 1", "cut > 0"])
def test_a_rule_that_needs_a_broken_table_holds_nothing_up(tmp_path: Path, rule: str) -> None:
    ruled = f"valid:\n  - {{rule: {rule}, because: so}}\nlet:\n  cut: 9 - box.taps\n"
    author = author_with(tmp_path, WITH_TABLES.replace("let:\n", ruled))
    saved_table(author, "boxes.csv", "")
    assert author.kinds == {**SOUND, "taps": "card"}
    assert len(author.now["problems"]) == 1


def test_a_network_that_needs_a_broken_table_takes_no_other_exercise_along(tmp_path: Path) -> None:
    network = """\
network:
  family: devicenet
  rate: 125
  trunk: [{cable: thick, length: 20 + box.taps}]
  taps: {at: "[5]", drop: "[1]", device: "['Alder 1']", current: "[0.5]"}
let:
"""
    text = WITH_TABLES.replace("let:\n", network).replace("# Taps\n", PICTURE)
    text = text.replace("answer: both_ways", "answer: longest_distance(network)")
    author = author_with(tmp_path, text)
    assert author.opened["sheet"]["picture"]
    saved_table(author, "boxes.csv", "")
    assert author.kinds == {"loop": "card", "taps": "card", "fixed": "quantity"}
    assert author.opened["sheet"]["picture"] == ""
    assert len(author.now["problems"]) == 1
    assert b"The same in every draw" in author.previewed.paper(solved=False)


def test_both_tables_and_an_exercise_are_told_at_once(tmp_path: Path) -> None:
    author = author_with(tmp_path)
    saved_table(author, "boxes.csv", "")
    saved_table(author, "cables.csv", "")
    author.save("answer: both_ways", "answer: both_wyas")
    assert set(author.kinds.values()) == {"card"}
    assert [each["exercise"] for each in author.now["problems"]] == ["loop", "taps", "fixed"]
