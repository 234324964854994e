"""What proof tells of exercises that were taken from another lab."""

from __future__ import annotations

from pathlib import Path

import pytest
from broken import SOUND

from labkit.proofing import Finding, Severity, proof_file

HEAD = "---\nid: mine\nversion: 1.0\ntitle: Mine\n---\n\n"


def found(folder: Path, block: str, text: str = "") -> list[Finding]:
    theirs = SOUND.replace("id: sound", "id: theirs")
    for name, written in (("theirs", theirs), ("mine", f"{HEAD}{text}\n\n{block}")):
        (folder / name).mkdir(exist_ok=True)
        (folder / name / "lab.md").write_text(written, encoding="utf-8")
    return list(proof_file(folder / "mine" / "lab.md", 3, jobs=1).findings)


def ids(findings: list[Finding]) -> set[str]:
    return {finding.id for finding in findings} & {
        *("taken-from", "taken-of-another-version", "not-shown", "rule-not-taken", "unused")
    }


TAKEN = "```exercise taken\nfrom: theirs/loss{}\n{}```\n"


def test_what_was_taken_is_told_and_values_that_nothing_shows(tmp_path: Path) -> None:
    findings = found(tmp_path, TAKEN.format("", ""))
    assert ids(findings) == {"taken-from", "not-shown"}
    told = {finding.id: finding for finding in findings}
    assert told["taken-from"].severity is Severity.NOTE
    assert told["not-shown"].severity is Severity.LOOK
    assert "hangs on near, far, load" in told["not-shown"].sentence
    assert told["not-shown"].exercise == "taken"


@pytest.mark.parametrize(
    ("text", "own"),
    [
        ("The parts have {{ near }} m and {{ far }} m at {{ load }} A.", ""),
        ("{{ length }} m.", "question: How much at {{ load }} A?\n"),
        ("{{ loss }} V", ""),
    ],
)
def test_a_value_is_shown_by_itself_or_by_what_follows_from_it(
    text: str, own: str, tmp_path: Path
) -> None:
    findings = found(tmp_path, TAKEN.format("", own), text)
    assert ids(findings) == {"taken-from"}


def test_a_hint_and_the_working_show_nothing(tmp_path: Path) -> None:
    own = "working: '{{ near }} {{ far }} {{ load }}'\n"
    assert "not-shown" in ids(found(tmp_path, TAKEN.format("", own)))


def test_another_version_is_to_be_looked_at(tmp_path: Path) -> None:
    findings = found(tmp_path, TAKEN.format(" 0.9", ""))
    (told,) = [each for each in findings if each.id == "taken-of-another-version"]
    assert told.severity is Severity.LOOK
    assert (told.place.file, told.place.line) == ("mine/lab.md", 10)


def test_a_field_that_is_written_anew_leaves_no_name_unused(tmp_path: Path) -> None:
    own = "hints: []\nslips: []\nworking: So.\nanswer: near\nunit: m\n"
    assert "unused" not in ids(found(tmp_path, TAKEN.format("", own), "{{ near }}"))
