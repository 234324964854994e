"""Reading level and length: against published figures, and told where they pass a threshold."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from broken import SOUND, broken, report_on, the

from labkit.proofing import Severity
from labkit.proofing.syllables import syllables
from labkit.proofing.wording import WORDS_A_MINUTE, Wording, wording_of

# Counts after the CMU Pronouncing Dictionary (its notice stands in syllables.LICENSE.txt). "labs"
# are words of our labs, on which the rules were tuned; "other" are words that they had not seen.
LIST = Path(__file__).with_name("syllables.csv")


@pytest.mark.parametrize(("source", "right"), [("labs", 0.98), ("other", 0.96)])
def test_syllables_are_right_for_so_many_words(source: str, right: float) -> None:
    with LIST.open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["from"] == source]
    assert len(rows) > 600
    hits = sum(str(syllables(row["word"])) in row["syllables"].split("/") for row in rows)
    assert hits / len(rows) >= right


@pytest.mark.parametrize(
    ("word", "count"),
    [("drop-off", 2), ("node’s", 1), ("supply's", 2), ("Ω", 1), ("", 1), ("CAN", 1)],
)
def test_what_is_no_plain_word_has_syllables_too(word: str, count: int) -> None:
    assert syllables(word) == count


def figures(text: str) -> Wording:
    wording = wording_of([text])
    assert wording is not None
    return wording


def test_the_grade_of_a_sentence_that_is_often_shown() -> None:
    # 6 words, 6 syllables: 0.39 · 6 + 11.8 · 1 - 15.59, grade -1.45 in general references.
    assert figures("The cat sat on the mat.").grade == pytest.approx(-1.45)


def test_the_grade_by_hand() -> None:
    # Be-fore an-y-bod-y o-pens a cab-i-net. Call your in-struc-tor and wait now!
    text = figures("Before anybody opens a cabinet. Call your instructor and wait now!")
    assert (text.words, text.sentences) == (11, 2)
    assert text.grade == pytest.approx(0.39 * 11 / 2 + 11.8 * (12 + 8) / 11 - 15.59)


def test_headings_tables_and_code_are_no_sentences_but_are_read() -> None:
    text = figures(
        "# A heading of five words\n\nOne two.\n\n* three four\n* five\n\n"
        "| a | b |\n|---|---|\n| six | seven |\n"
    )
    assert text.sentences == 3
    assert text.words_per_sentence == pytest.approx(5 / 3)
    assert text.words == 5 + 5 + 4


def test_numbers_signs_and_words_of_the_trade_count_as_words_only() -> None:
    plain = figures("We put one on it.")
    trade = figures("We put 4.65 V on its terminators, supplies and CAN_H of an address.")
    assert trade.sentences == 1
    assert trade.words_per_sentence == 13
    # we, put, on, its, and, of, an
    assert trade.syllables_per_word == plain.syllables_per_word == 1


def test_a_decimal_point_ends_no_sentence() -> None:
    assert figures("It is 4.65 V. It was 5.1 V!").sentences == 2


def test_nothing_to_read_has_no_figures() -> None:
    assert wording_of([]) is None
    assert wording_of(["# Heading", "| a |\n|---|\n| b |", "12.5"]) is None


LONG_WINDED = (
    "Notwithstanding considerable organisational particularities, responsible representatives "
    "habitually investigate extraordinarily complicated interdependencies accompanying "
    "installation activities, subsequently communicating comprehensive recommendations"
)


def test_long_sentences_of_long_words_are_to_be_looked_at() -> None:
    report = broken(("It carries", f"{' and '.join([LONG_WINDED] * 6)}. It carries"), draws=3)
    finding = the(report, "hard-to-read")
    assert finding.severity is Severity.LOOK
    assert report.wording is not None
    assert f"reads at grade {report.wording.grade:.1f} (told above 8)" in finding.sentence
    short = broken(("It carries", f"{LONG_WINDED}. It carries"), draws=3)
    assert "hard-to-read" not in {f.id for f in short.findings}


def test_more_text_than_the_minutes_allow() -> None:
    text = "He is here. " * 300
    changes = (("draw:\n", "minutes: 10\ndraw:\n"), ("It carries", f"{text} It carries"))
    report = broken(*changes, draws=3)
    finding = the(report, "long-to-read")
    assert report.wording is not None
    assert report.wording.words > 900
    assert report.wording.minutes == pytest.approx(report.wording.words / WORDS_A_MINUTE)
    assert "of the 10 minutes (told above 25 %, at 238 words a minute)" in finding.sentence
    assert finding.place.field == "minutes"
    longer = broken(("draw:\n", "minutes: 20\ndraw:\n"), changes[1], draws=3)
    assert longer.findings == ()


def test_the_figures_stand_in_the_report() -> None:
    data = report_on(SOUND, 3).to_json()["wording"]
    # The text and both questions, with numbers: counted by hand.
    assert data["words"] == 20 + 7 + 13
    assert data["sentences"] == 5
    assert data["minutes"] == 0.2
