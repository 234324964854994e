"""A retake has new numbers and other answers; which attempt counts is the class file's word."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fair_class import FairRoom, MakeFairRoom, right_answers, right_here
from sqlalchemy import select

from labkit.classroom.dealing import deal as dealing
from labkit.classroom.dealing import deal_record
from labkit.classroom.dealing.deal_summary import deal_summary
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.printing import print_class
from labkit.classroom.handins.collecting import collect
from labkit.classroom.handins.retaking import attempts_of, retake
from labkit.classroom.marks.by_hand import give, to_mark
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.scoring import score
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.records.schema import marks, receipts
from labkit.classroom.records.store import Records
from labkit.desk.tables import score_table

SEATS = {"ann": "A1", "ben": "A2"}


@pytest.fixture
def retaken(make_fair_room: MakeFairRoom) -> FairRoom:
    """Ann has two retakes."""
    room = make_fair_room(SEATS)
    room.deal()
    room.again("ann")
    room.again("ann")
    return room


def earned(scoring: Scoring) -> dict[str, tuple[int, float]]:
    return {r.dealt.trainee: (r.dealt.attempt, r.earned) for r in scoring.results}


def test_a_retake_differs_from_every_earlier_attempt(retaken: FairRoom) -> None:
    bound = retaken.dealt.bounds["fair"].equal
    drawn = [retaken.scenario(retaken.item("ann", attempt)) for attempt in (1, 2, 3)]
    assert len({scenario.fingerprint for scenario in drawn}) == 3
    told = []
    for later, scenario in enumerate(drawn):
        for earlier in drawn[:later]:
            same = right_here(scenario, right_answers(earlier))
            same |= right_here(earlier, right_answers(scenario))
            told.append(len(same | {"parity"}))
    assert max(told) <= bound
    found = (*retaken.item("ann", 2).equal_before, *retaken.item("ann", 3).equal_before)
    assert found == tuple(told)
    assert "between a retake and an earlier attempt" in list(deal_summary(retaken.dealt))[-1]
    hard = [scenario.difficulty for scenario in drawn]
    assert all(retaken.dealt.bounds["fair"].takes(value) for value in hard)


def test_file_names_tell_the_attempt(retaken: FairRoom) -> None:
    home = retaken.home("ann")
    assert (home / "fair.ipynb").exists()
    second = home / "attempt-2"
    names = {file.name for file in second.iterdir()}
    endings = (".ipynb", ".task.json", ".drills.json")
    assert names == {f"fair--attempt-2{ending}" for ending in endings}
    opening = json.loads((second / "fair--attempt-2.ipynb").read_bytes())["cells"][0]["source"]
    assert opening.startswith("# Fair lab, attempt 2\n")
    assert retaken.answer("ann", 1, 1).name == "fair--ann.handin.json"
    assert retaken.answer("ann", 2, 1).name == "fair--ann,attempt-2.handin.json"


def test_nobody_elses_workbook_changes_and_nothing_is_dealt_twice(retaken: FairRoom) -> None:
    before = {f: f.read_bytes() for f in retaken.path.rglob("*") if f.is_file()}
    result = retaken.deal()
    assert (result.new, result.kept) == (0, 4)
    assert {f: f.read_bytes() for f in retaken.path.rglob("*") if f.is_file()} == before


def test_a_lost_retake_comes_back_with_its_numbers(retaken: FairRoom) -> None:
    home = retaken.home("ann") / "attempt-2"
    before = {file: file.read_bytes() for file in home.iterdir()}
    for file in before:
        file.unlink()
    home.rmdir()
    retaken.deal()
    assert {file: file.read_bytes() for file in home.iterdir()} == before


def test_a_retake_that_was_cut_short_is_finished_not_followed_by_another(
    make_fair_room: MakeFairRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = make_fair_room(SEATS)
    room.deal()
    write_deal = deal_record.write_deal
    for name in ("_write", "write_deal"):

        def pulled(*arguments: Any, name: str = name) -> None:
            if name == "_write" or (room.home("ann") / "attempt-2").exists():
                raise KeyboardInterrupt
            write_deal(*arguments)

        monkeypatch.setattr(dealing, name, pulled)
        with pytest.raises(KeyboardInterrupt):
            room.again("ann")
        monkeypatch.undo()
    room.again("ann")
    assert [item.attempt for item in room.dealt.dealt if item.trainee == "ann"] == [1, 2]
    room.again("ann")
    assert room.item("ann", 3).workbook != room.item("ann", 2).workbook


@pytest.mark.parametrize(
    ("who", "lab", "sentence"),
    [
        ("ann", "fair", r"'attempts: 2' in class\.yaml allows no more"),
        ("anne", "fair", "Did you mean 'ann'"),
        ("ann", "fare", "'fare' is not one of the labs"),
        ("late", "fair", "was not dealt 'fair' yet"),
    ],
)
def test_what_cannot_be_retaken_is_said(
    make_fair_room: MakeFairRoom, who: str, lab: str, sentence: str
) -> None:
    room = make_fair_room(SEATS, attempts="2")
    room.deal()
    room.again("ann")
    room.seat({**SEATS, "late": "B1"})
    before = list(room.dealt.dealt)
    with pytest.raises(ClassError, match=sentence):
        dealing.deal_again(room.folder, room.library, [who], lab)
    assert list(room.dealt.dealt) == before


def test_who_has_used_up_the_attempts_is_not_dealt_a_retake_that_would_not_count(
    make_fair_room: MakeFairRoom,
) -> None:
    room = make_fair_room(SEATS, attempts="2")
    room.deal()
    assert not (room.path / "records.sqlite").exists()
    assert [attempts.made for attempts in attempts_of(room.folder)] == [0, 0]
    assert not (room.path / "records.sqlite").exists(), "looking has made no records"
    for right in (1, 0, 2):
        # Who answers nothing more has made no other attempt.
        file = room.answer("ann", 1, right)
        file.rename(file.with_name(f"{right}-{len(list(file.parent.iterdir()))}.json"))
    room.answer("ben", 1, 1)
    score(room.folder)
    told = {attempts.last.trainee: attempts for attempts in attempts_of(room.folder)}
    assert {who: (item.made, item.used_up) for who, item in told.items()} == {
        "ann": (2, True),
        "ben": (1, False),
    }
    before = list(room.dealt.dealt)
    for people in (["ann"], ["ben", "ann"]):
        with pytest.raises(ClassError, match=r"Name ann \(ann\) has made 2 of 2 attempt"):
            retake(room.folder, room.library, people)
    assert list(room.dealt.dealt) == before, "nobody is dealt a part of what was asked for"
    retake(room.folder, room.library, ["ben"], "fair")
    assert room.item("ben", 2)
    room.write_class(labs="[fair]", attempts="3")
    assert retake(room.folder, room.library, ["ann"]).new == 1


def test_attempts_with_earlier_workbooks_count_towards_those_allowed(
    make_fair_room: MakeFairRoom,
) -> None:
    room = make_fair_room(SEATS, attempts="3")
    room.deal()
    room.again("ann")
    room.answer("ann", 1, 1)
    for number, right in enumerate((1, 2)):
        file = room.answer("ann", 2, right)
        file.rename(file.with_name(f"{number}.json"))
    collect(room.folder)
    with pytest.raises(ClassError, match=r"has made 3 of 3 .* would not count"):
        retake(room.folder, room.library, ["ann"])
    assert [attempts.sentence for attempts in attempts_of(room.folder)] == [
        "Name ann (ann) has made 3 of 3 attempt(s) at 'fair'.",
        "Name ben (ben) has made 0 of 3 attempt(s) at 'fair'.",
    ]


@pytest.mark.parametrize(
    ("rule", "counts"), [("last", (3, 5.0)), ("best", (2, 9.0)), (None, (3, 5.0))]
)
def test_the_class_file_says_which_attempt_counts(
    make_fair_room: MakeFairRoom, rule: str | None, counts: tuple[int, float]
) -> None:
    room = make_fair_room(SEATS, **({"attempts_count": rule} if rule else {}))
    room.deal()
    room.again("ann")
    room.again("ann")
    # In another order than they were made in, as sticks come in.
    for attempt, right in ((3, 2), (1, 1), (2, 4)):
        room.answer("ann", attempt, right)
    scoring = score(room.folder)
    assert earned(scoring) == {"ann": counts, "ben": (1, 0.0)}
    assert len(scoring.results) == 2
    assert [one.dealt.trainee for one in scoring.results if not one.counts] == ["ben"]
    table = score_table(scoring)
    assert list(table["attempt"]) == [counts[0], 1]
    # Every attempt is in the records, with its marks.
    records = Records.of(room.folder)
    workbooks = {item.workbook for item in room.dealt.dealt if item.trainee == "ann"}
    assert {row["workbook"] for row in records.rows(select(marks))} == workbooks
    told = "\n".join(explain(room.folder, "ann"))
    assert [line for line in told.splitlines() if line.startswith("Attempt")] == [
        f"Attempt {n} of 3: {'it counts' if n == counts[0] else 'it does not count'}"
        for n in (1, 2, 3)
    ]


def test_of_equally_good_attempts_the_later_counts(make_fair_room: MakeFairRoom) -> None:
    room = make_fair_room(SEATS, attempts_count="best")
    room.deal()
    room.again("ann")
    for attempt in (1, 2):
        room.answer("ann", attempt, 2)
    assert earned(score(room.folder))["ann"] == (2, 5.0)


def test_a_mark_by_hand_can_make_another_attempt_the_best(make_fair_room: MakeFairRoom) -> None:
    room = make_fair_room(SEATS, attempts_count="best")
    room.deal()
    room.again("ann")
    for attempt in (1, 2):
        room.answer("ann", attempt, 2, ready=True)
    score(room.folder)
    assert [w.result.dealt.attempt for w in to_mark(room.folder).waiting] == [1, 2]
    # The one that counts first, then the one that still waits.
    for attempt in (2, 1):
        given = give(room.folder, "ann", "fair", "seen", ["1" if attempt == 1 else "0"], by="me")
        assert given.mark
        assert given.mark.earned == (1 if attempt == 1 else 0)
    assert to_mark(room.folder).waiting == ()
    assert earned(score(room.folder))["ann"] == (1, 6.0)


def test_hand_ins_of_all_workbooks_share_the_allowed_attempts(make_fair_room: MakeFairRoom) -> None:
    room = make_fair_room(SEATS, attempts="2")
    room.deal()
    room.again("ann")
    kept = room.path / "kept"
    kept.mkdir()
    for number, right in enumerate((1, 3)):
        room.answer("ann", 1, right).rename(kept / f"{number}.handin.json")
        _later(kept / f"{number}.handin.json", room, 1, number)
    for file in kept.iterdir():
        file.rename(room.path / "hand-ins" / file.name)
    room.answer("ann", 2, 5)
    scoring = score(room.folder)
    assert earned(scoring)["ann"][0] == 1
    told = [notice.reason for notice in scoring.notices if notice.reason != "clock"]
    assert told == ["older copy", "too many attempts"], "made on New Year's Day, as they say"
    room.write_class(labs="[fair]", attempts="3")
    assert earned(score(room.folder))["ann"][0] == 2


def _later(file: Path, room: FairRoom, attempt: int, hour: int) -> None:
    """Make a hand-in's moment another one, with the trainee's own key."""
    from labkit.classroom.dealing.seeds import signing_key
    from labkit.exchange.hand_in import signed_text
    from labkit.exchange.signing import sign

    content = json.loads(file.read_bytes())
    content["made_at"] = f"2026-01-01T1{hour}:00:00Z"
    key = signing_key(room.folder.secret(), room.item("ann", attempt).workbook)
    content["signature"] = sign(key, signed_text(content))
    file.write_text(json.dumps(content))


def test_who_was_dealt_a_retake_is_missing_until_it_comes_in(retaken: FairRoom) -> None:
    retaken.answer("ann", 1, 1)
    found = collect(retaken.folder).missing
    assert [(item.trainee, item.attempt) for item in found] == [("ann", 3), ("ben", 1)]
    retaken.answer("ann", 3, 1)
    assert [item.trainee for item in collect(retaken.folder).missing] == ["ben"]


def test_paper_is_of_the_last_attempt(retaken: FairRoom) -> None:
    first, _, last = (retaken.scenario(retaken.item("ann", n)).names["a"] for n in (1, 2, 3))
    pages = print_class(retaken.folder).each
    text = next(page for page in pages if page.stem == "ann").read_text()
    assert f"twice {last} m" in text
    assert f"twice {first} m" not in text


def test_a_person_is_handed_over_and_erased_with_all_attempts(retaken: FairRoom) -> None:
    for attempt in (1, 2, 3):
        retaken.answer("ann", attempt, 1)
    score(retaken.folder)
    held = held_of(retaken.folder, "ann")
    assert [item["attempt"] for item in held["deal"]] == [1, 2, 3]
    assert held["roster"] == [{"id": "ann", "name": "Name ann", "bench": "", "seat": "A1"}]
    erase(retaken.folder, "ann", reason="asked for it")
    assert not list((retaken.path / "hand-ins").iterdir())
    assert not retaken.home("ann").exists()
    assert [item.trainee for item in retaken.dealt.dealt] == ["ben"]
    assert retaken.dealt.bounds
    rows = Records.of(retaken.folder).rows(select(receipts))
    assert not any("ann" in row["file"] for row in rows)
