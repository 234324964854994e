"""What a hand-in says of its time is a claim, when it came in a fact: both are kept and told, and
what does not fit is named. Which of several hand-ins comes later, their journals say."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from laptops import Entry, answered, bring, moment, opened, pressed
from set_clock import SetClock
from sqlalchemy import select
from tiny_class import MakeRoom, Room
from typer.testing import CliRunner

from labkit.classroom.dealing.deal import deal
from labkit.classroom.handins import demo
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.records.schema import counting, receipts
from labkit.classroom.records.store import Records
from labkit.cli import app
from labkit.desk.tables import score_table
from labkit.lab.library import lab_library

pytestmark = pytest.mark.usefixtures("here")

DEADLINE = "2026-11-20 16:30+00:00"


@pytest.fixture
def here(clock: SetClock) -> Callable[[str], None]:
    """Set the clock of the instructor's machine, which shows four."""

    def set_to(at: str) -> None:
        clock.set(moment(at))

    set_to("16:00")
    return set_to


@pytest.fixture
def room(make_room: MakeRoom, here: Callable[[str], None]) -> Room:
    """Three trainees, dealt at nine."""
    made = make_room()
    here("09:00")
    made.deal()
    here("16:00")
    return made


def notices(room: Room, *, but: Sequence[str] = ("older copy",)) -> list[tuple[str, str]]:
    return [
        (notice.file.split(".")[0], notice.reason)
        for notice in score(room.folder).notices
        if notice.reason not in but
    ]


def sentences(room: Room) -> str:
    return " ".join(notice.sentence for notice in score(room.folder).notices)


def counted(room: Room, trainee: str = "ann") -> str:
    """The name of the file that counts, without its ending."""
    (result,) = [r for r in score(room.folder).results if r.dealt.trainee == trainee]
    return result.hand_in.file.split(".")[0] if result.hand_in else ""


def decided(room: Room) -> list[str]:
    return [row["digest"] for row in Records.of(room.folder).rows(select(counting))]


WORK = (opened("10:00"), answered("10:05", "1 m"), pressed("10:10"))
MORE = (*WORK, answered("10:20", "2 m"), pressed("10:30"))


def forget(room: Room, *files: Path) -> None:
    """Make the records what version 0.1 left: without what it did not keep."""
    with closing(sqlite3.connect(room.path / "records.sqlite")) as opened_, opened_:
        opened_.execute("DROP TABLE journals")
        opened_.execute("DROP TABLE grounds")
    for file in files:
        file.unlink()


# Which of two comes later


@pytest.mark.parametrize(("first", "second"), [("10:10", "10:30"), ("15:00", "08:00")])
@pytest.mark.parametrize("names", [("a", "b"), ("b", "a")])
def test_the_journal_that_goes_on_comes_later_whatever_the_clocks_say(
    room: Room, first: str, second: str, names: tuple[str, str]
) -> None:
    bring(room, names[0], first, WORK)
    bring(room, names[1], second, MORE)
    assert counted(room) == names[1]


def test_a_clock_that_is_set_back_gives_nobody_a_further_attempt(room: Room) -> None:
    """With one attempt allowed the first hand-in counts, whatever the second says of its time."""
    room.write_class(attempts="1")
    bring(room, "first", "10:10", WORK)
    bring(room, "second", "09:30", MORE)
    assert counted(room) == "first"
    assert ("second", "too many attempts") in notices(room)


def test_two_lines_of_work_from_one_workbook_are_named_and_the_claims_decide(room: Room) -> None:
    here_too = (*WORK, answered("10:25", "3 m"), pressed("10:40"))
    bring(room, "one", "10:30", MORE)
    bring(room, "other", "10:40", here_too)
    assert counted(room) == "other"
    assert notices(room) == [("one", "two journals")]
    bring(room, "one", "10:50", (*MORE, answered("10:45", "4 m"), pressed("10:50")))
    assert counted(room) == "one"
    assert ("other", "two journals") in notices(room)


def test_one_journal_that_goes_on_is_no_second_line_of_work(room: Room) -> None:
    bring(room, "a", "10:10", WORK)
    bring(room, "b", "10:30", MORE)
    assert notices(room) == []


def test_a_journal_that_lacks_its_button_is_continued_too(room: Room) -> None:
    """A hand-in made by hand, with the trainee's own key, may end anywhere."""
    bring(room, "a", "15:00", MORE[:2])
    bring(room, "b", "10:30", MORE)
    assert counted(room) == "b"
    assert ("a", "two journals") not in notices(room)


# What decides whether it is late


def test_by_default_the_claim_decides_and_a_late_receipt_is_named(
    room: Room, here: Callable[[str], None]
) -> None:
    room.write_class(deadline=DEADLINE, late="refuse")
    here("16:45")
    bring(room, "a", "10:30", MORE)
    scoring = score(room.folder)
    assert scoring.results[0].counts
    assert not scoring.results[0].late
    assert notices(room) == [("a", "received after the deadline")]
    assert "10:30 UTC" in sentences(room)
    assert "16:45 UTC" in sentences(room)


@pytest.mark.parametrize("late", ["count", "refuse"])
def test_the_class_can_let_the_receipt_decide(
    room: Room, here: Callable[[str], None], late: str
) -> None:
    room.write_class(deadline=DEADLINE, late=late, deadline_by="received")
    bring(room, "in-time", "10:30", MORE)
    score(room.folder)
    here("16:45")
    bring(room, "too-late", "10:30", MORE, "ben")
    ann, ben, _ = score(room.folder).results
    assert (ann.counts, ann.late) == (True, False)
    assert (ben.counts, ben.late) == (late == "count", late == "count")
    assert notices(room) == [("too-late", "late")]


def test_a_copy_that_comes_later_makes_nothing_late(
    room: Room, here: Callable[[str], None]
) -> None:
    room.write_class(deadline=DEADLINE, late="refuse", deadline_by="received")
    made = bring(room, "z", "10:30", MORE)
    score(room.folder)
    here("16:45")
    copy = made.with_name("a.handin.json")
    copy.write_bytes(made.read_bytes())
    written_anew = made.with_name("b.handin.json")
    written_anew.write_text(json.dumps(json.loads(made.read_bytes()), indent=3))
    assert counted(room) == "z"
    assert [reason for _, reason in notices(room)] == ["same file twice"] * 2


def test_a_rule_that_was_changed_settles_anew_with_an_entry(
    room: Room, here: Callable[[str], None]
) -> None:
    room.write_class(deadline=DEADLINE, late="refuse")
    here("16:45")
    bring(room, "a", "10:30", MORE)
    assert counted(room) == "a"
    room.write_class(deadline=DEADLINE, late="refuse", deadline_by="received")
    assert counted(room) == ""
    room.write_class(deadline=DEADLINE, late="refuse", deadline_by="claimed")
    assert counted(room) == "a"
    assert [bool(digest) for digest in decided(room)] == [True, False, True]


# What does not fit


@pytest.mark.parametrize(
    ("made", "journal", "reason"),
    [
        ("18:00", MORE, "clock"),
        ("10:30", (*WORK, answered("09:50", "2 m"), pressed("10:30")), "clock"),
        ("08:30", (), "clock"),
        ("10:30", (opened("08:00"), *MORE[1:]), "clock"),
        ("10:20", MORE, "clock"),
        (
            "10:30",
            (*(answered("10:00:07", "1", f"e{n}") for n in range(6)), pressed("10:30")),
            "answers at once",
        ),
    ],
    ids=["ahead", "set back", "before the deal", "opened before it", "entries later", "at once"],
)
def test_what_cannot_be_is_named(
    room: Room, made: str, journal: Sequence[Entry], reason: str
) -> None:
    bring(room, "a", made, journal)
    assert notices(room) == [("a", reason)]
    assert notices(room) == [("a", reason)], "it is told each time"
    assert counted(room) == "a", "to be looked at, not refused"


@pytest.mark.parametrize(
    ("made", "journal"),
    [
        ("10:30", MORE),
        ("16:00:30", (*WORK, pressed("16:00:30"))),
        ("10:30", (*WORK, answered("10:09:40", "2 m"), pressed("10:30"))),
        ("10:30", (*(answered("10:07", "1", f"e{n}") for n in range(5)), pressed("10:30"))),
        ("10:30", (*(answered("10:07", str(n)) for n in range(20)), pressed("10:30"))),
        ("10:30", ({"event": "answer", "at": 7}, {"event": "x", "at": "99:99"}, pressed("10:30"))),
        ("09:00", (opened("09:00"), pressed("09:00"))),
    ],
    ids=["sound", "half a minute", "a little back", "eleven", "one often", "no times", "at once"],
)
def test_what_may_be_is_not_named(room: Room, made: str, journal: Sequence[Entry]) -> None:
    bring(room, "a", made, journal)
    assert notices(room) == []


def test_a_journal_is_remarked_on_once_though_handed_in_twice(room: Room) -> None:
    back = (*WORK, answered("09:20", "2 m"), pressed("10:20"))
    bring(room, "a", "10:20", back)
    bring(room, "b", "10:40", (*back, pressed("10:40")))
    assert notices(room) == [("b", "clock")]


def test_times_at_the_ends_of_the_calendar_are_told(room: Room) -> None:
    room.write_class(time_zone="Asia/Kathmandu", deadline=DEADLINE)
    made = bring(room, "a", "10:30", MORE)
    for year, name in (("9999-12-31T23:59:59Z", "last"), ("1000-01-01T00:00:00Z", "first")):
        entry = {**MORE[0], "at": year}
        bring(room, name, "10:30", [entry, *MORE[1:]], {"last": "ben", "first": "cy"}[name])
    assert made.exists()
    assert {name for name, _ in notices(room)} == {"last", "first"}


def test_a_deal_without_times_names_nothing(room: Room) -> None:
    record = json.loads((room.path / "deal.json").read_bytes())
    for item in record["dealt"]:
        del item["dealt_at"]
    (room.path / "deal.json").write_text(json.dumps(record))
    bring(room, "a", "08:30", (opened("08:00"), pressed("08:30")))
    assert notices(room) == []


def test_dealing_again_changes_no_time(room: Room, here: Callable[[str], None]) -> None:
    before = (room.path / "deal.json").read_bytes()
    here("12:00")
    room.deal()
    assert (room.path / "deal.json").read_bytes() == before
    assert {item.dealt_at for item in room.dealt.dealt} == {moment("09:00")}
    room.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland", "dot,Dot Lane")
    room.deal()
    assert [item.dealt_at for item in room.dealt.dealt] == [moment("09:00")] * 3 + [moment("12:00")]


@pytest.mark.parametrize("wrong", [7, "yesterday", "2026-13-01T00:00:00Z"])
def test_a_deal_whose_time_is_none_is_damaged(room: Room, wrong: Any) -> None:
    from labkit.classroom.errors import ClassError

    record = json.loads((room.path / "deal.json").read_bytes())
    record["dealt"][0]["dealt_at"] = wrong
    (room.path / "deal.json").write_text(json.dumps(record))
    with pytest.raises(ClassError, match="damaged: bring it back"):
        score(room.folder)


# What was decided before stays


def test_a_class_of_before_keeps_what_counts(room: Room) -> None:
    """Version 0.1 went by the claim: the first one, whose clock was ahead, counted there."""
    first = bring(room, "first", "15:00", WORK)
    bring(room, "second", "10:30", MORE)
    Records.of(room.folder)
    forget(room)
    # What 0.1 wrote down: it decided for the hand-in that claims to be the later one.
    _settled_by_0_1(room)
    before = decided(room)
    for _ in range(2):
        assert counted(room) == "first"
        assert decided(room) == before
    assert first.exists()
    assert "stays" in sentences(room)
    # Something new came in: now the journals say which is the last.
    bring(room, "third", "09:40", (*MORE, answered("10:50", "3 m"), pressed("10:51")))
    assert counted(room) == "third"


def test_a_class_of_before_whose_rules_change_is_settled_anew(room: Room) -> None:
    bring(room, "first", "15:00", WORK)
    bring(room, "second", "10:30", MORE)
    Records.of(room.folder)
    forget(room)
    _settled_by_0_1(room)
    room.write_class(attempts="2")
    assert counted(room) == "first", "by its own rule it would have decided the same"
    room.write_class(attempts="5")
    assert counted(room) == "second"


def test_receipts_of_before_whose_files_are_gone_go_by_the_claim(room: Room) -> None:
    made = bring(room, "first", "15:00", WORK)
    score(room.folder)
    forget(room, made)
    bring(room, "second", "10:30", MORE)
    assert counted(room) == "first"
    bring(room, "third", "15:30", MORE)
    assert counted(room) == "third"
    assert ("first", "two journals") not in notices(room)


def test_what_the_records_lack_of_older_hand_ins_is_read_from_their_files(room: Room) -> None:
    bring(room, "first", "15:00", WORK)
    score(room.folder)
    forget(room)
    bring(room, "second", "10:30", MORE)
    assert counted(room) == "second"


def _settled_by_0_1(room: Room) -> None:
    """Let the claims alone decide, as 0.1 did, and leave records as it left them."""
    from unittest.mock import patch

    from labkit.classroom.handins.choosing import Receipt

    with patch.object(Receipt, "continues", lambda *_: False):
        score(room.folder)
    forget(room)


# Where both times are told


def test_receipt_explanation_and_sheet_tell_both_times(
    room: Room, here: Callable[[str], None]
) -> None:
    room.write_class(deadline=DEADLINE, late="refuse", time_zone="UTC")
    here("16:45")
    bring(room, "a", "10:30", MORE)
    (taken,) = collect(room.folder).new
    page = taken.page.read_text("utf-8")
    for words in ("20 November 2026 10:30 UTC", "20 November 2026 16:45 UTC", "after the deadline"):
        assert words in page
    score(room.folder)
    told = "\n".join(explain(room.folder, "ann"))
    assert "10:30 UTC by its laptop's clock" in told
    assert "received 20 November 2026 16:45 UTC" in told
    assert "received after the deadline" in told


def test_the_score_sheet_has_both_times(room: Room, here: Callable[[str], None]) -> None:
    here("16:45")
    bring(room, "a", "10:30", MORE)
    row = score_table(score(room.folder)).iloc[0]
    assert (row["handed in"], row["received"]) == (moment("10:30"), moment("16:45"))


def test_the_terminal_tells_both_times(room: Room, here: Callable[[str], None]) -> None:
    here("16:45")
    room.write_class(time_zone="UTC", deadline=DEADLINE)
    bring(room, "a", "10:30", MORE)
    made = CliRunner().invoke(app, ["receive", str(room.path)], terminal_width=200)
    words = " ".join(made.output.split())
    for told in ("made, it says", "received", "10:30", "16:45", "received after the deadline"):
        assert told in words


def test_the_demo_has_no_times_that_do_not_fit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    folder = demo.make_class(tmp_path / "demo", mode="assessed")
    dealt = deal(folder, lab_library())
    demo.play(folder, folder.lab(demo.LAB), dealt.deal)
    reasons = {notice.reason for notice in score(folder).notices}
    assert reasons == {"damaged", "same file twice"}


def test_a_receipt_says_late_by_what_decides(room: Room, here: Callable[[str], None]) -> None:
    room.write_class(deadline=DEADLINE, deadline_by="received", time_zone="UTC")
    here("16:45")
    bring(room, "a", "10:30", MORE)
    (taken,) = collect(room.folder).new
    assert taken.late
    assert "(late: the deadline was 20 November 2026 16:30 UTC)" in taken.page.read_text("utf-8")


def test_the_closer_look_names_whose_clock_does_not_fit(room: Room) -> None:
    from labkit.classroom.pages.debrief import write_analysis

    bring(room, "mail (1)", "18:00", MORE)
    bring(room, "mail (2)", "10:30", MORE, "ben")
    _, figures = write_analysis(room.folder, score(room.folder))
    text = figures.read_text("utf-8")
    assert "clock" in text
    assert "Ann Orrel" in text
    assert "Ben Tasker" not in text


# People


@pytest.mark.parametrize("keep_marks", [True, False])
def test_what_is_kept_of_a_journal_is_handed_over_and_erased(room: Room, keep_marks: bool) -> None:
    bring(room, "a", "10:30", MORE)
    bring(room, "b", "10:30", MORE, "ben")
    score(room.folder)
    held = held_of(room.folder, "ann")["records"]
    assert [row["last_at"] for row in held["journals"]] == [moment("10:30")]
    assert len(held["grounds"]) == 1
    erase(room.folder, "ann", reason="asked", keep_marks=keep_marks)
    records = Records.of(room.folder)
    (left,) = records.rows(select(receipts))
    with records.reading() as connection:
        for table in ("journals", "grounds"):
            rows = connection.exec_driver_sql(f"SELECT workbook FROM {table}").fetchall()
            assert [row[0] for row in rows] == [left["workbook"]]
