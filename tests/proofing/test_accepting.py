"""What a lab lets stand: listed apart with its reason, and told where it stands for nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from broken import SOUND, broken, line_of, the

from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import Report, Severity, proof
from labkit.proofing.accepting import ENOUGH

LOOSE = ("tolerance: 1 %", "tolerance: 30 %")
SAME = ("answer: loss\n", "answer: 4.65\n")
MARKS = "marks: 2\n"


def at_exercise(*items: str) -> tuple[str, str]:
    return MARKS, MARKS + "accepted:\n" + "".join(f"  - {item}\n" for item in items)


def in_header(*items: str) -> tuple[str, str]:
    return "draw:\n", "accepted:\n" + "".join(f"  - {item}\n" for item in items) + "draw:\n"


def ids(report: Report) -> set[str]:
    return {finding.id for finding in report.findings}


def test_what_is_accepted_at_the_exercise_is_listed_apart_and_does_not_fail() -> None:
    loose = broken(LOOSE)
    assert not loose.ready
    item = "{finding: tolerance-takes-slip, because: only the order of size is asked}"
    report = broken(LOOSE, at_exercise(item))
    assert report.ready
    assert ids(report) == ids(loose) - {"tolerance-takes-slip"}
    (stands,) = report.accepted
    assert stands.finding.sentence == the(loose, "tolerance-takes-slip").sentence
    assert stands.word.because == "only the order of size is asked"
    assert stands.word.place.line == line_of("  - {finding", SOUND.replace(*at_exercise(item)))


def test_the_report_as_json_holds_the_reason_and_where_it_stands() -> None:
    report = broken(SAME, in_header("{finding: same-answer, exercise: loss, because: a limit}"))
    data = json.loads(json.dumps(report.to_json()))
    (stands,) = data["accepted"]
    assert stands["id"] == "same-answer"
    assert stands["accepted"] == {"because": "a limit", "file": "lab.md", "line": 6}
    assert "same-answer" not in {finding["id"] for finding in data["findings"]}


def test_the_header_accepts_for_the_lab_as_a_whole_or_for_one_exercise_only() -> None:
    plain = in_header("{finding: same-answer, because: a limit}")
    assert "same-answer" in ids(broken(SAME, plain))
    other = in_header("{finding: same-answer, exercise: which, because: a limit}")
    assert "same-answer" in ids(broken(SAME, other))
    whole = in_header("{finding: no-difficulty, because: one case for all}")
    report = broken(whole, ("difficulty: {formula: near + far, band: [20, 90]}\n", ""))
    assert [stands.finding.id for stands in report.accepted] == ["no-difficulty"]


@pytest.mark.parametrize("of", ["both-conductors", "far-part-only"])
def test_of_one_slip_lets_the_other_stay_open(of: str) -> None:
    changes = (
        ("answer: 2 * loss", "answer: loss if near < 5 else 2 * loss"),
        ("answer: far * ohms * load", "answer: loss if near > 9 else far * ohms * load"),
    )
    assert [f.of for f in broken(*changes).findings] == ["both-conductors", "far-part-only"]
    word = f"{{finding: slip-is-right, of: {of}, because: it shows in most draws}}"
    report = broken(*changes, at_exercise(word))
    assert [stands.finding.of for stands in report.accepted] == [of]
    assert [f.of for f in report.findings] == [
        {"both-conductors", "far-part-only"}.difference([of]).pop()
    ]
    both = broken(*changes, at_exercise(word, "{finding: slip-is-right, because: all the same}"))
    assert both.findings == ()
    reasons = {stands.finding.of: stands.word.because for stands in both.accepted}
    assert reasons.pop(of) == "it shows in most draws"
    assert [*reasons.values()] == ["all the same"]


def test_of_a_name_and_of_a_number() -> None:
    spare = ("let:\n", "let:\n  spare: near + 1\n")
    number = ("answer: loss\n", "answer: loss + 47\n")
    report = broken(
        spare,
        number,
        in_header("{finding: unused, of: spare, because: kept for the next edition}"),
        at_exercise("{finding: unsourced, of: 47, because: an offset of our own}"),
        draws=20,
    )
    assert {stands.finding.of for stands in report.accepted} == {"spare", "47"}
    assert not {"unused", "unsourced"} & ids(report)


@pytest.mark.parametrize(
    ("word", "sentence", "mend"),
    [
        (
            "{finding: same-anser, because: b}",
            "'same-anser' is accepted, but proof has no such finding.",
            "Did you mean 'same-answer'?",
        ),
        (
            "{finding: same-answer, exercise: lost, because: b}",
            "'same-answer' is accepted, but there is no exercise 'lost'.",
            "Did you mean 'loss'?",
        ),
        (
            "{finding: no-solution, because: b}",
            "'no-solution' is accepted, but it can never stand.",
            "Mend what it tells, and take this out.",
        ),
    ],
)
def test_a_misspelt_word_must_be_mended_at_its_line(word: str, sentence: str, mend: str) -> None:
    finding = the(broken(in_header(word), draws=10), "accepts-nothing")
    assert (finding.severity, finding.sentence, finding.mend) == (Severity.MUST, sentence, mend)
    assert finding.place.line == 6
    assert finding.place.field == "accepted → number 1"


@pytest.mark.parametrize("name", ["no-value", "kind-fails", "unreadable", "accepts-nothing"])
def test_what_can_never_stand(name: str) -> None:
    report = broken(at_exercise(f"{{finding: {name}, because: b}}"), draws=10)
    assert "can never stand" in the(report, "accepts-nothing").sentence
    assert not report.ready


def test_an_exercise_without_a_solution_stays_open_whatever_is_accepted() -> None:
    changes = (
        ('"near-part" if near * 3 > far else "far-part"', '"near-part" if near > 5 else "nobody"'),
        ("marks: 1\n", "marks: 1\naccepted:\n  - {finding: no-value, because: b}\n"),
    )
    report = broken(*changes)
    assert {"no-value", "accepts-nothing"} <= ids(report)
    assert report.accepted == ()


def test_a_word_for_nothing_is_told_once_enough_was_drawn() -> None:
    word = at_exercise("{finding: same-answer, because: a limit}")
    assert broken(word, draws=ENOUGH - 1).findings == ()
    report = broken(word, draws=ENOUGH)
    finding = the(report, "accepts-nothing")
    assert finding.severity is Severity.LOOK
    assert finding.sentence == (
        "'same-answer' is accepted, but no such finding at 'loss' in 1000 draws."
    )
    assert finding.mend == "Take it out."
    assert finding.exercise == "loss"


def test_a_word_for_nothing_offers_what_is_there() -> None:
    near_miss = at_exercise("{finding: tolerance-takes-slip, of: far-part, because: b}")
    finding = the(broken(LOOSE, near_miss, draws=ENOUGH), "accepts-nothing")
    assert "no such finding of 'far-part' at 'loss'" in finding.sentence
    assert "'far-part-only'" in finding.mend
    elsewhere = in_header("{finding: tolerance-takes-slip, because: b}")
    finding = the(broken(LOOSE, elsewhere, draws=ENOUGH), "accepts-nothing")
    assert "of the lab as a whole" in finding.sentence
    assert "say at which exercise" in finding.mend
    assert "'loss'" in finding.mend or "Known here: loss" in finding.mend


def test_a_reason_must_be_given() -> None:
    with pytest.raises(DefinitionError, match=r"because.*is missing"):
        read_lab_text(SOUND.replace(*at_exercise("{finding: same-answer}")))
    with pytest.raises(DefinitionError, match=r"because.*is empty"):
        read_lab_text(SOUND.replace(*in_header("{finding: same-answer, because: ''}")))
    with pytest.raises(DefinitionError, match="is not a field here"):
        read_lab_text(
            SOUND.replace(*at_exercise("{finding: same-answer, exercise: loss, because: b}"))
        )


HEAD = "---\nextends: sound\nid: child\nversion: 1.0\ntitle: Child\n"


def child_report(folder: Path, parent: str, child: str, draws: int = 150) -> Report:
    for name, text in (("sound", parent), ("child", child)):
        (folder / name).mkdir()
        (folder / name / "lab.md").write_text(text, encoding="utf-8")
    return proof(read_lab(folder / "child" / "lab.md"), draws)


def changed(*changes: tuple[str, str]) -> str:
    text = SOUND
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


SLIGHTLY = ("tolerance: 1 %", "tolerance: 5 %")
TAKES = "{finding: tolerance-takes-slip, because: the order of size is enough}"


@pytest.mark.parametrize("where", ["exercise", "header"])
def test_a_lab_that_extends_another_takes_over_what_may_stand(where: str, tmp_path: Path) -> None:
    word = (
        at_exercise(TAKES)
        if where == "exercise"
        else in_header(TAKES.replace("because", "exercise: loss, because"))
    )
    report = child_report(tmp_path, changed(SLIGHTLY, word), f"{HEAD}---\n")
    (stands,) = report.accepted
    # A tolerance of 5 % is soon hit by halving, too.
    assert [finding.id for finding in report.findings] == ["found-by-halving"]
    assert stands.word.place.file == "sound/lab.md"
    assert stands.word.place.line == line_of("tolerance-takes-slip", changed(SLIGHTLY, word))


def test_what_must_be_mended_is_not_taken_over(tmp_path: Path) -> None:
    parent = changed(LOOSE, at_exercise(TAKES))
    report = child_report(tmp_path, parent, f"{HEAD}---\n")
    assert the(report, "tolerance-takes-slip").severity is Severity.MUST
    own = "accepted:\n  - {finding: tolerance-takes-slip, exercise: loss, because: here too}\n"
    (tmp_path / "again").mkdir()
    report = child_report(tmp_path / "again", parent, f"{HEAD}{own}---\n")
    assert report.ready
    assert [stands.word.because for stands in report.accepted] == ["here too"]


def test_what_the_other_lab_accepts_for_nothing_here_is_not_told(tmp_path: Path) -> None:
    difficulty = "difficulty: {formula: near + far, band: [20, 90]}\n"
    parent = changed((difficulty, ""), in_header("{finding: no-difficulty, because: b}"))
    report = child_report(tmp_path, parent, f"{HEAD}{difficulty}---\n", draws=ENOUGH)
    assert report.findings == ()
    assert report.accepted == ()


def test_the_same_word_of_the_child_takes_the_others_place(tmp_path: Path) -> None:
    header = TAKES.replace("because", "exercise: loss, because")
    parent = changed(SLIGHTLY, in_header("{finding: unused, because: b}", header))
    own = header.replace("the order of size is enough", "our own reason")
    report = child_report(tmp_path, parent, f"{HEAD}accepted:\n  - {own}\n---\n")
    assert [word.because for word in report.lab.accepted] == ["b", "our own reason"]
    assert [stands.word.because for stands in report.accepted] == ["our own reason"]
    assert report.accepted[0].word.place.file == "child/lab.md"
    assert report.accepted[0].word.place.line == 7


def test_a_word_goes_with_the_exercise_that_is_left_out(tmp_path: Path) -> None:
    header = TAKES.replace("because", "exercise: loss, because")
    parent = changed(SLIGHTLY, in_header(header))
    report = child_report(
        tmp_path, parent, f"{HEAD}leave out:\n  exercises: [loss]\n---\n", draws=10
    )
    assert report.lab.accepted == ()
    assert "accepts-nothing" not in ids(report)
