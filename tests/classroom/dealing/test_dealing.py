"""Dealing is repeatable, fair and safe: nobody's numbers ever change once they are out."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom import class_folder
from labkit.classroom.dealing import deal as dealing
from labkit.classroom.dealing.seeds import seed_of
from labkit.classroom.errors import ClassError
from labkit.exchange import whole_file
from labkit.exchange.journal import ANSWER, Journal
from labkit.lab.definition import Lab
from labkit.lab.reading import read_lab


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in sorted(folder.rglob("*"))
        if file.is_file()
    }


class PulledPlugError(BaseException):
    """The machine goes off: nothing after it runs."""


def deal_cut_after(room: Room, workbooks: int, monkeypatch: pytest.MonkeyPatch) -> None:
    written = 0
    write = dealing._write

    def cut(*args: object) -> None:
        nonlocal written
        if written == workbooks:
            raise PulledPlugError
        written += 1
        write(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(dealing, "_write", cut)
    with pytest.raises(PulledPlugError):
        room.deal()
    monkeypatch.undo()


def test_the_same_secret_deals_the_same_bytes(room: Room) -> None:
    first = bytes_of(room.path / "workbooks")
    assert len(first) == 9
    for file in (*first, "../deal.json"):
        (room.path / "workbooks" / file).unlink()
    # Without a record the secret alone decides; `make` only makes one where there is none.
    assert room.deal().new == 3
    assert bytes_of(room.path / "workbooks") == first


def test_another_secret_deals_other_numbers(make_room: MakeRoom) -> None:
    made = make_room(*(f"t{n}" for n in range(20)))
    made.deal()
    before = [item.fingerprint for item in made.dealt.dealt]
    (made.path / "deal.json").unlink()
    (made.path / "class-secret.txt").unlink()
    made.deal()
    assert not set(before) & {item.fingerprint for item in made.dealt.dealt}


def test_everyone_gets_other_numbers_even_when_draws_collide(make_room: MakeRoom) -> None:
    made = make_room(*(f"t{n}" for n in range(9)), last=10)
    made.deal()
    numbers = {made.number(f"t{n}") for n in range(9)}
    assert len(numbers) == 9
    assert numbers <= set(range(1, 11))
    assert max(item.variant for item in made.dealt.dealt) > 0


def test_too_few_scenarios_for_a_class_are_said(make_room: MakeRoom) -> None:
    made = make_room(*(f"t{n}" for n in range(4)), last=3)
    with pytest.raises(ClassError, match="too few different scenarios"):
        made.deal()


@pytest.mark.parametrize("place", [0, 1, 3])
def test_a_late_trainee_changes_nobody_elses_bytes(make_room: MakeRoom, place: int) -> None:
    made = make_room("t0", "t1", "t2", last=5)
    made.deal()
    before = bytes_of(made.path / "workbooks")
    people = ["t0", "t1", "t2"]
    people.insert(place, "late")
    made.write_roster(*people)
    result = made.deal()
    assert (result.new, result.kept) == (1, 3)
    after = bytes_of(made.path / "workbooks")
    assert {name: data for name, data in after.items() if not name.startswith("late")} == before
    assert len({made.number(person) for person in people}) == 4


def test_dealing_again_leaves_workbooks_and_answers_alone(room: Room) -> None:
    home = room.home("ann")
    Journal(home / "tiny.answers.jsonl").append(ANSWER, exercise="double", answer="4 m")
    (home / "tiny.ipynb").write_text("ann's own notes")
    before = bytes_of(home)
    result = room.deal()
    assert (result.new, result.kept) == (0, 3)
    assert bytes_of(home) == before


def test_a_lost_workbook_comes_back_with_its_old_numbers(room: Room) -> None:
    home = room.home("ben")
    Journal(home / "tiny.answers.jsonl").append(ANSWER, exercise="double", answer="4 m")
    before = bytes_of(home)
    for name in ("tiny.ipynb", "tiny.task.json"):
        (home / name).unlink()
        assert room.deal().new == 0
        assert bytes_of(home) == before


def test_a_lost_task_file_comes_back_and_costs_no_notes(room: Room) -> None:
    home = room.home("ben")
    task = (home / "tiny.task.json").read_bytes()
    (home / "tiny.ipynb").write_text("ben's own notes")
    (home / "tiny.task.json").unlink()
    room.deal()
    assert (home / "tiny.task.json").read_bytes() == task
    assert (home / "tiny.ipynb").read_text() == "ben's own notes"


@pytest.mark.parametrize("done", [0, 1, 3, 5])
def test_a_deal_that_was_cut_short_goes_on_with_the_same_numbers(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch, done: int
) -> None:
    made = make_room(*(f"t{n}" for n in range(6)), last=8)
    deal_cut_after(made, done, monkeypatch)
    before = bytes_of(made.path / "workbooks")
    assert len(before) == 3 * done
    # Somebody new comes before the others meanwhile, and draws from the same few numbers.
    people = ["first", *(f"t{n}" for n in range(6))]
    made.write_roster(*people)
    made.deal()
    after = bytes_of(made.path / "workbooks")
    assert {name: after[name] for name in before} == before
    assert len({made.number(person) for person in people}) == 7
    assert not (made.path / "deal-unfinished.jsonl").exists()


def test_a_torn_last_line_of_an_unfinished_deal_is_dealt_again(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_room("t0", "t1", "t2")
    deal_cut_after(made, 2, monkeypatch)
    log = made.path / "deal-unfinished.jsonl"
    assert log.read_bytes().count(b"\n") == 3
    log.write_bytes(log.read_bytes()[:-20])
    assert [item.trainee for item in made.dealt.dealt] == ["t0", "t1"]
    assert made.deal().new == 1
    assert len({made.number(f"t{n}") for n in range(3)}) == 3


def test_what_an_unfinished_deal_gave_out_can_be_scored(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    from labkit.classroom.marks.scoring import score

    made = make_room("t0", "t1", "t2")
    deal_cut_after(made, 2, monkeypatch)
    made.hand_in("t0")
    assert score(made.folder).results[0].earned == 8


def test_half_a_workbook_never_stands_under_its_name(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_room("t0", "t1")
    whole = whole_file.writing_whole

    @contextmanager
    def torn(target: Path, **options: Any) -> Iterator[BinaryIO]:
        with whole(target, **options) as stream:
            if target.name == "tiny.ipynb":
                stream.write(b"half")
                stream.flush()
                raise PulledPlugError
            yield stream

    monkeypatch.setattr(whole_file, "writing_whole", torn)
    with pytest.raises(PulledPlugError):
        made.deal()
    monkeypatch.undo()
    made.deal()
    for trainee in ("t0", "t1"):
        assert json.loads((made.home(trainee) / "tiny.ipynb").read_bytes())["nbformat"] == 4


def test_a_line_of_the_record_is_on_the_disk_before_its_workbook(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    made, sync, write = make_room("t0", "t1"), os.fsync, dealing._write
    sizes: dict[int, int] = {}
    kept: list[int] = []

    def synced(descriptor: int) -> None:
        sync(descriptor)
        there = os.fstat(descriptor)
        sizes[there.st_ino] = there.st_size

    def written(*args: object) -> None:
        there = made.folder.deal_log.stat()
        assert sizes[there.st_ino] == there.st_size
        kept.append(made.folder.deal_log.read_bytes().count(b"\n"))
        write(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(dealing, "_write", written)
    made.deal()
    assert kept == [1, 2]


def test_a_definition_that_was_changed_after_dealing_is_refused(room: Room) -> None:
    file = room.path / "labs" / "tiny" / "lab.md"
    file.write_text(file.read_text() + "\nOne more line.\n")
    with pytest.raises(ClassError, match="changed after it was dealt"):
        room.deal()


def test_the_class_keeps_its_own_copy_of_the_definition(room: Room) -> None:
    (room.library / "tiny" / "lab.md").write_text("---\nnonsense\n")
    assert room.deal().kept == 3


def test_another_secret_or_class_id_than_dealt_with_is_refused(room: Room) -> None:
    secret = room.path / "class-secret.txt"
    old = secret.read_text()
    secret.write_text("0" * 64 + "\n")
    with pytest.raises(ClassError, match=r"another class-secret\.txt or another 'id'"):
        room.deal()
    secret.write_text(old)
    room.write_class(id="room-8")
    with pytest.raises(ClassError, match=r"another class-secret\.txt or another 'id'"):
        room.deal()


def test_numbers_that_come_out_otherwise_are_not_used(room: Room) -> None:
    file = room.path / "deal.json"
    record = json.loads(file.read_bytes())
    record["dealt"][0]["variant"] += 1
    file.write_text(json.dumps(record))
    (room.home("ann") / "tiny.ipynb").unlink()
    with pytest.raises(ClassError, match="do not come out as they were"):
        room.deal()


def test_a_lab_taken_out_of_the_class_keeps_what_was_dealt(room: Room) -> None:
    other = room.library / "other"
    other.mkdir()
    text = (room.library / "tiny" / "lab.md").read_text().replace("id: tiny", "id: other", 1)
    (other / "lab.md").write_text(text)
    room.write_class(labs="[other]")
    assert room.deal().new == 3
    assert set(room.dealt.labs) == {"tiny", "other"}
    assert len(room.dealt.dealt) == 6


@pytest.mark.parametrize(
    "damage", ["", "{", "[]", '{"format": "x"}', '{"format": "labkit deal", "labs": {}}']
)
def test_a_damaged_record_is_said(room: Room, damage: str) -> None:
    (room.path / "deal.json").write_text(damage)
    with pytest.raises(ClassError, match=r"deal\.json is damaged"):
        room.deal()


def test_a_record_with_a_part_of_another_type_is_damaged(room: Room) -> None:
    file = room.path / "deal.json"
    record = json.loads(file.read_bytes())
    for name in record["dealt"][0]:
        spoilt = json.loads(file.read_bytes())
        spoilt["dealt"][0][name] = [None]
        (room.path / "deal.json").write_text(json.dumps(spoilt))
        with pytest.raises(ClassError, match="damaged"):
            room.dealt  # noqa: B018
        file.write_text(json.dumps(record))


@pytest.mark.parametrize("mode", ["practice", "assessed"])
def test_no_secret_and_no_seed_is_in_what_trainees_get(make_room: MakeRoom, mode: str) -> None:
    made = make_room(mode=mode)
    made.deal()
    secret = made.folder.secret()
    seeds = [seed_of(secret, "room-7", "tiny", t, 0) for t in ("ann", "ben", "cy")]
    for data in bytes_of(made.path / "workbooks").values():
        assert not any(word.encode() in data for word in (secret, *seeds))
        assert not re.search(rb'"(seed|variant|drawn|fingerprint)"', data)


def test_a_name_cannot_work_as_markdown_or_code_in_a_workbook(make_room: MakeRoom) -> None:
    made = make_room("x,<script>alert(1)</script> ![i](http://a.b/c) `\"'")
    made.deal()
    notebook = json.loads((made.home("x") / "tiny.ipynb").read_bytes())
    from markdown_it import MarkdownIt

    opening = MarkdownIt().render(notebook["cells"][0]["source"])
    assert "<script" not in opening
    assert "<img" not in opening
    code = [cell["source"] for cell in notebook["cells"] if cell["cell_type"] == "code"]
    assert not any("alert" in source for source in code)


def test_progress_counts_to_the_end(make_room: MakeRoom) -> None:
    made, steps = make_room("t0", "t1"), []
    dealing.deal(made.folder, made.library, lambda done, total: steps.append((done, total)))
    assert steps == [(1, 2), (2, 2)]


def test_a_lab_is_read_once_where_something_is_dealt_and_never_where_nothing_is(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[Path] = []

    def counted(path: Path, *, dealt: bool = False) -> Lab:
        read.append(path)
        return read_lab(path, dealt=dealt)

    monkeypatch.setattr(class_folder, "read_lab", counted)
    made = make_room("t1", "t2")
    made.deal()
    assert len(read) == 1
    made.deal()
    assert len(read) == 1
    (made.home("t1") / "tiny.ipynb").unlink()
    made.deal()
    assert len(read) == 2
