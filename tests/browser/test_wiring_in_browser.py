"""Wiring a device in the browser: by mouse, keyboard and dragging, then tested and checked."""

from __future__ import annotations

from typing import Any

import pytest
from bench_class import BenchDesk, sit_down
from driving import WAIT_MS, Server, Station
from playwright.sync_api import expect
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

from labkit.kinds.wiring.check import readings
from labkit.kinds.wiring.data import Answer

pytestmark = pytest.mark.browser

NAME = "new-device"


def test_a_device_is_wired_tested_mended_and_right(kept: Station, server: Server) -> None:
    desk = sit_down(server, "wiring-practice", "practice")
    kept.open_next(desk.notebook)
    frame = kept.exercise(NAME)
    frame.locator(".lk-screw-slot").first.wait_for()
    frame.get_by_role("button", name="Test it").click()
    frame.get_by_text("Land the conductors first.").wait_for()
    _lands_each_way(kept, frame)
    _chooses_places(kept, frame)
    _tests(frame, wrong=_astray(desk))
    for theme in ("dark", "light"):
        kept.theme(theme)
        assert kept.page.evaluate(NAMELESS) == []
        assert kept.page.evaluate(LOW_CONTRAST)["found"] == []
        assert kept.page.evaluate(TOO_WIDE) == []
        kept.shot(f"wiring-{theme}", f'[data-exercise="{NAME}"]')
    frame.get_by_role("button", name="Check my answer").click()
    kept.wait_verdict(NAME, "wrong")
    feedback = frame.locator(".lk-feedback").text_content()
    assert "CAN_H and CAN_L are exchanged" in feedback
    assert "one at tap 3, where none belongs" in feedback
    _mends(frame)
    _tests(frame, wrong=0)
    frame.get_by_role("button", name="Check my answer").click()
    kept.wait_verdict(NAME, "right")
    assert desk.scored(NAME).right
    kept.open(desk.notebook)
    expect(frame.get_by_role("button", name="Terminal 4: white")).to_be_visible()
    pressed = frame.locator('.lk-toggle[aria-pressed="true"]')
    assert pressed.count() == 3
    kept.put_away()


def _lands_each_way(station: Station, frame: Any) -> None:
    keys = station.page.keyboard
    # Chosen, then its terminal.
    frame.get_by_role("button", name="Conductor black").click()
    frame.get_by_role("button", name="Terminal 1").click()
    expect(frame.get_by_role("button", name="Terminal 1: black")).to_be_visible()
    # By keyboard alone.
    frame.get_by_role("button", name="Conductor bare").focus()
    keys.press("3")
    keys.press("ArrowDown")
    keys.press("ArrowDown")
    keys.press("4")
    expect(frame.get_by_role("button", name="Terminal 4: blue")).to_be_visible()
    # Dragged; one that comes onto a taken terminal sends the other back.
    white = frame.get_by_role("button", name="Conductor white")
    white.scroll_into_view_if_needed()
    for number in (4, 2):
        start = white.bounding_box()
        end = frame.locator(f'[data-slot="{number}"]').bounding_box()
        station.page.mouse.move(start["x"] + 20, start["y"] + 10)
        station.page.mouse.down()
        station.page.mouse.move(end["x"] + 20, end["y"] + 20, steps=5)
        station.page.mouse.up()
        expect(frame.get_by_role("button", name=f"Terminal {number}: white")).to_be_visible()
    expect(frame.get_by_role("button", name="Conductor blue")).to_contain_text("loose")
    frame.get_by_role("button", name="Conductor blue").press("4")
    frame.get_by_role("button", name="Conductor red").press("5")


def _chooses_places(station: Station, frame: Any) -> None:
    frame.get_by_role("button", name="Terminator at left end").click()
    for _ in range(3):
        station.page.keyboard.press("ArrowRight")
    station.page.keyboard.press("Enter")
    expect(frame.get_by_role("button", name="Terminator at tap 3")).to_have_attribute(
        "aria-pressed", "true"
    )
    frame.get_by_role("button", name="Shield to earth at left end").click()


def _astray(desk: BenchDesk) -> int:
    """How many readings of the bench are not what they should be, as the trainee has wired it."""
    landed = {"black": 1, "white": 2, "bare": 3, "blue": 4, "red": 5}
    ask: Any = desk.prepared[NAME].ask
    made: Answer = {
        "conductors": landed,
        "terminators": ["left end", "tap 3"],
        "shield": ["left end"],
    }
    rows = readings(ask, made)
    count = sum(not row["fits"] for row in rows)
    assert 0 < count < len(rows)
    return count


def _tests(frame: Any, *, wrong: int) -> None:
    frame.get_by_role("button", name="Test it").click()
    expect(frame.locator(".lk-old")).to_have_count(0, timeout=WAIT_MS)
    expect(frame.locator(".lk-readings tbody tr")).to_have_count(7, timeout=WAIT_MS)
    expect(frame.locator(".lk-unfit")).to_have_count(wrong, timeout=WAIT_MS)


def _mends(frame: Any) -> None:
    frame.get_by_role("button", name="Conductor white").press("4")
    frame.get_by_text("Measured before your last change").wait_for()
    frame.get_by_role("button", name="Conductor blue").press("2")
    for name in ("Terminator at tap 3", "Terminator at right end", "Shield to earth at left end"):
        frame.get_by_role("button", name=name, exact=True).click()
    frame.get_by_role("button", name="Shield to earth at power tap of supply").click()


def test_an_assessed_wiring_is_saved_as_it_goes_and_not_tested(
    station: Station, server: Server
) -> None:
    desk = sit_down(server, "wiring-assessed", "assessed")
    station.open(desk.notebook)
    frame = station.exercise(NAME)
    frame.locator(".lk-screw-slot").first.wait_for()
    assert frame.get_by_role("button", name="Test it").count() == 0
    for colour, number in {"black": 1, "blue": 2, "bare": 3, "white": 4, "red": 5}.items():
        frame.get_by_role("button", name=f"Conductor {colour}").press(str(number))
    for name in ("Terminator at left end", "Terminator at right end"):
        frame.get_by_role("button", name=name).click()
    frame.get_by_role("button", name="Shield to earth at power tap of supply").click()
    station.wait_state(NAME, "saved")
    assert station.exercise(NAME).get_attribute("data-verdict") is None
    assert desk.scored(NAME).right
