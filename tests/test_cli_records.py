"""The commands around the records: what they print, and how they end."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from labkit_here import fails, labkit

LAB = "plan-the-trunk"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    cwd = tmp_path_factory.mktemp("records [of x]")
    done = labkit("demo", "class", cwd=cwd)
    assert done.returncode == 0, done
    assert "1 damaged, 12 whole" in done.stdout
    return cwd / "class"


@pytest.fixture
def room(demo: Path, tmp_path: Path) -> Path:
    """A copy of the demo class of one's own."""
    shutil.copytree(demo, tmp_path / "class")
    (tmp_path / "class").chmod(0o700)
    return tmp_path / "class"


def done(*words: object, room: Path) -> str:
    made = labkit(*words, cwd=room.parent)
    assert made.returncode == 0, made
    return made.stdout


def test_tables_fit_a_terminal_of_eighty_columns_with_whole_ids(room: Path) -> None:
    (room / "records.sqlite").unlink()
    shutil.move(room / "hand-ins", room.parent / "stick")
    class_file = room / "class.yaml"
    class_file.write_text(class_file.read_text() + "time_zone: Asia/Kathmandu\n")
    for words in (("receive", "class", "stick"), ("score", "class"), ("labs",)):
        text = labkit(*words, cwd=room.parent, columns=80).stdout
        table = [line for line in text.splitlines() if line.startswith(("│", "┃"))]
        assert table
        assert max(map(len, table)) <= 80
        assert not [line for line in table if "…" in line], words
        # A bar that is cut off would show a wrong share.
        assert "█" not in text, words
        assert words[0] != "receive" or "UTC+05:45" in text, "times as the class reads them"


def test_receiving_a_stick_names_what_came_and_who_is_missing(room: Path) -> None:
    stick = room.parent / "stick"
    shutil.move(room / "hand-ins", stick)
    (room / "records.sqlite").unlink()
    text = done("receive", "class", "stick", room=room)
    assert "11 new, 1 received before." in text
    assert "Nothing came in yet from 1:\n  Kasia Dornell (t11), plan-the-trunk" in text
    again = done("receive", "class", "stick", room=room)
    assert "0 new, 12 received before." in again
    assert "Is the stick or the share connected?" in fails(
        "receive", "class", "gone", cwd=room.parent
    )


def test_scoring_with_more_processes_prints_the_same_table(room: Path) -> None:
    alone = done("score", "class", room=room)
    (room / "records.sqlite").unlink()
    shared = done("score", "class", "--jobs", "2", room=room)
    table = alone[alone.index("┏") : alone.rindex("┘")]
    assert table in shared
    assert "0 jobs cannot be had" in fails("score", "class", "--jobs", "0", cwd=room.parent)


def test_voiding_says_whose_marks_change_and_why(room: Path) -> None:
    why = ("--reason", "a misprint", "--by", "R. Ops")
    void = ("rescore", "class", "--void", f"{LAB}/addresses")
    records = (room / "records.sqlite").read_bytes()
    dry = done(*void, "--dry-run", room=room)
    assert "11 result(s) would change.\n" in dry
    assert (room / "records.sqlite").read_bytes() == records
    text = done(*void, *why, room=room)
    assert "11 result(s) changed. Why: a misprint (R. Ops)" in text
    # What was tried out is what came out.
    assert dry.split("11 result(s)")[0] == text.split("11 result(s)")[0]
    assert "cross the pass mark of 60 %." in text
    assert "Say why" in fails(*void, cwd=room.parent)
    text = done("explain", "class", "t03", f"{LAB}/addresses", room=room)
    assert "taken out of the marks by R. Ops: a misprint" in text
    for words in ((), ("--void", "x"), ("--void", "a/b", "--restore", "a/b")):
        assert fails("rescore", "class", *words, *why, cwd=room.parent)


def test_a_void_that_was_ended_before_its_pages_is_finished_when_it_is_repeated(
    room: Path,
) -> None:
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.corrections.correcting import void

    page, taken = room / "scores" / f"{LAB}--t03.html", "Taken out for everybody"
    # The entry is there, and then the run was ended.
    void(ClassFolder.open(room), LAB, "addresses", reason="a misprint", by="R. Ops")
    assert taken not in page.read_text("utf-8")
    again = ("--void", f"{LAB}/addresses", "--reason", "another one", "--by", "Q. Ops")
    text = done("rescore", "class", *again, room=room)
    assert f"Nothing is added: '{LAB}/addresses' was taken out of the marks already" in text
    assert "by R. Ops: a misprint\n" in text
    assert taken in page.read_text("utf-8")
    assert "another one" not in done("explain", "class", "t03", room=room)


def test_a_corrected_lab_is_taken_from_a_folder(room: Path) -> None:
    fixed = room.parent / "fixed"
    shutil.copytree(room / "labs" / LAB, fixed)
    text = (fixed / "lab.md").read_text("utf-8")
    (fixed / "lab.md").write_text(text.replace("answer: distance\n", "answer: distance + 1\n"))
    lab = ("--lab", LAB, "fixed", "--reason", "off by one")
    assert "9 result(s) would change." in done("rescore", "class", *lab, "--dry-run", room=room)
    assert not list((room / "labs" / LAB).glob("corrected-*"))
    assert "9 result(s) changed" in done("rescore", "class", *lab, room=room)


def test_a_mark_by_hand_is_given_listed_and_explained(room: Path) -> None:
    assert "Nothing waits" in done("mark", "class", room=room)
    assert "--not-ready" in done("mark", "--help", room=room)
    words = ("t03", f"{LAB}/all-drops", "--share", "0.5", "--by", "R. Ops")
    assert "say why: --note" in fails("mark", "class", *words, cwd=room.parent)
    records = (room / "records.sqlite").read_bytes()
    dry = done("mark", "class", *words, "--note", "on paper", "--dry-run", room=room)
    assert "0.5 of 1 marks" in dry
    assert "1 result(s) would change." in dry
    assert (room / "records.sqlite").read_bytes() == records
    text = done("mark", "class", *words, "--note", "on paper", room=room)
    assert "0.5 of 1 marks, given by R. Ops" in text
    assert "on paper" in done("explain", "class", "t03", room=room)
    again = done("mark", "class", *words, "--note", "on paper", room=room)
    assert "That mark was given already" in again
    assert "--share 0.5" in fails("mark", "class", "t03", f"{LAB}/all-drops", cwd=room.parent)


def test_what_a_trainee_wrote_cannot_steer_the_terminal(room: Path) -> None:
    from labkit.exchange.hand_in import pack
    from labkit.exchange.journal import ANSWER, Journal

    home = room / "workbooks" / "t12"
    journal = Journal(home / f"{LAB}.answers.jsonl")
    journal.append(ANSWER, exercise="all-drops", answer="\x1b[2J\x1b]0;x\x07 5 m")
    pack(home / f"{LAB}.task.json", room / "hand-ins")
    done("score", "class", room=room)
    assert "\x1b" not in done("explain", "class", "t12", room=room)


def test_personal_data_is_printed_as_json_and_erased(room: Path) -> None:
    held = json.loads(done("records", "class", "--personal", "t02", room=room))
    assert held["roster"] == [{"id": "t02", "name": "Bo Lindqvale", "bench": "", "seat": ""}]
    assert "Say why" in fails("records", "class", "--erase", "t02", cwd=room.parent)
    text = done("records", "class", "--erase", "t02", "--reason", "asked", room=room)
    assert "marks kept without a name" in text
    assert "Nobody with the id" in fails("records", "class", "--personal", "t02", cwd=room.parent)
    assert "1 erasures" in done("records", "class", room=room)


def test_who_is_gone_from_the_roster_is_told_and_an_id_corrected(room: Path) -> None:
    roster = room / "roster.csv"
    roster.write_text(roster.read_text("utf-8").replace("t02,Bo", "t2,Bo"), encoding="utf-8")
    told = "Bo Lindqvale (t02) was dealt workbooks and is no longer in roster.csv"
    assert f"! {told}" in done("score", "class", room=room)
    assert "Nothing was dealt. " + told in fails("deal", "class", cwd=room.parent)
    words = ("records", "class", "--same", "t02", "t2")
    assert "Say why" in fails(*words, cwd=room.parent)
    text = done(*words, "--reason", "a zero too many", room=room)
    assert "Bo Lindqvale (t2): plan-the-trunk, dealt to t02" in text
    assert "0 dealt, 12 were dealt already." in done("deal", "class", room=room)
    assert "Give one of" in fails(*words, "--erase", "t03", cwd=room.parent)
    back = done("records", "class", "--same", "t2", "t02", "--reason", "it was right", room=room)
    assert "roster.csv: t2 is t02 now." in back
    assert "Bo Lindqvale (t02): plan-the-trunk, dealt to t02" in back


def test_an_export_is_written_and_counted(room: Path) -> None:
    assert "pass_mark: 60\n" in (room / "class.yaml").read_text("utf-8")
    text = done("export", "class", "--to", "out", room=room)
    assert "12 transcripts, 6 certificates" in text
    assert len(list((room.parent / "out" / "certificates").glob("t*.html"))) == 6


def test_a_class_that_others_can_read_or_that_is_over_time_is_warned_of(room: Path) -> None:
    with (room / "class.yaml").open("a") as stream:
        stream.write("keep_until: 2020-01-01\n")
    assert "was to be kept until 2020-01-01" in done("score", "class", room=room)
