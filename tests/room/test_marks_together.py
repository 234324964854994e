"""What two worked at together: whose marks it is, what is counted once, what an erasure leaves."""

from __future__ import annotations

import json
from typing import Any

import pytest
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.classroom.analysis.whole import analyse
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.exporting import export
from labkit.classroom.handins.collecting import collect
from labkit.classroom.handins.retaking import retake
from labkit.classroom.marks.by_hand import give, to_mark
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.verifying import verify
from labkit.classroom.pages.reports import write_pages
from labkit.classroom.pages.tally import Tally
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.result import Result
from labkit.desk.tables import score_table
from labkit.room.results import results_page, work_out_results
from labkit.room.room import Room


def _item(room: Room, trainee: str) -> Any:
    return room.workbooks.items[trainee, "tiny"]


def _answers(room: Room, trainee: str, answers: dict[str, Any], hand: str = "") -> None:
    desk = room.workbooks.opened(_item(room, trainee)).desk
    by = _item(room, hand).workbook if hand else ""
    for exercise, answer in answers.items():
        message = {"do": "answer", "token": f"{hand}-{exercise}-{answer}", "answer": answer}
        heard = desk.hear({"exercise": exercise, "message": message}, by=by)
        assert heard
        assert heard["reply"].get("saved")


def _of(scoring: Scoring, trainee: str) -> Result:
    return scoring.results.of(trainee)[0]


def _earned(in_class: Class) -> dict[str, float | None]:
    results = score(in_class.folder).results
    return {one.dealt.trainee: one.earned if one.counts else None for one in results}


@pytest.fixture
def shared(room: Room, in_class: Class) -> Room:
    """Ben worked in Ann's workbook, which is handed in; alone he had handed in a poor one."""
    _answers(room, "ben", {"double": "1 m"})
    room.hand_in([_item(room, "ben")])
    room.put_together("tiny", "ben", "ann", "Mira")
    right = in_class.right("ann")
    _answers(room, "ann", {"double": right["double"]}, "ann")
    _answers(room, "ann", {"parity": right["parity"], "plan": right["plan"]}, "ben")
    room.hand_in([_item(room, "ann")])
    return room


@pytest.mark.usefixtures("shared")
def test_as_long_as_they_are_together_the_marks_of_one_workbook_are_both_theirs(
    in_class: Class,
) -> None:
    for _ in range(2):
        assert _earned(in_class) == {"ann": 8, "ben": 8, "cy": None}
    # The records hold it: with the room's folder gone the marks are the same.
    in_class.folder.room_log.unlink()
    assert _earned(in_class) == {"ann": 8, "ben": 8, "cy": None}
    missing = [item.trainee for item in collect(in_class.folder).missing]
    assert missing == ["cy"]


def test_who_is_parted_has_their_own_marks_and_the_hand_in_the_others_is_still_named(
    shared: Room, in_class: Class
) -> None:
    shared.part("tiny", "ben", "Mira")
    assert _earned(in_class) == {"ann": 8, "ben": 0, "cy": None}
    scoring = score(in_class.folder)
    whom = {name: _of(scoring, name).with_whom for name in ("ann", "ben")}
    assert whom == {"ann": "together with Ben Tasker", "ben": ""}
    shared.put_together("tiny", "ben", "ann", "Mira")
    assert _earned(in_class) == {"ann": 8, "ben": 8, "cy": None}


def test_a_pair_that_was_put_together_by_mistake_leaves_no_word(
    room: Room, in_class: Class
) -> None:
    room.put_together("tiny", "ben", "ann", "Mira")
    room.part("tiny", "ben", "Mira")
    _answers(room, "ann", in_class.right("ann"))
    room.hand_in([_item(room, "ann")])
    scoring = score(in_class.folder)
    assert _of(scoring, "ann").together == {}
    assert "together with" not in score_table(scoring).columns


def test_a_guest_owes_no_hand_in_of_their_own(room: Room, in_class: Class) -> None:
    room.put_together("tiny", "ben", "ann", "Mira")
    _answers(room, "ann", in_class.right("ann"), "ben")
    room.close_lab("tiny", "Mira")
    assert [item.trainee for item in room.settle()] == ["ann"]
    assert [item.trainee for item in collect(in_class.folder).missing] == ["cy"]
    assert _earned(in_class) == {"ann": 8, "ben": 8, "cy": None}


def test_every_place_with_marks_says_so(shared: Room, in_class: Class, tmp_path: Any) -> None:
    work_out_results(in_class.folder)
    scores = in_class.folder.scores
    own, others = (scores / f"tiny--{name}.html" for name in ("ben", "ann"))
    page = results_page(in_class.folder, _item(shared, "ben"))
    assert page == own.read_text("utf-8")
    assert "together with Ann Orrel" in page
    assert f"What is twice {in_class.number('ann')} m?" in page
    assert "together with Ben Tasker" in others.read_text("utf-8")
    assert "together with Ann Orrel" in (scores / "overview.html").read_text("utf-8")
    sheet = (scores / "score-sheet.csv").read_text("utf-8-sig")
    assert "together with" in sheet.splitlines()[0]
    receipts = list((in_class.path / "receipts").glob("tiny--ann--*.html"))
    assert ["together with Ben Tasker" in one.read_text("utf-8") for one in receipts] == [True]
    told = "\n".join(explain(in_class.folder, "ben", "tiny/parity"))
    assert "Ben Tasker (ben), tiny, together with Ann Orrel" in told
    assert ", by Ben Tasker: It is even. (right)" in told
    scoring = score(in_class.folder)
    out = tmp_path / "out"
    export(in_class.folder, scoring, out)
    assert "together with Ann Orrel" in (out / "transcripts/ben.html").read_text("utf-8")
    assert "together with Ann Orrel" in (out / "oneroster/results.csv").read_text("utf-8")
    statements = [json.loads(one) for one in (out / "statements.jsonl").open(encoding="utf-8")]
    bens = [one for one in statements if one["actor"]["account"]["name"] == "ben"]
    assert {one["context"]["extensions"]["urn:labkit:worked-together"] for one in bens} == {2}
    assert all("Ann" not in json.dumps(one) for one in bens)


def test_a_shared_workbook_counts_once_in_figures_and_once_for_each_in_marks(
    room: Room, in_class: Class
) -> None:
    room.put_together("tiny", "ben", "ann", "Mira")
    number = in_class.number("ann")
    _answers(room, "ann", {"double": f"{2 * number + 1} m"}, "ben")
    room.hand_in([_item(room, "ann")])
    scoring = score(in_class.folder)
    tally = Tally.of(scoring.results)
    assert (tally.handed_in, len(tally.percents)) == (2, 2)
    assert tally.exercises["tiny", 1].possible == 4
    (lab,) = analyse(scoring.labs, scoring.results, {})
    assert lab.table.trainees == 1
    assert [slip.count for slip in lab.slips] == [1]


def test_who_worked_together_is_never_held_against_the_other(
    room: Room, in_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.classroom.analysis.whole.ALIKE_LEVEL", 1.0)
    odd = {name: in_class.option(name, "It is odd.") for name in ("ann", "ben", "cy")}
    # Ann's right answer, with other numbers; and all three make the same mistake.
    anns = f"{2 * in_class.number('ann')} m"
    for trainee in ("ben", "cy"):
        _answers(room, trainee, {"double": anns, "parity": odd[trainee]})
    room.put_together("tiny", "ben", "ann", "Mira")
    _answers(room, "ann", {"parity": odd["ann"]}, "ben")
    room.part("tiny", "ben", "Mira")
    room.hand_in([_item(room, name) for name in odd])
    scoring = score(in_class.folder)
    (lab,) = analyse(scoring.labs, scoring.results, {})
    who = [result.dealt.trainee for result in lab.table.results]
    pairs = [(who[pair.writer], who[pair.owner]) for pair in lab.copied.pairs]
    assert pairs == [("cy", "ann")]
    alike = [{who[pair.first], who[pair.second]} for pair in lab.shared]
    assert {"ben", "cy"} in alike
    assert {"ann", "cy"} in alike
    assert {"ann", "ben"} not in alike


@pytest.mark.usefixtures("shared")
def test_a_mark_by_hand_for_either_is_the_mark_of_both(in_class: Class) -> None:
    score(in_class.folder)
    note = "The tolerance was read otherwise."
    given = give(in_class.folder, "ben", "tiny", "double", ["0.5"], by="Mira", note=note)
    assert given.mark
    assert given.mark.earned == 2
    assert _earned(in_class) == {"ann": 6, "ben": 6, "cy": None}
    assert to_mark(in_class.folder).scored == 1


def test_a_retake_is_everybodys_own_and_the_shared_attempt_is_shown_no_more(
    make_class: MakeRoom,
) -> None:
    in_class = make_class(attempts="2")
    room = Room(in_class.folder)
    room.put_together("tiny", "ben", "ann", "Mira")
    _answers(room, "ann", in_class.right("ann"), "ben")
    room.hand_in([_item(room, "ann")])
    retake(in_class.folder, in_class.library, ["ann"], "tiny")
    again = Room(in_class.folder)
    bens = _item(again, "ben")
    assert again.pairs.works_in(bens) == bens
    assert again.shut(bens)
    assert [guest.trainee for guest, _ in again.pairs.of_lab("tiny")] == ["ben"]
    assert _earned(in_class)["ben"] == 8
    again.part("tiny", "ben", "Mira")
    assert not again.shut(bens)
    assert _of(score(in_class.folder), "ann").with_whom == "together with Ben Tasker"


def _found_wrong(in_class: Class) -> list[str]:
    """What the chain over the records and marking again find wrong."""
    return [one.sentence for one in verify(in_class.folder) if one.differs]


def _named(in_class: Class, *words: bytes) -> list[str]:
    """Files in the class that hold one of these words, the roster aside."""
    return [
        str(path.relative_to(in_class.path))
        for path in in_class.path.rglob("*")
        if path.is_file() and path.name != "roster.csv"
        if any(word in path.read_bytes() for word in words)
    ]


@pytest.mark.usefixtures("shared")
def test_no_journal_or_hand_in_holds_the_name_or_the_id_of_another_hand(in_class: Class) -> None:
    """Nothing that is signed has to be changed, where a hand is erased."""
    work_out_results(in_class.folder)
    held = held_of(in_class.folder, "ben")
    assert [row["shared"] for row in held["records"]["together"]] == [True]
    acts = [entry["act"] for entry in held["room"]]
    assert acts == ["handed in", "together"]
    erase(in_class.folder, "ben", reason="asked for it")
    assert _named(in_class, b"Ben Tasker", b'"ben"', b"'ben'") == []
    before = _earned(in_class)
    assert before == {"ann": 8, "cy": None}
    scoring = score(in_class.folder)
    assert _of(scoring, "ann").with_whom == "together with (erased)"
    write_pages(in_class.folder, scoring)
    assert _named(in_class, b"Ben Tasker") == []
    assert Room(in_class.folder).pairs.of_lab("tiny") == []


@pytest.mark.usefixtures("shared")
def test_without_marks_kept_nothing_of_the_hand_is_left(in_class: Class) -> None:
    score(in_class.folder)
    erase(in_class.folder, "ben", reason="asked for it", keep_marks=False)
    assert _of(score(in_class.folder), "ann").together == {}
    assert _found_wrong(in_class) == []


@pytest.mark.usefixtures("shared")
@pytest.mark.parametrize("keep_marks", [True, False])
def test_the_guest_keeps_the_marks_when_the_host_is_erased(
    in_class: Class, keep_marks: bool
) -> None:
    work_out_results(in_class.folder)
    erasure = erase(in_class.folder, "ann", reason="asked for it", keep_marks=keep_marks)
    told = any("those of Ben Tasker too" in one for one in erasure.left_to_do)
    assert told != keep_marks
    assert _found_wrong(in_class) == []
    assert _named(in_class, b"Ann Orrel", b'"ann"', b"'ann'") == []
    scoring = score(in_class.folder)
    result = _of(scoring, "ben")
    assert (result.earned, result.with_whom) == (8, "together with (erased)")
    # The numbers are gone with the hand-in: there is no page to explain the marks by.
    assert "tiny--ben.html" not in [page.name for page in write_pages(in_class.folder, scoring)]
    assert "8 of 8 marks" in "\n".join(explain(in_class.folder, "ben"))
    export(in_class.folder, scoring, in_class.path.parent / "out")
    with pytest.raises(ClassError):
        held_of(in_class.folder, "ann")
