"""The kinds of the controller's side, clicked through: memory map, planning board, ladder."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from dealt import Desk, class_of_one
from driving import SHOTS, Server, Station
from hands import HANDS, lay_map
from playwright.sync_api import expect
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

pytestmark = pytest.mark.browser

SECRET = "5" * 64
LAB_FOLDER = Path(__file__).parents[1] / "lab" / "labs" / "controller-side"


def sit_down(server: Server, mode: str) -> Desk:
    """Deal the lab to a class of one; in its draw byte 22 of the map is free to drag a block to."""
    return class_of_one(server.root / f"controller-side-{mode}", LAB_FOLDER, mode, "side", SECRET)


def give(station: Station, desk: Desk, name: str, answer: Any, verdict: str) -> None:
    """Fill in an answer and check it."""
    solution = desk.solutions()[name]
    HANDS[solution.kind](station.exercise(name), solution, answer)
    station.press(solution)
    station.wait_verdict(name, verdict)
    assert desk.on_disk(name)[-1] == answer


def test_practice_click_through(kept: Station, server: Server) -> None:
    desk = sit_down(server, "practice")
    kept.open_next(desk.notebook)
    assert kept.page.evaluate(NAMELESS) == []
    _blocks_are_laid_by_mouse(kept, desk)
    _cards_are_put_by_mouse(kept, desk)
    for name, solution in desk.solutions().items():
        give(kept, desk, name, solution.right, "right")
    _looks_right(kept, desk, "right")
    _the_motor_is_started_and_stopped(kept, desk)
    # Opened anew, every answer is there as it was saved.
    kept.open(desk.notebook)
    for name in desk.solutions():
        kept.wait_verdict(name, "right")
    kept.put_away()


def test_assessed_tells_nothing_and_saves_each_field(station: Station, server: Server) -> None:
    desk = sit_down(server, "assessed")
    station.open(desk.notebook)
    arrived = "\n".join(station.received)
    for name in ("bit", "word"):
        assert f'"{desk.solutions()[name].right}"' not in arrived.replace("\\", "")
    for name, solution in desk.solutions().items():
        HANDS[solution.kind](station.exercise(name), solution, solution.right)
        station.page.keyboard.press("Tab")
        station.wait_state(name, "saved")
        assert desk.on_disk(name)[-1] == solution.right
        assert station.exercise(name).get_attribute("data-verdict") is None
    sent = "\n".join(station.received).replace('\\"', '"')
    for word in ('"practice": {', '"key"', '"slips"', '"subnet"', '"temporary"'):
        assert word not in sent, word


def _blocks_are_laid_by_mouse(station: Station, desk: Desk) -> None:
    frame = station.exercise("map")
    solution = desk.solutions()["map"]
    blocks = [
        (device, data, place)
        for data in ("produced", "consumed")
        for device, place in solution.right[data].items()
    ]
    verbs = {"produced": "produces", "consumed": "consumes"}
    for number, (device, data, place) in enumerate(blocks):
        chip = frame.locator(".lk-chip", has_text=device).filter(has_text=verbs[data])
        cell = frame.locator(f'[data-area="{place["area"]}"][data-byte="{place["at"]}"]')
        if number % 2:
            chip.click()
            assert chip.get_attribute("aria-pressed") == "true"
            cell.click()
        else:
            chip.drag_to(cell)
        at = frame.get_by_label(f"First byte of what {device} {verbs[data]}", exact=True)
        assert at.input_value() == place["at"]
    # A block that lies there is dragged on, held by its middle.
    device, data, place = next(b for b in blocks if int(b[2]["at"]) >= 2)
    piece = frame.locator(f'.lk-block[data-block="{data} {device}"]').first
    free = frame.locator(f'[data-area="{place["area"]}"][data-byte="22"]')
    piece.drag_to(free)
    at = frame.get_by_label(f"First byte of what {device} {verbs[data]}", exact=True)
    moved = int(at.input_value())
    assert 22 - moved in range(6)
    frame.get_by_role("checkbox", name="Show the bits").check()
    assert frame.locator(".lk-bits").first.inner_text().split() == list("76543210")
    station.shot("map-bits", '[data-exercise="map"]')
    frame.get_by_role("checkbox", name="Show the bits").uncheck()
    # Bytes that two blocks claim are marked, by a sign and not by colour alone.
    lay_map(frame, solution, solution.slips["overlap"])
    assert "⚠" in frame.locator(".lk-clash").first.text_content()
    station.shot("map-clash", '[data-exercise="map"] .lk-maps')


def _cards_are_put_by_mouse(station: Station, desk: Desk) -> None:
    frame = station.exercise("board")
    solution = desk.solutions()["board"]
    for number, module in enumerate(solution.ask["modules"]):
        chip = frame.locator(".lk-chip", has_text=module["what"])
        bay = frame.locator(f'.lk-bay[data-slot="{module["slot"]}"]')
        if number % 2:
            chip.click()
            bay.click()
        else:
            chip.drag_to(bay)
        slot = frame.get_by_label(f"Slot of {module['what']}", exact=True)
        assert slot.input_value() == str(module["slot"])
        assert module["what"] in bay.text_content()


def _the_motor_is_started_and_stopped(station: Station, desk: Desk) -> None:
    """The right program, tried: the switches move the lamps, power is drawn thick."""
    solution = desk.solutions()["start-stop"]
    frame = station.exercise("start-stop")
    start, stop, _ = (each["id"] for each in solution.ask["inputs"])
    motor = frame.locator(".lk-lamp", has_text=solution.ask["outputs"][0]["id"])
    seal_in = frame.locator(".lk-branch").nth(1).locator(".lk-lead-out")
    steps = [([stop], False), ([stop, start], True), ([stop], True), ([], False), ([stop], False)]
    for on, running in steps:
        for name in (start, stop):
            frame.get_by_role("switch", name=name).set_checked(name in on)
        expect(motor.locator(".lk-state")).to_have_text("on" if running else "off")
        live = re.compile(r"\blk-live\b")
        held = expect(seal_in)
        held.to_have_class(live) if running else held.not_to_have_class(live)
        if running and start not in on:
            thick = seal_in.evaluate("node => getComputedStyle(node).strokeWidth")
            assert thick == "6px"
            station.shot("ladder-running", '[data-exercise="start-stop"]')
    assert "moves real outputs" in frame.locator(".lk-try-caution").text_content()
    # Trying out is no answer.
    assert desk.on_disk("start-stop")[-1] == solution.right


def _looks_right(station: Station, desk: Desk, when: str) -> None:
    if SHOTS:  # a tall page, so that a whole exercise is on the picture
        station.page.set_viewport_size({"width": 1280, "height": 1500})
    try:
        for theme in ("dark", "light"):
            station.theme(theme)
            contrast = station.page.evaluate(LOW_CONTRAST)
            assert contrast["seen"] > 50
            assert contrast["found"] == [], f"{theme} theme, {when}"
            # The name on a short block is cut by design (its title tells it),
            # wires of a ladder reach into the next piece, and a ladder that grows is scrolled.
            meant = ("lk-block", "lk-scroll-x", "lk-branch")
            wide = [w for w in station.page.evaluate(TOO_WIDE) if not w.startswith(meant)]
            assert wide == []
            for name in desk.solutions():
                station.shot(f"{when}-{theme}-{name}", f'[data-exercise="{name}"]')
    finally:
        station.theme("light")
        station.page.set_viewport_size({"width": 1280, "height": 720})
