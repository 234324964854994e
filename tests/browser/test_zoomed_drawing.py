"""The network as large as the window: zoomed and moved, with notes that are a trainee's own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from driving import WAIT_MS
from page_host import WATCH, LocalHost, scenario_of_lab
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

TEXT = "does it drift? <b>ask</b> Ansa"
SHOWN = """() => {
  const { x, y, width, height } = document.querySelector('.zd-stage > svg').viewBox.baseVal;
  return [x, y, width, height];
}"""
FOCUS = "document.activeElement.className"
# Where notes are, in the coordinates of the drawing that they are drawn in.
DOTS = """(where) => Object.fromEntries([...document.querySelectorAll(`${where} [data-note]`)]
  .map((dot) => [dot.dataset.note, dot.getAttribute('transform').match(/translate\\((.*?)\\)/)[1]
    .split(' ').map(Number)]))"""
# The name of the part under the middle of a dot; what is drawn over it does not count.
PART_AT = """([where, note]) => {
  const dot = document.querySelector(`${where} [data-note="${note}"]`).getBoundingClientRect();
  const [x, y] = [dot.left + 12, dot.top + dot.height / 2];
  const boxes = [...document.querySelectorAll(`${where} svg g > rect`)].filter((rect) => {
    const box = rect.getBoundingClientRect();
    return box.left <= x && x <= box.right && box.top <= y && y <= box.bottom;
  });
  return boxes.map((rect) => rect.parentElement.querySelector('title').textContent);
}"""


@pytest.fixture
def page(host: LocalHost, browser: Any, tmp_path: Path) -> Iterator[Any]:
    """A trainee's page, on which nothing goes wrong."""
    host.now = {"person": "t01"}
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    context = browser.new_context(viewport={"width": 1366, "height": 650})
    context.set_default_timeout(WAIT_MS)
    yield from _opened(context, host)
    host.now = {}


@pytest.fixture
def telephone(host: LocalHost, browser: Any, tmp_path: Path) -> Iterator[Any]:
    """The same on a telephone."""
    host.now = {"person": "t01"}
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    context = browser.new_context(viewport={"width": 400, "height": 760}, has_touch=True)
    context.set_default_timeout(WAIT_MS)
    yield from _opened(context, host)
    host.now = {}


def _opened(context: Any, host: LocalHost) -> Iterator[Any]:
    page, errors = context.new_page(), []
    page.add_init_script(WATCH)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(host.url)
    page.locator(".pg-onwards").wait_for()
    yield page
    context.close()
    assert errors == []


def enlarge(page: Any) -> Any:
    """Open the large drawing; its stage."""
    page.get_by_role("button", name="Larger").click()
    stage = page.locator(".zd-stage")
    stage.wait_for()
    return stage


def middle_of(page: Any, part: str) -> tuple[float, float]:
    """Where the box of a device is on the screen, in the large drawing."""
    box = page.locator(f'.zd-stage g:has(> title:text-matches("^{part},")) > rect').bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def pin(page: Any, part: str, text: str) -> None:
    """Put a note on a device, by pointing at it."""
    page.get_by_role("button", name="Add a note").click()
    page.mouse.click(*middle_of(page, part))
    page.get_by_role("textbox", name="Note").fill(text)
    page.keyboard.press("Enter")


def test_it_is_zoomed_moved_fitted_and_closed_by_keys(page: Any) -> None:
    drawn = page.get_by_role("group", name="Drawing of your network")
    drawn.focus()
    page.keyboard.press("Enter")
    page.locator("dialog.zd").wait_for()
    assert page.evaluate(FOCUS) == "zd-stage"
    _, _, whole, _ = page.evaluate(SHOWN)
    assert whole >= 900  # all of it
    page.keyboard.press("+")
    page.keyboard.press("+")
    x, y, width, _ = page.evaluate(SHOWN)
    assert width == pytest.approx(whole / 1.25**2)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    moved = page.evaluate(SHOWN)
    assert moved[0] > x
    assert moved[1] < y
    page.keyboard.press("-")
    assert page.evaluate(SHOWN)[2] == pytest.approx(whole / 1.25)
    page.keyboard.press("0")
    assert page.evaluate(SHOWN)[2] == pytest.approx(whole)
    page.keyboard.press("Escape")
    page.locator("dialog.zd").wait_for(state="detached")
    assert page.evaluate(FOCUS) == "pg-picture"


def test_it_is_zoomed_where_the_wheel_points_and_moved_by_dragging(page: Any) -> None:
    enlarge(page)
    before = middle_of(page, "filler scale")
    page.mouse.move(*before)
    page.mouse.wheel(0, -400)
    expect(page.locator(".zd-stage > svg")).not_to_have_attribute("viewBox", re.compile(r"^0 "))
    assert page.evaluate(SHOWN)[2] < 600
    assert middle_of(page, "filler scale") == pytest.approx(before, abs=1)
    page.mouse.down()
    page.mouse.move(before[0] - 120, before[1] + 40, steps=4)
    page.mouse.up()
    assert middle_of(page, "filler scale") == pytest.approx(
        (before[0] - 120, before[1] + 40), abs=1
    )
    assert page.locator(".zd-input").is_hidden()  # a drag is no tap
    page.get_by_role("button", name="Zoom out").click()
    page.get_by_role("button", name="Show all").click()
    assert page.evaluate(SHOWN)[2] >= 900


def test_it_is_zoomed_with_two_fingers_and_moved_with_one(telephone: Any) -> None:
    page = telephone
    page.locator(".pg-folded > summary", has_text="Your network").tap()
    page.get_by_role("button", name="Larger").tap()
    stage = page.locator(".zd-stage").bounding_box()
    assert page.evaluate(SHOWN)[2] < 500  # a part that can be read
    _a_note_by_tap(page, stage["x"] + stage["width"] / 2, stage["y"] + stage["height"] / 2)
    fingers = page.context.new_cdp_session(page)

    def touch(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": at[0], "y": at[1], "id": k} for k, at in enumerate(places)]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    x, _, width, _ = page.evaluate(SHOWN)
    touch("touchStart", (160, 300), (240, 300))
    touch("touchMove", (120, 300), (280, 300))
    touch("touchEnd")
    _until_shown(page, 2, width / 2)
    x, _, width, _ = page.evaluate(SHOWN)
    touch("touchStart", (200, 200))  # beside the note, which would go along
    for far in (60, 120):
        touch("touchMove", (200 - far, 200))
    touch("touchEnd")
    _until_shown(page, 0, x + 120 * width / 400)


def _until_shown(page: Any, which: int, wanted: float) -> None:
    """What fingers do is seen with the next picture that is drawn."""
    for _ in range(1_000):
        if page.evaluate(SHOWN)[which] == pytest.approx(wanted, rel=0.02):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"{page.evaluate(SHOWN)}, not {wanted}")


def _a_note_by_tap(page: Any, x: float, y: float) -> None:
    left, top, width, height = page.evaluate(SHOWN)
    page.get_by_role("button", name="Add a note").tap()
    page.touchscreen.tap(x, y)
    page.locator(".zd-input").fill("tapped")
    page.get_by_role("button", name="Keep").tap()
    assert page.locator(".zd-list li").count() == 1
    middle = [left + width / 2, top + height / 2]
    assert page.evaluate(DOTS, ".zd-stage")["1"] == pytest.approx(middle, abs=1)


def test_a_note_stands_where_it_was_put_and_leaves_the_browser_never(
    page: Any, host: LocalHost
) -> None:
    sent: list[str] = []
    page.on("request", lambda request: sent.append(f"{request.url} {request.post_data}"))
    page.on("websocket", lambda it: it.on("framesent", lambda text: sent.append(str(text))))
    enlarge(page)
    page.get_by_role("button", name="Zoom in").click()
    pin(page, "filler scale", TEXT)
    pin(page, "torque check", "far end")
    assert page.locator(".zd-list li .zd-text").all_inner_texts() == [TEXT, "far end"]
    where, beside = page.evaluate(DOTS, ".zd-stage"), page.evaluate(DOTS, ".pg-picture")
    assert page.locator(".zd-stage b, .zd-list b").count() == 0
    page.reload()
    page.locator(".pg-onwards").wait_for()
    assert page.evaluate(DOTS, ".pg-picture") == beside
    for number, part in (("1", "filler scale, 0.6 A"), ("2", "torque check, 0.45 A")):
        assert page.evaluate(PART_AT, [".pg-picture", number]) == [part]
    enlarge(page)
    assert page.evaluate(DOTS, ".zd-stage") == where
    assert page.locator(".zd-list li .zd-text").all_inner_texts() == [TEXT, "far end"]
    assert sent  # what is kept was asked for anew
    assert not [one for one in sent if "drift" in one or "far end" in one]
    _the_next_person_sees_none(page, host)


def _the_next_person_sees_none(page: Any, host: LocalHost) -> None:
    host.now = {"person": "t02"}
    page.reload()
    page.locator(".pg-onwards").wait_for()
    assert page.evaluate(DOTS, ".pg-picture") == {}
    assert page.get_by_role("button", name="Larger").inner_text() == "Larger"
    assert "drift" not in page.evaluate("JSON.stringify(localStorage)")
    host.now = {"person": "t01"}
    page.reload()
    page.locator(".pg-onwards").wait_for()
    assert page.evaluate(DOTS, ".pg-picture") == {}


def test_a_note_is_pinned_moved_changed_and_removed_by_keys(page: Any) -> None:
    enlarge(page)
    keys = page.keyboard
    page.get_by_role("button", name="Add a note").focus()
    keys.press("Enter")
    _, y, width, height = page.evaluate(SHOWN)
    for key in ("ArrowLeft", "ArrowLeft", "ArrowDown", "Shift+ArrowDown"):
        keys.press(key)
    keys.press("Enter")
    keys.type("by keys")
    keys.press("Enter")
    unit = width / page.locator(".zd-stage").bounding_box()["width"]  # a pixel in the drawing
    middle = [450, y + height / 2]
    first = page.evaluate(DOTS, ".zd-stage")["1"]
    assert first == pytest.approx([middle[0] - 24 * unit, middle[1] + 13.2 * unit], abs=0.1)
    assert page.evaluate(FOCUS) == "zd-stage"
    page.get_by_role("button", name="Move note 1", exact=True).focus()
    keys.press("Enter")
    keys.press("ArrowRight")
    keys.press("Enter")
    assert page.evaluate(DOTS, ".zd-stage")["1"][0] == pytest.approx(first[0] + 12 * unit, abs=0.1)
    page.get_by_role("button", name="Change note 1").focus()
    keys.press("Enter")
    keys.type(", twice")
    keys.press("Enter")
    assert page.locator(".zd-text").inner_text() == "by keys, twice"
    page.get_by_role("button", name="Remove note 1").focus()
    keys.press("Enter")
    assert page.evaluate(DOTS, ".zd-stage") == {}
    assert page.evaluate("Object.keys(localStorage).filter(key => key.includes('_notes'))") == []


def test_escape_leaves_a_note_first_and_the_drawing_then(page: Any) -> None:
    enlarge(page)
    keys = page.keyboard
    page.get_by_role("button", name="Add a note").click()
    keys.press("Escape")
    assert page.locator(".zd-cross").count() == 0
    page.get_by_role("button", name="Add a note").click()
    keys.press("Enter")
    keys.type("half a")
    keys.press("Escape")
    assert page.locator(".zd-input").is_hidden()
    assert page.evaluate(DOTS, ".zd-stage") == {}
    assert page.locator("dialog.zd").is_visible()
    keys.press("Escape")
    page.locator("dialog.zd").wait_for(state="detached")
    assert page.evaluate(FOCUS) == "pg-button pg-larger"


def test_a_note_goes_along_with_the_mouse_and_opens_with_a_click(page: Any) -> None:
    enlarge(page)
    pin(page, "filler scale", "here")
    start, aim = middle_of(page, "filler scale"), middle_of(page, "capper drive")
    shown = page.evaluate(SHOWN)
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*aim, steps=5)
    page.mouse.up()
    assert page.evaluate(PART_AT, [".zd-stage", "1"]) == ["capper drive, 0.65 A"]
    assert page.evaluate(SHOWN) == shown  # the drawing stayed
    page.mouse.click(*aim)
    assert page.locator(".zd-input").input_value() == "here"
    # Who closes the drawing loses nothing that was typed.
    page.keyboard.type(" and there")
    page.get_by_role("button", name="Close").click()
    enlarge(page)
    assert page.locator(".zd-text").inner_text() == "here and there"


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_and_nothing_is_cut(page: Any, theme: str) -> None:
    needs_axe()
    page.emulate_media(color_scheme=theme)
    enlarge(page)
    pin(page, "filler scale", "here")
    page.get_by_role("button", name="Change note 1").click()
    for width, height in ((1366, 650), (400, 760)):
        page.set_viewport_size({"width": width, "height": height})
        assert findings(page) == [], width
        cut = "[...document.querySelectorAll('.zd, .zd-head, .zd-notes')]"
        cut += ".filter(node => node.scrollWidth > node.clientWidth).length"
        assert page.evaluate(cut) == 0
    page.get_by_role("button", name="Close").click()
    assert findings(page) == []
