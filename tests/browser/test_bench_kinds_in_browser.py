"""The kinds of the real bench in the browser: a text, a sign-off, a measured value."""

from __future__ import annotations

from pathlib import Path

import pytest
from dealt import Desk, drawn_desk
from driving import Server, Station
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

pytestmark = pytest.mark.browser

LAB = Path(__file__).parents[1] / "library" / "bench-day" / "lab.md"


def bench_day(server: Server, *, practice: bool) -> Desk:
    """The bench day's workbook at the server."""
    folder = server.root / ("bench-practice" if practice else "bench-assessed")
    return drawn_desk(draw(read_lab(LAB), "browser"), folder, practice=practice)


def test_a_practice_bench_day_is_answered_and_waits_for_the_instructor(
    kept: Station, server: Server
) -> None:
    book = bench_day(server, practice=True)
    kept.open_next(book.notebook)
    _signs_off(kept, book)
    _measures(kept, book)
    _writes(kept, book)
    for theme in ("dark", "light"):
        kept.theme(theme)
        measured = kept.page.evaluate(LOW_CONTRAST)
        assert measured["seen"] > 60
        assert measured["found"] == []
        assert kept.page.evaluate(NAMELESS) == []
        assert kept.page.evaluate(TOO_WIDE) == []
        for name in ("isolate", "terminators", "why-two"):
            kept.shot(f"bench-{theme}-{name}", f'[data-exercise="{name}"]')
    _comes_back(kept, book)
    kept.put_away()


def _signs_off(station: Station, book: Desk) -> None:
    frame = station.exercise("isolate")
    assert frame.get_by_role("note").text_content().startswith("⚠ Caution")
    assert "Local codes" in frame.get_by_role("note").text_content()
    assert frame.get_by_text("The lock on the supply's switch").is_visible()
    assert frame.get_by_role("button", name="Check my answer").count() == 0
    frame.get_by_role("button", name="Save my answer").click()
    station.wait_verdict("isolate", "unreadable")
    assert "Tick an item" in frame.locator(".lk-feedback").text_content()
    first, second = frame.get_by_role("checkbox", name="Ready to be seen").all()
    # A tick is saved at once, in practice too: there is nothing to try out.
    first.check()
    station.wait_verdict("isolate", "awaits")
    assert "1 of 2 ready to be seen" in frame.locator(".lk-feedback").text_content()
    assert "Not ready yet: V+ to V−" in frame.locator(".lk-feedback").text_content()
    frame.get_by_label("Note on: V+ to V− is proved dead.").fill("on the far tap")
    second.focus()
    station.page.keyboard.press("Space")
    frame.get_by_text("2 of 2 ready to be seen. Call your instructor.").wait_for()
    ready = {"ready": True, "note": ""}
    assert book.on_disk("isolate")[-1] == {
        "off": ready,
        "proved": {**ready, "note": "on the far tap"},
    }


def _measures(station: Station, book: Desk) -> None:
    frame = station.exercise("terminators")
    line = frame.get_by_role("textbox")
    check = frame.get_by_role("button", name="Check my answer")
    line.fill("60.7 ohm")
    check.click()
    station.wait_verdict("terminators", "unreadable")
    assert "Choose the meter" in frame.locator(".lk-feedback").text_content()
    frame.get_by_role("radio", name="a pocket meter").check()
    for typed, verdict, words in (
        ("OL", "wrong", "No terminator is reached"),
        ("121.5", "unreadable", "121.5 of what?"),
        ("121.5 ohm", "wrong", "one terminator alone"),
        ("60.7 ohm", "right", "fits. These parts and this meter allow"),
    ):
        line.fill(typed)
        line.press("Enter")
        frame.locator(".lk-feedback").get_by_text(words).wait_for()
        station.wait_verdict("terminators", verdict)
        assert book.on_disk("terminators")[-1] == {"value": typed, "meter": "pocket"}


def _writes(station: Station, book: Desk) -> None:
    frame = station.exercise("why-two")
    area, count = frame.get_by_role("textbox", name="Your answer"), frame.locator(".lk-words")
    assert count.text_content() == "0 words · 15 to 80 words are asked for"
    area.fill("A signal runs to both ends.")
    assert count.text_content().startswith("6 words · ")
    assert count.text_content().endswith("9 more, at least")
    # Enter is a new line here, and letters are no shortcuts of the notebook.
    area.press("End")
    area.press("Enter")
    area.type("dd " * 80)
    assert count.text_content().startswith("86 words")
    assert count.text_content().endswith("6 too many")
    area.fill("A signal runs to both ends. " * 4)
    assert count.text_content() == "24 words · 15 to 80 words are asked for"
    station.page.keyboard.press("Tab")
    station.wait_verdict("why-two", "awaits")
    assert "24 words. Your instructor reads" in frame.locator(".lk-feedback").text_content()
    assert book.on_disk("why-two") == ["A signal runs to both ends. " * 4]


def _comes_back(station: Station, book: Desk) -> None:
    station.open(book.notebook)
    assert station.exercise("why-two").get_by_role("textbox").input_value().startswith("A signal")
    frame = station.exercise("isolate")
    assert all(box.is_checked() for box in frame.get_by_role("checkbox").all())
    assert frame.get_by_label("Note on: V+").input_value() == "on the far tap"
    frame = station.exercise("terminators")
    assert frame.get_by_role("radio", name="a pocket meter").is_checked()
    assert frame.get_by_role("textbox").input_value() == "60.7 ohm"


def test_an_assessed_bench_day_records_and_holds_no_rubric(
    station: Station, server: Server
) -> None:
    book = bench_day(server, practice=False)
    station.open(book.notebook)
    frame = station.exercise("terminators")
    frame.get_by_role("radio", name="the bench meter").check()
    station.wait_state("terminators", "saved")
    frame.get_by_role("textbox").fill("121.5 ohm")
    station.page.keyboard.press("Tab")
    station.exercise("why-two").get_by_role("textbox").fill("A signal runs to both ends. " * 4)
    station.page.keyboard.press("Tab")
    station.exercise("isolate").get_by_role("checkbox").first.check()
    for name in ("terminators", "why-two", "isolate"):
        station.wait_state(name, "saved")
        assert station.exercise(name).get_attribute("data-verdict") is None
    assert book.on_disk("terminators")[-1] == {"value": "121.5 ohm", "meter": "bench"}
    assert book.on_disk("isolate")[-1]["off"]["ready"] is True
    sent = "\n".join([*station.received, station.page.content(), _files(book.folder)])
    for words in ("thrown back", "marks_share", "one terminator alone", "characteristic impedance"):
        assert words not in sent, words
    assert "The lock on the supply" in sent


def _files(folder: Path) -> str:
    return "".join(file.read_text("utf-8") for file in folder.iterdir() if file.is_file())
