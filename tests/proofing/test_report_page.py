"""The report for a colleague: one page that fetches nothing, every finding at its exercise."""

from __future__ import annotations

import re
from pathlib import Path

from broken import SOUND, line_of
from typer.testing import CliRunner

from labkit.cli import app
from labkit.front_end.written_pages import WRITTEN_POLICY
from labkit.lab.reading import read_lab, read_lab_text
from labkit.proofing import proof
from labkit.proofing.report_page import report_page, texts_of

BENCH = """
```exercise seen
kind: sign_off
title: The <b>trunk</b> is laid
question: Lay the trunk.
marks: 1
items:
  - {id: bend, text: It has its bend radius., look_for: no bend is tighter}
working: As drawn.
```
"""
ALWAYS = SOUND.replace("answer: loss\n", "answer: 4.65\n")


def page_of(text: str, draws: int = 60) -> str:
    return report_page(proof(read_lab_text(text), draws), {"lab.md": text})


def section(page: str, heading: str) -> str:
    """What stands under the heading of an exercise."""
    return next(part for part in page.split("<section>") if f"{heading}</h2>" in part)


def test_a_finding_stands_at_its_exercise_with_its_line_and_what_is_written_there() -> None:
    part = section(page_of(ALWAYS), "1. The loss")
    assert "must be mended" in part
    assert "<code>same-answer</code>" in part
    assert f"lab.md, line {line_of('answer: 4.65', ALWAYS)}" in part
    assert "<code>answer: 4.65</code>" in part
    assert "same-answer" not in section(page_of(ALWAYS), "2. Which end")


def test_each_exercise_has_an_example_with_what_is_offered_its_answer_and_its_working() -> None:
    page = page_of(SOUND)
    loss = section(page, "1. The loss")
    answer = re.search(r"<dt>answer</dt><dd><p>([\d.]+) V</p>", loss)
    assert answer
    assert f"= {float(answer[1]):.2f} V</p></dd>" in loss
    which = section(page, "2. Which end")
    assert "<li><p>three near parts in a row</p></li>" in which
    assert re.search(r"<dt>answer</dt><dd><p>(three near parts|the whole of the far)", which)


def test_the_page_says_what_it_is_of_and_fetches_nothing() -> None:
    lab = read_lab_text(SOUND)
    page = page_of(SOUND)
    assert f'content="{WRITTEN_POLICY}"'.replace("'", "&#39;") in page
    assert lab.digest in page
    assert "sound 1.0" in page
    assert "60 draws" in page
    assert "<script" not in page
    assert not re.search(r"\b(src|href)=", page)
    assert "@import" not in page
    assert "url(" not in page


def test_what_is_accepted_is_folded_with_the_labs_reason() -> None:
    accepted = "accepted: [{finding: same-answer, because: a limit of the cable}]\nunit: V\n"
    part = section(page_of(ALWAYS.replace("unit: V\n", accepted)), "1. The loss")
    folded = part[part.index("<details>") : part.index("</details>")]
    assert "1 accepted" in folded
    assert "The lab says: a limit of the cable" in folded
    assert "same-answer" not in part.replace(folded, "")


def test_what_a_person_marks_says_so_and_a_title_stays_text() -> None:
    page = page_of(SOUND + BENCH)
    part = section(page, "3. The &lt;b&gt;trunk&lt;/b&gt; is laid")
    assert "A person marks it." in part
    assert "It has its bend radius." in part


def test_a_lab_that_extends_another_shows_the_lines_of_both(tmp_path: Path) -> None:
    (tmp_path / "parent").mkdir()
    (tmp_path / "child").mkdir()
    (tmp_path / "parent" / "lab.md").write_text(ALWAYS, "utf-8")
    child = tmp_path / "child" / "lab.md"
    child.write_text("---\nextends: parent\nid: child\nversion: 1.0\ntitle: Child\n---\n", "utf-8")
    page = report_page(proof(read_lab(child), 60), texts_of(child))
    assert "parent/lab.md, line" in section(page, "1. The loss")
    assert "<code>answer: 4.65</code>" in page


def test_the_command_folds_what_is_accepted_and_writes_the_page(tmp_path: Path) -> None:
    lab, page = tmp_path / "lab.md", tmp_path / "report.html"
    accepted = "accepted: [{finding: same-answer, because: a limit of the cable}]\nunit: V\n"
    lab.write_text(ALWAYS.replace("unit: V\n", accepted), "utf-8")
    words = ["proof", str(lab), "--draws", "40"]
    done = CliRunner().invoke(app, [*words, "--report", str(page)])
    assert "Accepted (1)" in done.stdout
    assert "'--all' shows them" in done.stdout
    assert "a limit of the cable" not in done.stdout
    assert "a limit of the cable" in page.read_text("utf-8")
    every = CliRunner().invoke(app, [*words, "--all"])
    assert "a limit of the cable" in every.stdout
    refused = CliRunner().invoke(app, [*words, "--report", str(tmp_path / "no" / "such.html")])
    assert refused.exit_code == 1
    assert "cannot be written" in refused.stderr


def test_of_a_lab_that_cannot_be_read_the_page_tells_the_mistakes_at_their_lines(
    tmp_path: Path,
) -> None:
    lab, page = tmp_path / "broken" / "lab.md", tmp_path / "report.html"
    lab.parent.mkdir()
    text = SOUND.replace("answer: loss\n", "answer: lost <b>\n").replace("marks: 2\n", "marcs: 2\n")
    lab.write_text(text, "utf-8")
    for more in ([], ["--json"]):
        page.unlink(missing_ok=True)
        done = CliRunner().invoke(app, ["proof", str(lab), "--report", str(page), *more])
        assert done.exit_code == 1
        written = page.read_text("utf-8")
        assert f"broken/lab.md, line {line_of('marcs: 2', text)}" in written
        assert "<code>marcs: 2</code>" in written
        assert "Did you mean &#39;marks&#39;?" in written
        assert f'content="{WRITTEN_POLICY}"'.replace("'", "&#39;") in written
        assert "<script" not in written
        assert "<b>" not in written


def test_of_a_file_that_is_no_text_the_page_says_so(tmp_path: Path) -> None:
    lab, page = tmp_path / "lab.md", tmp_path / "report.html"
    lab.write_bytes(b"\xff\xfe\x00")
    done = CliRunner().invoke(app, ["proof", str(lab), "--report", str(page)])
    assert done.exit_code == 1
    assert "not UTF-8" in page.read_text("utf-8")
