"""The bench's and the wiring's screens: many nodes, keyboard alone, a finger, a screen reader."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, PlainFolder, bare_page
from bench_class import LAB_FOLDER
from driving import WAIT_MS
from playwright.sync_api import expect
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

from labkit.kinds.wiring.check import WiringCheck
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab

pytestmark = pytest.mark.browser

BENCH, WIRING = "quiet-line", "new-device"
SCREEN = {"width": 1280, "height": 720}
NAMES = [f"{a} {b}" for a in ("rinser", "filler", "capper", "dryer") for b in "ABCDE"]
OHMS = re.compile(r"^\d+\.\d Ω$")
# What is announced: every change of text inside a live region, as a screen reader hears it.
LISTEN = """() => {
  window.heard = [];
  const live = '[aria-live], [role=status], [role=alert], output';
  new MutationObserver((changes) => {
    for (const {target} of changes) {
      const node = target.nodeType === Node.TEXT_NODE ? target.parentElement : target;
      const region = node.closest(live);
      if (region && !region.hidden) window.heard.push(region.textContent);
    }
  }).observe(document, {subtree: true, childList: true, characterData: true,
    attributes: true, attributeFilter: ['hidden']});
}"""
OUTSIDE = """() => [...document.querySelectorAll('.lk-exercise :is(button, select, input, svg)')]
  .filter((node) => node.checkVisibility())
  .filter((node) => node.getBoundingClientRect().right > innerWidth)
  .map((node) => node.outerHTML.slice(0, 80))"""
COUNT_POINTING = """() => {
  window.pointed = 0;
  addEventListener('pointerdown', () => { window.pointed += 1; }, true);
}"""
# Targets of 24 px at least: WCAG 2.2, 2.5.8.
SMALL_TARGETS = """() => [...document.querySelectorAll(
    '.lk-exercise :is(button, select, summary, .lk-spot)')]
  .filter((node) => node.checkVisibility())
  .map((node) => [node.getBoundingClientRect(), node])
  .filter(([box]) => box.width < 24 || box.height < 24)
  .map(([box, node]) => `${box.width} ${box.height} ${node.outerHTML.slice(0, 80)}`)"""
ROLES = "button|switch|combobox|spinbutton|checkbox|meter|region|img"
NAMELESS_CONTROL = re.compile(rf"^\s*- '?(?:{ROLES})(?! \")\b.*", re.MULTILINE)


BROKEN = '- - {kind: broken, connector: "tap {{ n }}, right", wire: CAN_H}\n'
"""What is wrong with the lab's own line."""
IDLE = "- - {kind: idle}\noutputs: yes\nusual_sizes: {output_bytes: 1}\n"


def scenario(tmp_path: Path, nodes: int, wrong: str = BROKEN) -> Scenario:
    """The lab of the bench with as many nodes as are asked for, and what is wrong there."""
    text = (LAB_FOLDER / "lab.md").read_text("utf-8")
    assert BROKEN in text
    text = text.replace(BROKEN, wrong)
    listed = ", ".join(NAMES[:nodes])
    text = re.sub(r"one of: \[.*\]", f"one of: [{listed}]", text)
    text = text.replace("count: 8", f"count: {nodes}").replace("names[7]", f"names[{nodes - 1}]")
    text = text.replace("'[2,3,2,1,4,2,3,2]'", f"'[2]*{nodes}'")
    text = text.replace("'[0.2]*8'", f"'[0.2]*{nodes}'").replace("rating: 8", "rating: 16")
    folder = tmp_path / "labs" / "find-and-wire"
    folder.mkdir(parents=True)
    (folder / "lab.md").write_text(text, encoding="utf-8")
    return draw(read_lab(folder / "lab.md"), f"screens-{nodes}")


@pytest.fixture
def opened(browser: Any, tmp_path: Path, page_folder: PlainFolder) -> Iterator[Any]:
    """A function that opens the lab with a number of nodes: its bare page; errors of it count."""
    errors: list[str] = []
    contexts = []

    def open_(nodes: int, wrong: str = BROKEN, **options: Any) -> BarePage:
        context = browser.new_context(viewport=SCREEN, **options)
        contexts.append(context)
        context.set_default_timeout(WAIT_MS)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(f"{error.message}\n{error.stack}"))
        files = tmp_path / "files"
        files.mkdir()
        return bare_page(page, scenario(tmp_path, nodes, wrong), files, modules=page_folder)

    yield open_
    for context in contexts:
        context.close()
    assert errors == []


@pytest.mark.parametrize("nodes", [10, 20])
def test_the_screens_hold_their_nodes_in_light_and_dark(opened: Any, nodes: int) -> None:
    bare = opened(nodes)
    frame = bare.put_on(BENCH)
    assert frame.get_by_role("button", name=re.compile(", planned node ")).count() == nodes
    frame.get_by_role("combobox", name="How long the indicators are watched").select_option("20 s")
    frame.get_by_role("button", name="Watch the indicators").click()
    frame.locator(".lk-strips text", has_text="20 s").wait_for()
    _is_fit(bare)
    line = frame.locator(".lk-bench-line").bounding_box()
    meter = frame.locator(".lk-handmeter").bounding_box()
    # Line, opened connector and meter are seen at once.
    assert meter["y"] + meter["height"] - line["y"] < SCREEN["height"]


@pytest.mark.parametrize("nodes", [10, 20])
def test_the_places_of_a_wiring_are_all_seen(opened: Any, nodes: int) -> None:
    bare = opened(nodes)
    frame = bare.put_on(WIRING)
    places = frame.get_by_role("button", name="Terminator at")
    assert places.count() == nodes + 3
    _is_fit(bare)
    edge = frame.locator(".lk-places").bounding_box()
    last = places.last.bounding_box()
    assert last["x"] + last["width"] <= edge["x"] + edge["width"]


def _is_fit(bare: BarePage) -> None:
    for theme in ("dark", "light"):
        bare.theme(theme)
        assert bare.page.evaluate(OUTSIDE) == []
        assert bare.page.evaluate(TOO_WIDE) == []
        assert bare.page.evaluate(NAMELESS) == []
        assert bare.page.evaluate(SMALL_TARGETS) == []
        # Letters on lamps stand on the lamp, which the measure does not know.
        bare.adopt("letters", ".lk-look-letter, .lk-strip-text { display: none; }")
        assert bare.page.evaluate(LOW_CONTRAST)["found"] == []


def _fault(bare: BarePage) -> Any:
    task = next(e for e in bare.workbook.task["exercises"] if e["id"] == BENCH)
    [fault] = task["practice"]["key"]["faults"]
    return fault


class Keys:
    """A trainee without a mouse: Tab, Enter, the arrows, and letters in a list."""

    def __init__(self, page: Any) -> None:
        self.page = page

    def focused(self) -> str:
        """What a screen reader calls the control that has the focus."""
        return str(
            self.page.evaluate(
                """() => {
                  const node = document.activeElement;
                  return node.getAttribute('aria-label') || [...node.labels ?? []]
                    .map((label) => label.textContent).join() || node.textContent;
                }"""
            )
        )

    def tab_to(self, name: str, *, back: bool = False) -> None:
        """Tab until a control's name begins with `name`."""
        for _ in range(80):
            self.page.keyboard.press("Shift+Tab" if back else "Tab")
            if self.focused().startswith(name):
                return
        raise AssertionError(f"the Tab key does not come to {name!r}")

    def press(self, *keys: str) -> None:
        """Press keys, one after the other."""
        for key in keys:
            self.page.keyboard.press(key)

    def go_to_part(self, name: str) -> None:
        """On the line: with the arrows to a joint, and open it."""
        self.press("ArrowUp")
        for _ in range(40):
            if self.focused().startswith("left end"):
                break
            self.press("ArrowLeft")
        for _ in range(40):
            if self.focused().split(",")[0] == name:
                break
            self.press("ArrowRight")
        assert self.focused().split(",")[0] == name
        self.press("Enter")

    def probe(self, *terminals: int) -> None:
        """In a row of terminals whose first has the focus: place probes on these."""
        at = 1
        for terminal in terminals:
            self.press(*["ArrowRight" if terminal > at else "ArrowLeft"] * abs(terminal - at))
            self.press("Enter")
            at = terminal


def test_a_whole_diagnosis_with_the_keyboard_alone(opened: Any) -> None:
    bare = opened(10)
    bare.page.evaluate(COUNT_POINTING)
    frame = bare.put_on(BENCH)
    fault = _fault(bare)
    tap = fault["connector"].split(",")[0]
    keys = Keys(bare.page)
    keys.tab_to("Power is ON")
    keys.press("Enter")
    expect(frame.get_by_role("switch", name="Power is off")).to_be_focused()
    keys.tab_to(str(frame.locator(".lk-spot[tabindex='0']").get_attribute("aria-label")))
    keys.go_to_part(tap)
    keys.tab_to(f"{tap}, left, terminal 1")
    keys.probe(2, 4)
    expect(frame.locator(".lk-display")).to_have_text(OHMS)
    with_it = frame.locator(".lk-display").text_content()
    _unplugs_and_reads_again(keys, frame, fault["connector"])
    expect(frame.locator(".lk-display")).not_to_have_text(with_it)
    keys.tab_to(f"Plug in {fault['connector']}", back=True)
    keys.press("Enter")
    expect(frame.get_by_role("button", name=f"Unplug {fault['connector']}")).to_be_focused()
    _repairs_with_keys(keys, frame, fault["connector"])
    _gives_the_verdict_with_keys(keys, fault)
    expect(frame).to_have_attribute("data-verdict", "right")
    assert bare.page.evaluate("window.pointed") == 0


def _unplugs_and_reads_again(keys: Keys, frame: Any, connector: str) -> None:
    keys.tab_to(f"Unplug {connector}")
    keys.press("Enter")
    expect(frame.get_by_role("button", name=f"Plug in {connector}")).to_be_focused()
    keys.tab_to("Read")
    keys.press("Enter")


def _repairs_with_keys(keys: Keys, frame: Any, connector: str) -> None:
    keys.tab_to(connector)  # its repairs: the first name that begins so after the meter
    keys.press("Enter")
    keys.tab_to("Make the connector anew")
    keys.press("Enter")
    frame.get_by_text(f"make {connector} anew: done.").wait_for()
    keys.tab_to("Power is off", back=True)
    keys.press("Enter")
    expect(frame.get_by_role("switch", name="Power is ON")).to_be_focused()
    keys.tab_to("Ask the scanner")
    keys.press("Enter")
    expect(frame.locator(".lk-result")).to_contain_text("scanner")


def _gives_the_verdict_with_keys(keys: Keys, fault: Any) -> None:
    for label, value in (("The fault", fault["kind"]), ("Its place", fault["connector"])):
        keys.tab_to(label)
        for _ in range(80):
            if keys.page.evaluate("document.activeElement.value") == value:
                break
            keys.press("ArrowDown")
    keys.tab_to(fault["wire"])
    keys.press("Space")
    keys.tab_to("Check my answer")
    keys.press("Enter")


def test_a_whole_wiring_with_the_keyboard_alone(opened: Any) -> None:
    bare = opened(10)
    bare.page.evaluate(COUNT_POINTING)
    frame = bare.put_on(WIRING)
    bare.page.evaluate(LISTEN)
    right = _right_wiring(bare)
    keys = Keys(bare.page)
    keys.tab_to("Conductor ")
    for colour, number in right["conductors"].items():
        assert keys.focused().startswith(f"Conductor {colour}")
        keys.press(str(number), "ArrowDown")
    said = bare.page.evaluate("window.heard")
    for colour, number in right["conductors"].items():
        assert any(re.match(rf"{colour}.* on terminal {number}\.$", text) for text in said)
    for words, part in (("Terminator", "terminators"), ("Shield to earth", "shield")):
        keys.tab_to(f"{words} at ")
        for place in right[part]:
            for _ in range(20):
                if keys.focused() == f"{words} at {place}":
                    break
                keys.press("ArrowRight")
            keys.press("Enter")
    keys.tab_to("Test it")
    keys.press("Enter")
    expect(frame.locator(".lk-fit")).to_have_count(7)
    keys.tab_to("Check my answer")
    keys.press("Enter")
    expect(frame).to_have_attribute("data-verdict", "right")
    assert bare.page.evaluate("window.pointed") == 0


def _right_wiring(bare: BarePage) -> Any:
    task = next(e for e in bare.workbook.task["exercises"] if e["id"] == WIRING)
    return WiringCheck().right_answer(task["ask"], {})


def test_a_finger_places_probes(opened: Any) -> None:
    bare = opened(10, has_touch=True)
    frame = bare.put_on(BENCH)
    terminals = frame.locator(".lk-plug").first.locator(".lk-terminal")
    for number in (4, 2):
        terminals.nth(number - 1).tap()
    expect(frame.get_by_role("alert")).to_contain_text("the network is live")
    expect(frame.locator(".lk-display")).to_have_text("– – –")
    frame.locator(".lk-power").tap()
    expect(frame.get_by_role("switch", name="Power is off")).to_be_visible()
    frame.get_by_role("button", name="tap 2", exact=True).tap()
    for number in (4, 2):
        terminals.nth(number - 1).tap()
    expect(frame.locator(".lk-display")).to_have_text(OHMS)
    expect(frame.locator(".lk-probe-text")).to_contain_text("+ tap 2, left, 4 CAN_H")
    assert not frame.get_by_role("alert").is_visible()


def test_a_finger_lands_conductors(opened: Any) -> None:
    bare = opened(10, has_touch=True)
    frame = bare.put_on(WIRING)
    right = _right_wiring(bare)
    first, *others = right["conductors"].items()
    _drags_with_a_finger(bare.page, frame, *first)
    for colour, number in others:
        frame.get_by_role("button", name=f"Conductor {colour}").tap()
        frame.locator(f'[data-slot="{number}"]').tap()
    for colour, number in right["conductors"].items():
        terminal = frame.get_by_role("button", name=f"Terminal {number}: {colour}")
        expect(terminal).to_be_visible()
    for words, part in (("Terminator", "terminators"), ("Shield to earth", "shield")):
        for place in right[part]:
            frame.get_by_role("button", name=f"{words} at {place}", exact=True).tap()
    frame.get_by_role("button", name="Test it").tap()
    expect(frame.locator(".lk-fit")).to_have_count(7)
    expect(frame.locator(".lk-unfit")).to_have_count(0)
    frame.get_by_role("button", name="Check my answer").tap()
    expect(frame).to_have_attribute("data-verdict", "right")


def _drags_with_a_finger(page: Any, frame: Any, colour: str, number: int) -> None:
    start = frame.get_by_role("button", name=f"Conductor {colour}").bounding_box()
    end = frame.locator(f'[data-slot="{number}"]').bounding_box()
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, x: float, y: float) -> None:
        points = [] if kind == "touchEnd" else [{"x": x, "y": y}]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    x, y = start["x"] + 20, start["y"] + 12
    to_x, to_y = end["x"] + 25, end["y"] + 20
    touch("touchStart", x, y)
    for step in range(1, 6):
        touch("touchMove", x + (to_x - x) * step / 5, y + (to_y - y) * step / 5)
    # A finger rests before it lifts: after a flick the browser takes the next tap for a stop.
    page.wait_for_timeout(150)
    touch("touchMove", to_x + 1, to_y)
    touch("touchEnd", to_x, to_y)
    label = re.compile(f"^Terminal {number}: {colour}")
    expect(frame.get_by_role("button", name=label)).to_be_visible()


@pytest.mark.parametrize("exercise", [BENCH, WIRING])
def test_every_control_has_a_name_for_a_screen_reader(opened: Any, exercise: str) -> None:
    bare = opened(10)
    frame = bare.put_on(exercise)
    if exercise == BENCH:
        for tool in ("Watch the indicators", "Scope", "Log the frames"):
            frame.get_by_role("button", name=tool, exact=True).click()
        frame.get_by_role("region", name="Frame log").wait_for()
        frame.get_by_role("button", name="tap 2", exact=True).click()
        frame.locator("[data-plug]").first.click()
        frame.get_by_role("button", name="Plug in tap 2, left").wait_for()
    bare.page.evaluate("document.querySelectorAll('details').forEach((each) => each.open = true)")
    seen = frame.aria_snapshot()
    assert seen.count("- button") > 20
    assert NAMELESS_CONTROL.findall(seen) == []
    if exercise == BENCH:
        assert 'button "tap 2, a connector unplugged" [pressed]' in seen


def test_what_an_instrument_says_is_read_out(opened: Any) -> None:
    bare = opened(10)
    frame = bare.put_on(BENCH)
    bare.page.evaluate(LISTEN)
    terminals = frame.locator(".lk-plug").first.locator(".lk-terminal")

    def heard_last(words: str | re.Pattern[str], act: Any) -> None:
        bare.page.evaluate("window.heard = []")
        act()
        for _ in range(100):
            said = bare.page.evaluate("window.heard")
            if any(re.search(words, text) for text in said):
                assert max(len(text) for text in said) < 400
                return
            bare.page.wait_for_timeout(100)
        raise AssertionError(f"{words} was not read out, only {said}")

    terminals.nth(3).click()
    heard_last("the network is live", terminals.nth(1).click)
    frame.get_by_role("button", name="DC volts, bus idle").click()
    terminals.nth(4).click()
    heard_last(r"^2\d\.\d\d V$", terminals.nth(0).click)
    assert "red probe here" in str(terminals.nth(4).get_attribute("aria-label"))
    assert "black probe here" in str(terminals.nth(0).get_attribute("aria-label"))
    heard_last("4 white, 5 red", frame.get_by_role("button", name="Look inside").first.click)
    heard_last("nodes heard", frame.get_by_role("button", name="Log the frames").click)


def test_a_scanner_is_put_to_idle_and_commanded_to_run(opened: Any) -> None:
    bare = opened(10, IDLE)
    frame = bare.put_on(BENCH)
    result = frame.locator(".lk-result")
    to_idle = frame.get_by_role("button", name="All outputs on, then the scanner to idle")
    to_idle.click()
    result.get_by_text("in run no output is on; in idle no output is on").wait_for()
    devices = frame.get_by_role("button", name=re.compile(", planned node "))
    names = [str(each.get_attribute("aria-label")).split(",")[0] for each in devices.all()]
    devices.first.click()
    frame.get_by_role("button", name="Command the scanner to run").click()
    to_idle.click()
    result.get_by_text(f"in run on: {', '.join(names[1:])}; in idle no output is on").wait_for()
    # It was idle for the test alone.
    frame.get_by_role("button", name="Ask the scanner").click()
    result.get_by_text("the scanner's report").wait_for()
    assert "idle" not in str(result.text_content())


def test_a_frame_log_comes_in_as_on_the_bus_and_can_be_had_at_once(opened: Any) -> None:
    bare = opened(10)
    frame = bare.put_on(BENCH)
    bare.page.clock.install(time=0)
    bare.page.clock.pause_at(1)
    frame.get_by_role("button", name="Log the frames").click()
    log = frame.get_by_role("region", name="Frame log")
    log.wait_for()
    rows = log.locator("tbody tr")
    assert rows.count() == 0
    bare.page.clock.run_for(1000)
    early = rows.count()
    assert early > 0
    times = log.locator("td:first-child").all_inner_texts()
    assert max(map(float, times)) < 1.1
    frame.get_by_role("button", name="Pause the log").click()
    bare.page.clock.run_for(2000)
    assert rows.count() == early
    frame.get_by_role("button", name="Go on").click()
    bare.page.clock.run_for(1000)
    assert rows.count() > early
    frame.get_by_role("button", name="Show all at once").press("Enter")
    expect(frame.get_by_text(re.compile(r"^\d+ frames, the last at "))).to_be_visible()
    expect(log).to_be_focused()
    times = [float(text) for text in log.locator("td:first-child").all_inner_texts()]
    assert times == sorted(times)
    assert times[-1] > 2


def test_who_wants_little_movement_sees_the_log_at_once(opened: Any) -> None:
    bare = opened(10, reduced_motion="reduce")
    frame = bare.put_on(BENCH)
    frame.get_by_role("button", name="Log the frames").click()
    expect(frame.get_by_text(re.compile(r"^\d+ frames, the last at "))).to_be_visible()
    assert frame.get_by_role("button", name="Pause the log").count() == 0
