"""Proof-reading by several processes says what one process says."""

from __future__ import annotations

from pathlib import Path

import pytest
from broken import SOUND, but_for_times

from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError
from labkit.proofing import proof, proof_file, sharing

# Something for every family of findings, also what fails in a few draws only.
MUCH_WRONG = [
    ("tolerance: 1 %", "tolerance: 5 %"),
    ("answer: loss\n", "answer: loss + 1 / (near - 7)\n"),
    ("answer: 2 * loss", "answer: loss + 1 / (near - 7) if near < 9 else 2 * loss"),
    ("rule: far > near", "rule: far > near and load > 1.3"),
    ("band: [20, 90]", "band: [25, 60]"),
    ('"near-part" if near * 3 > far else "far-part"', '"near-part" if near > 4 else "far-part"'),
    ("question: The supply", "question: Not {{ load * ohms * length }}. The supply"),
    ("marks: 1\n", "marks: 1\naccepted:\n  - {finding: guessable, because: it is the first}\n"),
]


def written(folder: Path, text: str) -> Path:
    file = folder / "lab.md"
    file.write_text(text, encoding="utf-8")
    return file


@pytest.fixture
def much_wrong(tmp_path: Path) -> Path:
    text = SOUND
    for old, new in MUCH_WRONG:
        assert old in text, old
        text = text.replace(old, new, 1)
    return written(tmp_path, text)


def test_two_processes_say_what_one_says(much_wrong: Path) -> None:
    alone = but_for_times(proof(read_lab(much_wrong), 150))
    told: list[tuple[int, int]] = []
    shared = proof_file(much_wrong, 150, lambda done, total: told.append((done, total)), jobs=2)
    assert but_for_times(shared) == alone
    found = {finding["id"] for finding in alone["findings"]}
    assert found >= {"no-value", "outside-band", "tolerance-takes-slip", "slip-is-right"}
    assert [finding["id"] for finding in alone["accepted"]] == ["guessable"]
    assert alone["thrown_away"] > 0
    (rule,) = alone["screening"]["rules"]
    assert (rule["asked"], rule["turned_down"]) == (
        150 + alone["thrown_away"],
        alone["thrown_away"],
    )
    assert rule["rather"]["draw"] == "load"
    assert told[-1] == (150, 150)
    assert len(told) > 3
    assert told == sorted(told)


def test_a_lab_without_any_scenario_is_given_up_by_one_process(tmp_path: Path) -> None:
    file = written(tmp_path, SOUND.replace("rule: far > near", "rule: far > 99"))
    shared, alone = proof_file(file, 200, jobs=2), proof(read_lab(file), 200)
    assert but_for_times(shared) == but_for_times(alone)


def test_a_file_that_changes_meanwhile_is_told(much_wrong: Path) -> None:
    with pytest.raises(DefinitionError, match="was changed while it was proof-read"):
        sharing._tallied(much_wrong, "another digest", 4, 5)


def test_few_draws_start_no_other_process(
    much_wrong: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def start(**_: object) -> None:
        raise AssertionError

    monkeypatch.setattr("joblib.Parallel", start)
    assert proof_file(much_wrong, 30, jobs=2).drawn == 30
    assert proof_file(much_wrong, 120, jobs=1).drawn == 120
