"""What the instructor opens: the sheets agree with the marks, pages are harmless and say all."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from harmless_pages import NASTY, Page
from set_clock import SetClock
from tiny_class import TINY_LAB, MakeRoom, Room

from labkit.classroom.exports.sheet import harmless, write_sheets
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.pages.reports import write_pages


def written(room: Room) -> tuple[Scoring, Path]:
    folder = room.folder
    scoring = score(folder)
    write_pages(folder, scoring)
    write_sheets(scoring, folder.scores)
    return scoring, folder.scores


@pytest.fixture
def nasty(make_room: MakeRoom) -> Room:
    """A class whose names are traps; all but the last have handed in something."""
    made = make_room(*NASTY)
    made.deal()
    made.hand_in("t1")
    wrong = {"double": f"{2 * made.number('t2') + 1} m", "plan": {"pump": "9"}}
    made.hand_in("t2", wrong, hints=2)
    for number in range(3, 9):
        made.hand_in(f"t{number}", {"double": "<img src=x onerror=alert(1)> m"})
    return made


def test_both_sheets_read_back_as_the_marks(nasty: Room) -> None:
    scoring, scores = written(nasty)
    csv = pd.read_csv(scores / "score-sheet.csv", encoding="utf-8-sig")
    xlsx = pd.read_excel(scores / "score-sheet.xlsx", sheet_name="Scores")
    pd.testing.assert_frame_equal(csv, xlsx, check_dtype=False)
    assert len(csv) == len(scoring.results) == 9
    for (_, row), result in zip(csv.iterrows(), scoring.results, strict=True):
        assert row["id"] == result.dealt.trainee
        assert row["out of"] == 8
        if not result.counts:
            assert row["state"] == "not handed in"
            assert pd.isna(row["marks"])
            assert pd.isna(row["1 double"])
            continue
        assert row["marks"] == result.earned
        assert row["percent"] == round(100 * result.earned / 8, 1)
        assert [row["1 double"], row["2 parity"], row["3 plan"]] == [
            mark.earned for mark in result.marks
        ]
    assert list(csv["marks"])[:3] == [8, 1, 0]
    assert csv["slips"][1] == "double: one-more; plan: missing-address"


def test_the_columns_are_the_same_whoever_handed_in(nasty: Room) -> None:
    full = list(pd.read_csv(written(nasty)[1] / "score-sheet.csv").columns)
    for file in (nasty.path / "hand-ins").iterdir():
        file.unlink()
    empty = list(pd.read_csv(written(nasty)[1] / "score-sheet.csv").columns)
    assert full == empty
    assert full[-5:] == ["1 double", "2 parity", "3 plan", "slips", "records"]


def test_no_cell_is_a_formula_in_either_sheet(nasty: Room) -> None:
    _, scores = written(nasty)
    sheet = openpyxl.load_workbook(scores / "score-sheet.xlsx").active
    cells = [cell for row in sheet.iter_rows() for cell in row]
    assert not [cell.value for cell in cells if cell.data_type == "f"]
    csv = pd.read_csv(scores / "score-sheet.csv", encoding="utf-8-sig", dtype=str)
    texts = [text for column in csv for text in csv[column].dropna()]
    assert not [text for text in texts if text[0] in "=+-@＝\t\r"]
    names = list(csv["name"])
    assert names[1:6] == ["'=HYPERLINK(1)", "'+cmd|' /C calc'!A0", "'-2+3", "'@SUM(A1)", "'＝1+1"]


def test_scoring_twice_writes_the_same_bytes(nasty: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    import datetime as clock

    _, scores = written(nasty)
    before = {file.name: file.read_bytes() for file in scores.iterdir()}
    assert len(before) == 19
    # Another day, so that a moment of writing anywhere in a file would show.
    day = clock.datetime(2031, 5, 6, 7, 8, 9, tzinfo=clock.UTC)

    class Later(clock.datetime):
        @classmethod
        def now(cls, tz: Any = None) -> Any:
            return day.astimezone(tz)

    monkeypatch.setattr("openpyxl.writer.excel.datetime.datetime", Later)
    monkeypatch.setattr("time.localtime", lambda *_: day.timetuple())
    written(nasty)
    assert {file.name: file.read_bytes() for file in scores.iterdir()} == before


def pages(scores: Path) -> dict[str, Page]:
    return {file.name: Page(file.read_text("utf-8")) for file in sorted(scores.glob("*.html"))}


def test_every_page_is_balanced_runs_nothing_and_fetches_nothing(nasty: Room) -> None:
    _, scores = written(nasty)
    found = pages(scores)
    assert len(found) == 9
    for name, page in found.items():
        assert page.open == [], name
        assert not page.tags & {"script", "img", "iframe", "object", "link", "b"}, name
        assert not [url for url in page.addresses if re.match(r"[a-z]+:|//", url)], name
        text = (scores / name).read_text("utf-8")
        assert not re.search(r"@import|url\(|http", text.replace("http://www.w3.org/2000/svg", ""))


BESIDE = ("debrief.html", "analysis.html")
"""Pages that are written after the overview, which leads to them."""


def test_links_lead_to_pages_that_are_there(nasty: Room) -> None:
    _, scores = written(nasty)
    addresses = pages(scores)["overview.html"].addresses
    assert len(addresses) == 8 + len(BESIDE)
    assert all((scores / address).is_file() for address in addresses if address not in BESIDE)
    write_analysis(nasty.folder, score(nasty.folder))
    assert all((scores / address).is_file() for address in BESIDE)


def test_names_stand_in_pages_as_they_are_written(nasty: Room) -> None:
    scoring, scores = written(nasty)
    found = pages(scores)
    for result in scoring.results:
        assert result.dealt.name in found["overview.html"].words
        if result.counts:
            assert result.dealt.name in found[f"tiny--{result.dealt.trainee}.html"].words


def test_a_page_shows_answer_verdict_slip_right_answer_working_and_hints(nasty: Room) -> None:
    _, scores = written(nasty)
    words = " ".join(pages(scores)["tiny--t2.html"].words.split())
    number = nasty.number("t2")
    assert f"What is twice {number} m?" in words
    assert f"{2 * number + 1} m" in words, "the answer"
    assert f"You counted one more than {2 * number} m." in words, "the slip"
    assert f"{2 * number} m" in words, "a right answer"
    assert f"2 · {number} m = {2 * number} m" in words, "the working"
    assert "2 hints (−1.5)" in words
    assert "1 of 8 marks" in words
    right = " ".join(pages(scores)["tiny--t1.html"].words.split())
    assert "8 of 8 marks" in right
    assert "A right answer" not in right


def test_what_a_trainee_typed_makes_no_link_and_no_image(room: Room) -> None:
    room.hand_in(
        "ann",
        {
            "double": "5 ![x](http://a.b/c.png)",
            "plan": {
                "pump": "![x](//a.b/c)",
                "valve": "<http://a.b>",
                "scale": "[x](javascript:alert(1))",
            },
        },
    )
    _, scores = written(room)
    page = pages(scores)["tiny--ann.html"]
    assert page.addresses == []
    assert not page.tags & {"a", "img"}
    assert "![x](//a.b/c)" in page.words


def test_the_overview_counts_bins_slips_blanks_and_lists_what_needs_a_look(nasty: Room) -> None:
    (nasty.path / "hand-ins" / "<i>bad<i>.json").write_text("{")
    _, scores = written(nasty)
    text = (scores / "overview.html").read_text("utf-8")
    words = " ".join(pages(scores)["overview.html"].words.split())
    assert "8 of 9 handed in · mean 14 %" in words  # (8 + 1 + 6 · 0) / 8 of 8 marks
    assert "0 to 10 %: 6. 10 to 20 %: 1. 20 to 30 %: 0." in text
    assert "90 to 100 %: 1." in text
    assert "1. Double it 12 % 0" in words  # 4 of 32 marks; nobody left it blank
    assert "2. Even or odd 12 % 7" in words
    assert re.search(r"1\. Double it You counted one more than \d+ m\. 1 of 8", words)
    assert "<i>bad<i>.json damaged" in words
    assert "{% raw %} (t9) not handed in" in words


def test_an_empty_class_has_an_overview(room: Room) -> None:
    _, scores = written(room)
    words = " ".join(pages(scores)["overview.html"].words.split())
    assert "0 of 3 handed in" in words
    assert "mean" not in words
    assert "Nobody has handed in yet." in words
    assert "Marks earned" not in words, "no table of exercises without a row"


def test_what_somebody_owes_is_one_line_however_many_labs(room: Room) -> None:
    second = room.library / "other"
    second.mkdir()
    (second / "lab.md").write_text(TINY_LAB.replace("id: tiny", "id: other").replace("LAST", "60"))
    room.write_class(labs="[tiny, other]")
    room.deal()
    room.hand_in("ann")
    _, scores = written(room)
    words = " ".join(pages(scores)["overview.html"].words.split())
    assert "(ben) not handed in No hand-in for 'tiny', 'other' counts." in words
    assert "1 of 6 handed in" in words


def test_a_page_tells_the_time_as_the_class_reads_it(room: Room, clock: SetClock) -> None:
    clock.set("2026-11-20T10:00:00Z")
    room.hand_in("ann")
    room.write_class(time_zone="Asia/Kathmandu")
    write_pages(room.folder, score(room.folder))
    text = (room.folder.scores / "tiny--ann.html").read_text(encoding="utf-8")
    assert "handed in 20 November 2026 15:45 UTC+05:45" in text


def test_bars_are_printed_as_they_are_shown(room: Room) -> None:
    """Browsers leave backgrounds out of print: a bar is a shape, and its ground is asked for."""
    room.hand_in("ann")
    write_pages(room.folder, score(room.folder))
    for name in ("overview.html", "tiny--ann.html"):
        printed = (
            (room.folder.scores / name).read_text(encoding="utf-8").partition("@media print")[2]
        )
        assert ".meter { -webkit-print-color-adjust: exact; print-color-adjust: exact; }" in printed
        assert '<rect width="100.0%" height="100%"/>' in printed


LEADS = [
    "",
    " ",
    "\t",
    "\r",
    "\n",
    "\u200b",
    "\ufeff",
    "\u00a0",
    "\u3000",
    "\u202e",
    "\u2028",
    "\x00\u200d ",
]


@pytest.mark.parametrize("lead", LEADS, ids=ascii)
@pytest.mark.parametrize(
    "sign", ["=", "+", "-", "@", "＝", "＋", "－", "＠", "﹦", "﹢", "﹣", "﹫"]
)
def test_a_formula_is_found_behind_what_does_not_show(lead: str, sign: str) -> None:
    assert harmless(f"{lead}{sign}1+1") == f"'{lead}{sign}1+1"
    assert harmless(f"{lead}a{sign}1") == (
        f"'{lead}a{sign}1" if lead in ("\t", "\r") else f"{lead}a{sign}1"
    )
