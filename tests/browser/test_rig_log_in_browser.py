"""A log of the real network: dropped by a trainee in the room, looked at by whoever signs off."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page_of
from checked_by_axe import findings, needs_axe
from dealt import drawn_desk
from line_captures import Capture, read, refused, values
from rig_logs import at_address, devicenet_log, without
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE
from tiny_class import Room as Class

from labkit.classroom.dealing.seeds import scenario_of
from labkit.fieldbus.devicenet.heard import PlannedBus
from labkit.fieldbus.modbus.heard import PlannedLine
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.room.room import Room
from labkit.station.workbook import Workbook

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
LAB = "log-of-the-rig"
FILE = Path(__file__).parents[1] / "lab" / "labs" / LAB / "lab.md"
LINE_HEAD = (FILE.parents[1] / "modbus-bench" / "lab.md").read_text("utf-8")
LINE_LAB = f"""{LINE_HEAD[: LINE_HEAD.index("```exercise")]}
```exercise log
kind: sign_off
title: The line as planned
question: Log the line while the controller asks. Drop the capture here.
caution: Work on electrical equipment is for people who are trained and permitted to do it.
items:
  - {{id: heard, text: The capture agrees., look_for: Each line that differs is explained.}}
log: {{scanner: controller}}
marks: 2
working: None.
```
"""
Open = Callable[..., Any]
# A file that is dropped, by the events of a mouse.
DROP = """(box, [name, text]) => {
  const dataTransfer = new DataTransfer();
  dataTransfer.items.add(new File([text], name));
  for (const type of ['dragover', 'drop'])
    box.dispatchEvent(new DragEvent(type, { dataTransfer, bubbles: true, cancelable: true }));
}"""


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"rig-log-{name}.png", full_page=True)


def choose(frame: Any, name: str, data: bytes) -> None:
    frame.locator(".lk-rig-log-input").set_input_files(
        {"name": name, "mimeType": "text/plain", "buffer": data}
    )


def state_of(frame: Any, what: str) -> str:
    rows = frame.locator(".lk-ag-lines tbody tr")
    found = rows.filter(has=frame.page.get_by_text(what, exact=True))
    return str(found.get_attribute("data-state"))


def test_a_log_is_read_refused_and_taken_out(browser: Any, tmp_path: Path) -> None:
    desk = drawn_desk(draw(read_lab(FILE), "in the browser"), tmp_path / "desk", practice=False)
    plan = PlannedBus.from_json(desk.solutions()["log"].ask["log"]["planned"])
    page = browser.new_page()
    bare = bare_page_of(page, Workbook.open(str(desk.task_file)))
    frame = bare.put_on("log")
    status = frame.locator(".lk-rig-log-status")
    choose(frame, "holiday.jpg", b"\xff\xd8\xff\0" * 900)
    status.filter(has_text="holiday.jpg is not read. This is no text").wait_for()
    choose(frame, "huge.log", b"x" * 17_000_000)
    status.filter(has_text="It has 17 MB; at most 16 MB are read").wait_for()
    assert frame.locator(".lk-ag-lines").count() == 0

    log = devicenet_log(plan, at_address("capper drive", 60), seconds=24)
    assert len(log) > 100_000  # more than one piece
    box = frame.locator(".lk-rig-log")
    box.evaluate(DROP, ["rig.log", log])
    status.filter(has_text="rig.log is read.").wait_for()
    assert state_of(frame, "filler scale, I/O") == "agrees"
    assert state_of(frame, "capper drive, address") == "cannot be told"
    assert state_of(frame, "node 60") == "differs"
    frame.get_by_label("Ready to be seen").first.check()
    page.locator('[data-exercise="log"][data-state="saved"]').wait_for()
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 800})
        for theme in ("dark", "light"):
            bare.theme(theme)
            shot(page, f"trainee-{theme}-{width}")
            assert page.evaluate(LOW_CONTRAST)["found"] == []
            assert page.evaluate(TOO_WIDE) == []
    needs_axe()
    assert [each for each in findings(page) if not each.startswith("page-has-heading")] == []

    # Opened anew, the lines stand there again; what is no log leaves them alone.
    frame = bare.put_on("log")
    frame.get_by_text("node 60", exact=True).wait_for()
    choose(frame, "other.log", b"nothing of a log\n" * 3)
    frame.locator(".lk-rig-log-status").filter(has_text="other.log is not read").wait_for()
    assert state_of(frame, "node 60") == "differs"
    out = frame.get_by_role("button", name="Take the log out")
    out.focus()
    page.keyboard.press("Enter")
    frame.locator(".lk-ag-lines").wait_for(state="detached")
    page.locator('[data-exercise="log"][data-state="saved"]').wait_for()
    frame = bare.put_on("log")
    frame.get_by_role("button", name="Choose a log …").wait_for()
    assert frame.locator(".lk-ag-lines").count() == 0
    page.close()


def test_a_capture_of_a_modbus_line_is_dropped(browser: Any, tmp_path: Path) -> None:
    lab = read_lab_text(LINE_LAB, "lab.md")
    desk = drawn_desk(draw(lab, "in the browser"), tmp_path / "desk", practice=False)
    plan = PlannedLine.from_json(desk.solutions()["log"].ask["log"]["planned"])
    meter, pump, gauge, *_ = [device.address for device in plan.devices]
    capture = Capture()
    for _ in range(40):
        capture.poll(read(meter), values(meter)).poll(read(pump)).poll(read(gauge), refused(gauge))
    page = browser.new_page()
    bare = bare_page_of(page, Workbook.open(str(desk.task_file)))
    frame = bare.put_on("log")
    status = frame.locator(".lk-rig-log-status")
    choose(frame, "rig.log", b"(1.0) can0 42F#0001\n")
    status.filter(has_text="No line of this file is one of a serial capture").wait_for()
    frame.locator(".lk-rig-log").evaluate(DROP, ["line.txt", capture.text])
    status.filter(has_text="line.txt is read.").wait_for()
    names = [device.name for device in plan.devices]
    assert state_of(frame, f"{names[0]}, address") == "agrees"
    assert state_of(frame, f"{names[1]}, address") == "differs"
    assert state_of(frame, f"{names[3]}, address") == "cannot be told"
    assert state_of(frame, f"device {gauge} ({names[2]}), exceptions") == "differs"
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 800})
        for theme in ("dark", "light"):
            bare.theme(theme)
            shot(page, f"modbus-{theme}-{width}")
            assert page.evaluate(LOW_CONTRAST)["found"] == []
            assert page.evaluate(TOO_WIDE) == []
    page.close()


@pytest.fixture
def held(tmp_path: Path) -> Class:
    made = Class(tmp_path / "class", tmp_path / "library")
    shutil.copytree(FILE.parent, made.library / LAB)
    made.path.mkdir()
    made.write_class(labs=f"[{LAB}]")
    made.write_roster("jon,Jonas Orrel")
    made.deal()
    return made


@pytest.fixture
def server(held: Class) -> Iterator[Server]:
    running = Server(held.path)
    yield running
    running.kill()


def test_from_the_rig_to_the_sign_off(devices: Open, server: Server, held: Class) -> None:
    jonas = devices(here=server.address)
    jonas.goto(f"{server.address}/#{Room(held.folder).on_cards['jon']}")
    jonas.get_by_role("button", name="Join").click()
    jonas.get_by_role("link", name="Begin").click()
    plan = planned(held)
    frame = jonas.locator('[data-exercise="log"]')
    frame.locator(".lk-rig-log").evaluate(
        DROP, ["pair 3.log", devicenet_log(plan, without("rinser valves"))]
    )
    frame.get_by_text("pair 3.log is read.").wait_for()
    assert state_of(frame, "rinser valves, I/O") == "differs"
    for tick in frame.get_by_label("Ready to be seen").all():
        tick.check()
    jonas.locator('[data-exercise="log"][data-state="saved"]').wait_for()
    shot(jonas, "room-trainee")
    jonas.reload()
    frame.get_by_text("rinser valves, I/O", exact=True).wait_for()
    jonas.get_by_role("link", name="Hand in").first.click()
    jonas.get_by_role("button", name="Hand in").click()
    jonas.get_by_text("receipt").first.wait_for()

    mira = devices(820, 1100, here=server.address)
    mira.goto(f"{server.address}/trainer#{server.key}")
    mira.get_by_label("Your name").fill("Mira")
    mira.get_by_role("button", name="Go to the room").click()
    mira.get_by_role("link", name="Marking").wait_for()
    mira.goto(f"{server.address}/trainer/sign-offs")
    mira.get_by_role("link", name="Jonas Orrel").click()
    mira.get_by_role("link", name="The rig as planned").click()
    mira.get_by_role("heading", name="Their log of the real network").wait_for()
    shown = mira.locator(".so-log")
    assert state_of(shown, "rinser valves, I/O") == "differs"
    assert state_of(shown, "filler scale, I/O") == "agrees"
    needs_axe()
    for width, scheme in ((820, "light"), (400, "dark")):
        mira.set_viewport_size({"width": width, "height": 1000})
        mira.emulate_media(color_scheme=scheme)
        shot(mira, f"sign-off-{scheme}-{width}")
        assert findings(mira) == []
        assert mira.evaluate("document.documentElement.scrollWidth <= innerWidth")
    mira.get_by_label("All devices are on line.").check()
    mira.get_by_role("button", name="Save the sign-off").click()
    mira.get_by_text("in the name of Mira").wait_for()


def planned(held: Class) -> PlannedBus:
    """What this trainee's network is planned to be."""
    folder, item = held.folder, held.dealt.dealt.find("jon", LAB)
    assert item is not None
    lab = folder.lab(LAB, dealt=True)
    scenario = scenario_of(folder.secret(), "room-7", lab, item)
    return PlannedBus.from_json(scenario.prepare(lab.exercises[0]).ask["log"]["planned"])
