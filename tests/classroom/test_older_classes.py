"""A class keeps its marks: another labkit's rules change none until `rescore` is asked for it."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest
from read_once import read_anew
from tiny_class import Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.changes import Changes, Figure
from labkit.classroom.corrections.correcting import follow_rules
from labkit.classroom.dealing.deal import deal
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.kinds.quantity import read as quantity
from labkit.kinds.quantity.check import QuantityCheck
from labkit.lab import marking_rules

OLDER = Path(__file__).parents[1] / "version_0_1"

Change = Callable[[], None]


@pytest.fixture
def other_rules(monkeypatch: pytest.MonkeyPatch) -> Change:
    """Another labkit whose number of rules is higher."""
    return lambda: monkeypatch.setattr(marking_rules, "RULES", marking_rules.RULES + 1)


@pytest.fixture
def other_calculation(monkeypatch: pytest.MonkeyPatch) -> Iterator[Change]:
    """Another labkit that calculates otherwise, though nobody has raised its number of rules."""
    real = quantity.QuantityReader.read

    def read(self: Any, fields: Any, reader: Any) -> Any:
        prepare = real(self, fields, reader)

        def prepared(names: Any, stream: Any) -> Any:
            made = prepare(names, stream)
            made.early_key["value"] += 1
            return made

        return prepared

    def change() -> None:
        monkeypatch.setattr(quantity.QuantityReader, "read", read)
        read_anew()

    yield change
    read_anew()


@pytest.fixture(params=["other_rules", "other_calculation"])
def another_labkit(request: pytest.FixtureRequest) -> Change:
    change: Change = request.getfixturevalue(request.param)
    return change


def earned(room: Room) -> list[float]:
    return [result.earned for result in score(room.folder).results]


def worth(changes: Changes) -> list[tuple[str, object, object]]:
    def marks(figure: Figure) -> tuple[float, float]:
        return figure.earned, figure.possible

    return [(one.dealt.trainee, marks(one.before), marks(one.after)) for one in changes.results]


def test_marks_stay_and_nothing_new_is_marked_by_other_rules(
    room: Room, another_labkit: Change
) -> None:
    room.hand_in("ann")
    assert earned(room) == [8, 0, 0]
    another_labkit()
    assert earned(room) == [8, 0, 0], "scoring again changes nothing, and needs no marking"
    room.hand_in("ben")
    with pytest.raises(ClassError, match=r"no mark has changed.*rescore CLASS --rules"):
        score(room.folder)


def test_records_that_were_moved_away_are_not_made_anew_by_other_rules(
    room: Room, another_labkit: Change
) -> None:
    room.hand_in("ann")
    assert earned(room) == [8, 0, 0]
    (room.path / "records.sqlite").unlink()
    another_labkit()
    with pytest.raises(ClassError, match="no mark has changed"):
        score(room.folder)


def test_going_over_to_other_rules_is_an_entry_and_says_whose_marks_change(
    room: Room, other_calculation: Change
) -> None:
    room.hand_in("ann")
    room.hand_in("ben", {**room.right("ben"), "double": f"{2 * room.number('ben') + 1} m"})
    assert earned(room) == [8, 4, 0]
    other_calculation()
    files = sorted(room.path.rglob("*"))
    told = follow_rules(room.folder, reason="", by="R. Ops", dry_run=True)
    assert sorted(room.path.rglob("*")) == files
    assert earned(room) == [8, 4, 0]
    changes = follow_rules(room.folder, reason="the look-up was wrong", by="R. Ops")
    assert list(changes.sentences(1)) == list(told.sentences(1))
    assert worth(changes) == [("ann", (8, 8), (4, 8)), ("ben", (4, 8), (8, 8))]
    assert earned(room) == [4, 8, 0]
    room.hand_in("cy", {"double": f"{2 * room.number('cy') + 1} m"})
    assert earned(room) == [4, 8, 4]
    assert "already" in follow_rules(room.folder, reason="once more", by="R. Ops").already


def test_an_edition_that_was_changed_on_the_disk_is_not_used(
    room: Room, other_rules: Change
) -> None:
    room.hand_in("ann")
    assert earned(room) == [8, 0, 0]
    other_rules()
    assert worth(follow_rules(room.folder, reason="newer", by="R. Ops")) == []
    assert earned(room) == [8, 0, 0]
    (file,) = (room.path / "labs" / "tiny").glob("edition-*.json")
    file.write_bytes(file.read_bytes() + b" ")
    with pytest.raises(ClassError, match="was changed: bring it back"):
        score(room.folder)
    file.unlink()
    with pytest.raises(ClassError, match="missing"):
        score(room.folder)


def test_who_comes_late_is_not_dealt_by_other_rules_than_the_class(
    room: Room, other_rules: Change
) -> None:
    other_rules()
    room.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland", "di,Di Quarrow")
    with pytest.raises(ClassError, match="might judge an answer otherwise"):
        deal(room.folder, room.library)
    follow_rules(room.folder, reason="newer", by="R. Ops")
    assert deal(room.folder, room.library).new == 1
    room.hand_in("di")
    assert earned(room) == [0, 0, 0, 8]


def test_answers_are_judged_by_the_rules_number_where_only_a_check_changed(
    room: Room, other_rules: Change, monkeypatch: pytest.MonkeyPatch
) -> None:
    room.hand_in("ann")
    assert earned(room) == [8, 0, 0]
    other_rules()
    real = QuantityCheck.check

    def strict(self: Any, ask: Any, key: Any, answer: Any) -> Any:
        stricter: Any = {**key, "value": key["value"] + 3}
        return real(self, ask, stricter, answer)

    monkeypatch.setattr(QuantityCheck, "check", strict)
    assert earned(room) == [8, 0, 0]
    changes = follow_rules(room.folder, reason="stricter", by="R. Ops")
    assert worth(changes) == [("ann", (8, 8), (4, 8))]


def test_explaining_says_that_tries_are_judged_by_other_rules(
    room: Room, other_rules: Change
) -> None:
    room.hand_in("ann")
    assert earned(room) == [8, 0, 0]
    assert not any("Marked by the rules" in line for line in explain(room.folder, "ann"))
    dealt_by = marking_rules.RULES
    other_rules()
    told = f"Marked by the rules '{dealt_by}'"
    assert any(told in line for line in explain(room.folder, "ann"))


def _older(tmp_path: Path) -> Path:
    target = tmp_path / "demo-class"
    shutil.copytree(OLDER / "demo-class", target)
    return target


def _go_over(path: Path) -> None:
    """To the rules of this labkit, which read more notations: here they change no mark."""
    changes = follow_rules(ClassFolder.open(path), reason="more notations", by="R. Ops")
    assert worth(changes) == []


def test_a_class_of_version_0_1_goes_over_to_these_rules_without_another_mark(
    tmp_path: Path,
) -> None:
    path = _older(tmp_path)
    before = [result.earned for result in score(ClassFolder.open(path)).results]
    _go_over(path)
    assert [result.earned for result in score(ClassFolder.open(path)).results] == before


def test_pages_of_a_class_of_version_0_1_are_written_by_other_rules_too(
    tmp_path: Path, other_rules: Change
) -> None:
    other_rules()
    scoring = score(ClassFolder.open(_older(tmp_path)))
    assert sum(result.earned for result in scoring.results) > 100


@pytest.mark.parametrize("records", ["kept", "made anew"])
def test_a_class_of_version_0_1_keeps_every_mark(tmp_path: Path, records: str) -> None:
    path = _older(tmp_path)
    if records == "made anew":
        (path / "records.sqlite").unlink()
        with pytest.raises(ClassError, match="no mark has changed"):
            score(ClassFolder.open(path))
        _go_over(path)
    scoring = score(ClassFolder.open(path))
    known = (OLDER / "demo-class-score-sheet.csv").read_text(encoding="utf-8-sig")
    expected = {row["id"]: row for row in csv.DictReader(io.StringIO(known))}
    assert len(expected) == 12
    for result in scoring.results:
        row = expected[result.dealt.trainee]
        for mark in result.marks:
            column = f"{mark.number} {mark.exercise}"
            assert float(row[column]) == mark.earned, (result.dealt.trainee, column)


def test_the_deal_of_version_0_1_goes_on(tmp_path: Path) -> None:
    path = _older(tmp_path)
    roster = path / "roster.csv"
    roster.write_bytes(roster.read_bytes().rstrip() + b"\nt13,Nadja Orvell\n")
    before = orjson.loads((path / "deal.json").read_bytes())["dealt"]
    with pytest.raises(ClassError, match="might judge an answer otherwise"):
        deal(ClassFolder.open(path), path / "labs")
    _go_over(path)
    result = deal(ClassFolder.open(path), path / "labs")
    assert result.new == 1
    after = orjson.loads((path / "deal.json").read_bytes())["dealt"]
    assert [{name: item[name] for name in before[0]} for item in after[:12]] == before
