"""Whoever changes, adds or takes out an entry is found out; an erasure and a correction are not."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import select
from tiny_class import MakeRoom, Room
from typer.testing import CliRunner

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.correcting import void
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.verifying import verify
from labkit.classroom.pages.reports import overview_page
from labkit.classroom.people.erasing import erase
from labkit.classroom.records.schema import CHAINED, META, links, marks
from labkit.classroom.records.store import Records
from labkit.cli import app
from labkit.desk.tables import score_table

OLDER = Path(__file__).parents[2] / "version_0_1" / "evening-class"


@pytest.fixture
def scored(make_room: MakeRoom) -> Room:
    made = make_room("ann,Ann Vale", "ben,Ben Orrin", "cyd,Cyd Marsh")
    made.deal()
    made.hand_in("ann", hints=1)
    made.hand_in("ben", {"double": "7 m", "parity": "z"})
    made.hand_in("cyd")
    score(made.folder)
    give(made.folder, "ben", "tiny", "double", ["0.5"], by="R. Ops", note="at the bench")
    return made


def differing(folder: ClassFolder, printed: str = "") -> list[str]:
    return [remark.sentence for remark in verify(folder, printed) if remark.differs]


def sentences(folder: ClassFolder, printed: str = "") -> str:
    return "\n".join(remark.sentence for remark in verify(folder, printed))


def tamper(room: Room, *statements: str, guards: bool = False) -> None:
    """What somebody does with any program for SQLite; without `guards` they take them out first."""
    with sqlite3.connect(room.path / "records.sqlite") as connection:
        named = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        triggers = named.fetchall() if not guards else []
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for _, text in triggers:
            connection.execute(text)
    connection.close()


def test_a_sound_class_is_the_same_in_every_way(scored: Room) -> None:
    void(scored.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    assert differing(scored.folder) == []
    told = sentences(scored.folder)
    assert "Every entry is as it was written." in told
    assert "9 marks of 3 hand-ins were calculated again, and are the same." in told


def test_looking_changes_nothing(scored: Room) -> None:
    before = (scored.path / "records.sqlite").read_bytes()
    tamper(scored, "DROP TRIGGER keep_marks_update", guards=True)
    changed = (scored.path / "records.sqlite").read_bytes()
    assert changed != before
    assert differing(scored.folder)
    assert (scored.path / "records.sqlite").read_bytes() == changed


def test_every_entry_of_every_table_has_a_link_and_a_salt_of_its_own(scored: Room) -> None:
    records = Records.of(scored.folder)
    entries = sum(len(records.rows(select(table))) for table in CHAINED)
    linked = records.rows(select(links))
    assert len(linked) == entries > 20
    assert len({row["salt"] for row in linked}) == entries
    assert not any(row["found"] for row in linked)


@pytest.mark.parametrize(
    ("statement", "sentence"),
    [
        (
            "UPDATE marks SET earned = 4, credit = 1 WHERE slip = '' AND earned = 0",
            "entry 4 of 'marks' (Ben Orrin tiny/double)",
        ),
        ("UPDATE marks SET message = 'Well done.' WHERE id = 1", "entry 1 of 'marks' (Ann Vale"),
        ("UPDATE manual_marks SET by = 'nobody'", "entry 1 of 'manual_marks' (Ben Orrin double)"),
        (
            "UPDATE people SET name = 'Ann Hale' WHERE trainee = 'ann'",
            "(Ann Hale tiny)",
        ),
        ("UPDATE receipts SET received_at = '2020-01-01T00:00:00Z'", "entry 3 of 'receipts'"),
        ("UPDATE about SET value = '2' WHERE name = 'version'", "entry 1 of 'about'"),
    ],
)
def test_a_changed_entry_is_named(scored: Room, statement: str, sentence: str) -> None:
    tamper(scored, statement)
    told = differing(scored.folder)
    assert any("Changed after they were written" in each and sentence in each for each in told)


def test_a_changed_mark_comes_out_otherwise_when_marked_again(scored: Room) -> None:
    tamper(scored, "UPDATE marks SET earned = 0.5 WHERE exercise = 'plan'")
    found = [each for each in differing(scored.folder) if "Marked again otherwise" in each]
    assert len(found) == 1
    assert "Cyd Marsh, tiny/plan: 0.5 of 3 in the records, marked again 3 of 3" in found[0]


@pytest.mark.parametrize("table", ["marks", "receipts", "manual_marks", "people", "counting"])
def test_an_entry_that_was_taken_out_is_missed(scored: Room, table: str) -> None:
    tamper(scored, f"DELETE FROM {table} WHERE id = 1")
    told = "\n".join(differing(scored.folder))
    assert f"Taken out, and by no erasure: entry 1 of '{table}'" in told


FORGED = """\
INSERT INTO manual_marks (workbook, exercise, answer_digest, credit, shares, by, note, marked_at)
SELECT workbook, exercise, answer_digest, 1, '{}', 'R. Ops', '', marked_at FROM marks
WHERE exercise = 'double' AND earned = 0"""


def test_an_entry_from_elsewhere_is_told_for_ever(scored: Room) -> None:
    tamper(scored, FORGED, guards=True)
    said = "past labkit: entry 2 of 'manual_marks' (Ben Orrin double)"
    assert said in "\n".join(differing(scored.folder))
    # The next run that writes links it, and says by that link that it found it there.
    void(scored.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    assert "past labkit: entry 2 of 'manual_marks'" in "\n".join(differing(scored.folder))


@pytest.mark.parametrize(
    ("statement", "name"),
    [
        ("DROP TRIGGER keep_marks_update", "keep_marks_update"),
        ("DROP VIEW current_marks", "current_marks"),
        (
            "CREATE TRIGGER kind_hand AFTER INSERT ON marks BEGIN SELECT 1; END",
            "and not labkit's: kind_hand",
        ),
        ("CREATE VIEW other AS SELECT 1", "and not labkit's: other"),
    ],
)
def test_guards_that_are_otherwise_are_named(scored: Room, statement: str, name: str) -> None:
    tamper(scored, statement, guards=True)
    (told,) = differing(scored.folder)
    assert name in told


def test_a_trigger_that_was_weakened_is_named_and_put_right(scored: Room) -> None:
    weak = (
        "CREATE TRIGGER keep_marks_update BEFORE UPDATE ON marks WHEN 0 "
        "BEGIN SELECT RAISE(ABORT, 'no'); END"
    )
    tamper(scored, "DROP TRIGGER keep_marks_update", weak, guards=True)
    assert "keep_marks_update" in differing(scored.folder)[0]
    Records.of(scored.folder)
    assert differing(scored.folder) == []
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        tamper(scored, "UPDATE marks SET earned = 4", guards=True)


def test_links_cannot_be_made_fitting_without_the_classs_secret(scored: Room) -> None:
    # The commitment is made anew by its rule, and the link left as it is.
    from labkit.classroom.records.chain import commitment

    records = Records.of(scored.folder)
    (row,) = records.rows(select(marks).where(marks.c.id == 4))
    (link,) = records.rows(select(links).where(links.c.of_table == "marks", links.c.entry == 4))
    forged = commitment(link["salt"], {**row, "earned": 4.0})
    tamper(
        scored,
        "UPDATE marks SET earned = 4.0 WHERE id = 4",
        f"UPDATE links SET commitment = '{forged}' WHERE id = {link['id']}",
    )
    told = "\n".join(differing(scored.folder))
    assert "Changed after" not in told
    assert "The chain breaks at entry 4 of 'marks'" in told


def test_records_that_were_cut_back_do_not_know_a_printed_code(scored: Room) -> None:
    code = Records.of(scored.folder).code()
    assert code in "".join(score_table(score(scored.folder))["records"])
    assert code in overview_page(scored.folder, score(scored.folder))
    assert f"'{code}' was printed is still linked" in sentences(scored.folder, code.lower())
    void(scored.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    assert differing(scored.folder, code) == []
    later = Records.of(scored.folder).code()
    assert later != code
    # Entry, link and salt of what came last are taken out: what is left fits together.
    tamper(
        scored,
        "DELETE FROM voids",
        "DELETE FROM links WHERE id = (SELECT max(id) FROM links)",
    )
    assert differing(scored.folder) == []
    assert differing(scored.folder, code) == []
    (told,) = differing(scored.folder, later)
    assert later in told


def test_a_receipt_carries_the_code_of_the_records_that_hold_it(scored: Room) -> None:
    collect(scored.folder)
    pages = list((scored.path / "receipts").glob("*.html"))
    assert len(pages) == 3
    assert all(Records.of(scored.folder).code() in page.read_text("utf-8") for page in pages)


@pytest.mark.parametrize("keep_marks", [True, False])
def test_an_erasure_is_an_entry_and_breaks_nothing(scored: Room, keep_marks: bool) -> None:
    records = Records.of(scored.folder)
    before = records.rows(select(links))
    erase(scored.folder, "ben", reason="asked for it", keep_marks=keep_marks)
    assert differing(scored.folder) == []
    told = sentences(scored.folder)
    assert "entries were taken out by erasures" in told
    assert "6 marks of 2 hand-ins were calculated again" in told
    assert ("cannot be marked again" in told) == keep_marks
    # What is left of the person is commitments whose salt is gone.
    left = records.rows(select(links).where(links.c.salt == ""))
    unsalted = {row["of_table"] for row in left if row["id"] <= len(before)}
    assert unsalted == {"counting", "grounds", "journals", "manual_marks", "marks"} | {
        "people",
        "receipts",
    }
    # A number that became free may be given again.
    scored.hand_in("ann", {"double": "1 m"})
    score(scored.folder)
    give(scored.folder, "cyd", "tiny", "double", ["1"], by="R. Ops", note="seen")
    assert differing(scored.folder) == []


def test_older_records_are_unverified_before_the_chain_and_sound_after_it(tmp_path: Path) -> None:
    path = tmp_path / "evening"
    shutil.copytree(OLDER, path)
    folder = ClassFolder.open(path)
    assert "No labkit that keeps a chain" in sentences(folder)
    assert differing(folder) == []
    score(folder)
    assert "entries are older than the chain" in sentences(folder)
    assert differing(folder) == []


def test_marks_whose_file_is_gone_cannot_be_marked_again(scored: Room) -> None:
    for file in (scored.path / "hand-ins").rglob("*cyd*"):
        file.unlink()
    assert differing(scored.folder) == []
    told = sentences(scored.folder)
    assert "The marks of 1 hand-in cannot be marked again" in told
    assert "Cyd Marsh" in told
    assert "6 marks of 2 hand-ins" in told


def test_a_lab_that_was_changed_is_named(scored: Room) -> None:
    file = scored.path / "labs" / "tiny" / "lab.md"
    file.write_text(file.read_text("utf-8").replace("Double it", "Twice it"), encoding="utf-8")
    (told,) = differing(scored.folder)
    assert "'tiny' cannot be marked again" in told
    assert "bring the old file back" in told


def test_without_the_secret_that_is_said(scored: Room) -> None:
    (secret,) = (file for file in scored.path.iterdir() if "secret" in file.name)
    secret.unlink()
    assert "The class's secret is missing" in "\n".join(differing(scored.folder))


def test_a_class_without_records_is_told_so_and_gets_none(make_room: MakeRoom) -> None:
    room = make_room("ann,Ann Vale")
    with pytest.raises(ClassError, match="has no records yet"):
        verify(room.folder)
    assert not (room.path / "records.sqlite").exists()


def test_the_command_ends_with_1_when_something_differs(scored: Room) -> None:
    def told(*words: str) -> tuple[int, str]:
        done = CliRunner().invoke(app, ["records", str(scored.path), "--verify", *words])
        return done.exit_code, done.stdout

    code, text = told()
    assert code == 0
    assert "✓ Every entry is as it was written." in text
    assert told("--printed", "ABCDE-12345")[0] == 1
    tamper(scored, "UPDATE marks SET earned = 0 WHERE id = 1")
    code, text = told()
    assert code == 1
    assert "✗ Changed after they were written" in text


def test_a_copy_to_try_things_out_on_keeps_no_chain(scored: Room) -> None:
    copy = Records.of(scored.folder).copied("room-7")
    copy.add(META.tables["handed_on"], [{"what": "x", "folder": "y", "written_at": "z"}])
    assert len(copy.rows(select(links))) == len(Records.of(scored.folder).rows(select(links)))
