"""What labkit writes into a class is for its owner's eyes alone; what is elsewhere is not."""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from tiny_class import Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.correcting import correct
from labkit.classroom.dealing.deal import deal, deal_again
from labkit.classroom.exports.exporting import export
from labkit.classroom.exports.pdf import write_pdfs
from labkit.classroom.exports.printing import print_class
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.handins import demo
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.pages.reports import write_pages
from labkit.lab.library import lab_library

pytestmark = pytest.mark.skipif(os.name != "posix", reason="owners and modes are POSIX's")


@pytest.fixture(autouse=True)
def usual_umask() -> Iterator[None]:
    before = os.umask(0o022)
    yield
    os.umask(before)


def open_to_others(folder: Path, *but: str) -> list[str]:
    return sorted(
        str(file.relative_to(folder))
        for file in folder.rglob("*")
        if stat.S_IMODE(file.lstat().st_mode) & 0o077 and str(file.relative_to(folder)) not in but
    )


def used(folder: ClassFolder, library: Path, stick: Path) -> None:
    """Everything that writes into a class, once."""
    collect(folder, [stick])
    scoring = score(folder)
    write_pages(folder, scoring)
    write_analysis(folder, scoring)
    write_sheets(scoring, folder.scores)
    export(folder, scoring, folder.path / "out" / "here")
    print_class(folder)
    deal_again(folder, library, ["ann"])


def test_only_the_owner_reads_what_is_written_into_a_class(room: Room, tmp_path: Path) -> None:
    room.write_class(pass_mark="60")
    stick = tmp_path / "stick"
    stick.mkdir()
    for trainee in ("ann", "ben"):
        shutil.move(room.hand_in(trainee), stick)
    (stick / "tiny--ben.handin.json").write_text("{ cut")
    shutil.rmtree(room.path / "hand-ins")
    used(room.folder, room.library, stick)
    text = (room.library / "tiny" / "lab.md").read_text("utf-8")
    (tmp_path / "lab.md").write_text(text.replace("answer: twice\n", "answer: twice + 1\n"))
    correct(room.folder, "tiny", tmp_path / "lab.md", reason="off by one", by="R. Ops")
    assert len(list(room.path.rglob("*"))) > 40
    journals = [f"workbooks/{trainee}/tiny.answers.jsonl" for trainee in ("ann", "ben")]
    # The trainees' own, and the trainer's own.
    assert open_to_others(room.path, "class.yaml", "roster.csv", *journals) == []


def test_the_demo_class_is_private_to_the_last_file(tmp_path: Path) -> None:
    folder = demo.make_class(tmp_path / "demo", mode="practice")
    dealt = deal(folder, lab_library()).deal
    demo.play(folder, folder.lab(demo.LAB), dealt)
    assert open_to_others(tmp_path / "demo") == []


def test_a_pdf_is_as_private_as_its_page(room: Room, tmp_path: Path) -> None:
    browser = tmp_path / "browser"
    browser.write_text(
        "#!/bin/sh\nfor word; do case $word in --print-to-pdf=*) out=${word#*=};; esac; done\n"
        'printf %%PDF-1.4 > "$out"\n'
    )
    browser.chmod(0o700)
    page = print_class(room.folder).each[0]
    page.with_suffix(".pdf").write_text("older")
    assert stat.S_IMODE(write_pdfs(str(browser), [page])[0].stat().st_mode) == 0o600
    page.chmod(0o644)
    assert stat.S_IMODE(write_pdfs(str(browser), [page])[0].stat().st_mode) == 0o644


def test_an_export_elsewhere_is_as_readable_as_the_instructor_s_other_files(
    room: Room, tmp_path: Path
) -> None:
    out = export(room.folder, score(room.folder), tmp_path / "out").folder
    assert stat.S_IMODE((out / "oneroster" / "results.csv").stat().st_mode) == 0o644
    assert stat.S_IMODE((out / "transcripts").stat().st_mode) == 0o755
    assert stat.S_IMODE(print_class(room.folder, tmp_path / "p").together.stat().st_mode) == 0o644


def test_an_older_class_s_folders_are_left_and_its_files_are_private_once_rewritten(
    room: Room,
) -> None:
    room.hand_in("ann")
    for _ in range(2):
        collect(room.folder)
        write_sheets(score(room.folder), room.folder.scores)
        for file in room.path.rglob("*"):
            file.chmod(0o755 if file.is_dir() else 0o644)
    write_sheets(score(room.folder), room.folder.scores)
    room.deal()
    modes = {
        name: stat.S_IMODE((room.path / name).stat().st_mode)
        for name in ("scores", "scores/score-sheet.csv", "deal.json", "records.sqlite")
    }
    assert modes == {
        "scores": 0o755,
        "scores/score-sheet.csv": 0o600,
        "deal.json": 0o600,
        "records.sqlite": 0o600,
    }
    assert stat.S_IMODE((room.path / "roster.csv").stat().st_mode) == 0o644


def test_a_workbook_opens_from_a_copy(room: Room, tmp_path: Path) -> None:
    from labkit.exchange.hand_in import pack

    shutil.copytree(room.home("ben"), tmp_path / "stick")
    assert pack(tmp_path / "stick" / "tiny.task.json").exists()
