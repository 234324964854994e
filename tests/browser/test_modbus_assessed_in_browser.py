"""An assessed lab of Modbus faults in the browser: worked at, handed in, scored, looked back.

Once at a laptop, which holds recordings alone, and once held by the room, where it holds nothing.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from course import CourseDesk
from course_click_through import hand_in
from dealt import Solution
from driving import Server as Jupyter
from driving import Station
from hands import HANDS
from hands_at_the_bench import VirtualBench, name_a_fault
from playwright.sync_api import expect

from labkit.classroom.scored.score_and_write import score_and_write
from labkit.lab.definition import Exercise, Picture
from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
LAB = "modbus-faults"
NOT_RECORDED = "Only one connector can be unplugged at a time here"
MADE_SURE = ("Look back at your path", "Show a hint", "Check my answer", "Scope")
"""What an assessed bench must not offer."""


class RecordedBench(VirtualBench):
    """A bench where repairs are named and not made."""

    def planned(self, step: dict[str, Any]) -> None:
        """Name a repair, and wait until the list of them has it."""
        named = self.frame.get_by_role("group", name="Repairs that you would make")
        listed = named.get_by_role("listitem")
        before = listed.count()

        def put_down(press: Callable[[], None]) -> None:
            press()
            expect(listed).to_have_count(before + 1)

        self.step = put_down  # type: ignore[method-assign]
        try:
            self.repair(step)
        finally:
            del self.step


def _works_at(frame: Any, solution: Solution) -> None:
    """Looks, measures, is refused what was not recorded, plans the repair, gives the verdict."""
    bench = RecordedBench(frame, solution)
    frame.locator(".lk-bench-line").wait_for()
    for absent in MADE_SURE:
        assert frame.get_by_role("button", name=absent, exact=True).count() == 0
    bench.step(frame.get_by_role("button", name="Ask the master").click)
    expect(frame.locator(".lk-result")).to_contain_text("asked")
    bench.step(frame.get_by_role("button", name="Log the frames").click)
    frame.get_by_role("region", name="Frame log").wait_for()
    # Looks at the lamps, and holds ohms against what the circuit gives.
    bench.measure()
    _one_plug_at_a_time(bench)
    verdict = solution.right["verdict"]
    for step in solution.right["steps"][1:]:
        bench.planned(step)
    form = frame.get_by_role("group", name="Your verdict")
    name_a_fault(form, verdict, bench.setup.catalogue.choices)
    frame.get_by_role("button", name="Save my answer").click()
    expect(frame).to_have_attribute("data-state", "saved")
    expect(frame.locator(".lk-feedback")).to_have_text("")


def _one_plug_at_a_time(bench: RecordedBench) -> None:
    frame = bench.frame
    bench.power(False)
    one, other = list(bench.setup.layout.device_connectors.values())[:2]
    for connector in (one, other):
        bench.open(connector.socket)
        bench.step(frame.locator(f'[data-plug="{connector.id}"]').click)
    frame.get_by_text(NOT_RECORDED).first.wait_for()
    bench.open(one.socket)
    bench.step(frame.locator(f'[data-plug="{one.id}"]').click)
    bench.power(True)


def _benches(desk: CourseDesk) -> list[Solution]:
    found = [each for each in desk.solutions().values() if each.kind == "diagnosis"]
    assert len(found) == 4
    return found


def _nothing_of_the_faults(desk: CourseDesk, sent: str) -> None:
    """Neither the faults nor what tells of them was given to a laptop or sent to a page."""
    names = desk.scenario.names
    plain = sent.replace('\\"', '"').replace(" ", "")
    for word in ('"faults":[{', '"key":', '"shares":{"fault"', '"practice":{', '"slips"'):
        assert word not in plain, word
    for solution in _benches(desk):
        for fault in solution.key["faults"]:
            assert f'"kind":"{fault["kind"].replace(" ", "")}"' not in plain
    body = desk.scenario.lab.body
    told = "".join(
        each.question.render(names) if isinstance(each, Exercise) else each.render(names)
        for each in body
        if not isinstance(each, Picture)
    ).replace(" ", "")
    for exercise in desk.scenario.lab.exercises:
        # Longer runs of plain words than a working has in common with any other text.
        for run in re.findall(r"[A-Za-z][A-Za-z ,]{40,}", exercise.working.render(names)):
            words = run.replace(" ", "")
            assert words in told or words not in plain, run


def _scored(desk: CourseDesk) -> dict[str, Any]:
    """The marks of the four benches by exercise, all of them earned."""
    marks = {mark.exercise: mark for mark in desk.scored().marks}
    for solution in _benches(desk):
        mark = marks[solution.name]
        assert mark.earned == mark.possible, (solution.name, mark.verdict.message, mark.answer)
    return marks


def test_at_a_laptop_with_recordings_alone(station: Station, server: Jupyter) -> None:
    desk = CourseDesk.sit_down(server.root / "modbus-assessed", LAB, "assessed")
    station.open(desk.notebook)
    for solution in _benches(desk):
        _works_at(station.exercise(solution.name), solution)
        station.shot(f"modbus-assessed-{solution.name}", f'[data-exercise="{solution.name}"]')
    files = desk.notebook.read_text("utf-8") + desk.task_file.read_text("utf-8")
    received = "\n".join([*station.received, station.page.content()])
    # That the ear is open: the line came.
    assert '"earthed_at":"controller"' in received.replace('\\"', '"').replace(" ", "")
    _nothing_of_the_faults(desk, files + received)
    for other in desk.solutions().values():
        if other.kind != "diagnosis":
            HANDS[other.kind](station.exercise(other.name), other, other.right)
            station.press(other)
            station.wait_state(other.name, "saved")
    hand_in(station, desk)
    _scored(desk)


@pytest.fixture
def held(tmp_path: Path) -> CourseDesk:
    """The same class, held by the room: no workbook is dealt to a laptop."""
    desk = CourseDesk.sit_down(tmp_path / "class", LAB, "assessed", "room")
    assert not desk.folder.exists()
    return desk


@pytest.fixture
def room(held: CourseDesk) -> Iterator[Server]:
    server = Server(held.class_folder.path)
    yield server
    server.kill()


def test_held_by_the_room_from_the_card_to_the_look_back(
    devices: Callable[..., Any], held: CourseDesk, room: Server
) -> None:
    mira = devices(1366, 900, here=room.address)
    mira.set_default_timeout(20_000)
    mira.goto(f"{room.address}/trainer#{room.key}")
    mira.get_by_label("Your name").fill("Mira")
    mira.get_by_role("button", name="Go to the room").click()
    mira.get_by_role("button", name="Open", exact=True).click()
    ansa = devices(1366, 900, here=room.address)
    received = _listening(ansa)
    [code] = Room(held.class_folder).on_cards.values()
    ansa.goto(f"{room.address}/#{code}")
    ansa.get_by_role("button", name="Join").click()
    ansa.get_by_role("link", name="Begin").click()
    for solution in _benches(held):
        ansa.locator(f'[data-place="{solution.name}"] a').click()
        _works_at(ansa.locator(f'[data-exercise="{solution.name}"]'), solution)
        _fits(ansa, solution.name)
    sent = "\n".join([*received, ansa.content()])
    assert '"earthed_at":"controller"' in sent.replace('\\"', '"').replace(" ", "")
    _nothing_of_the_faults(held, sent)
    # Nor is a recording there: each reading comes when it is asked for.
    assert '"situations"' not in sent.replace('\\"', '"')
    ansa.get_by_role("link", name="Hand in").first.click()
    ansa.get_by_role("button", name="Hand in").click()
    ansa.get_by_text("receipt").first.wait_for()
    # An assessed lab is closed before its results tell the right answers.
    mira.get_by_role("button", name="Close", exact=True).click()
    mira.get_by_role("button", name="Open", exact=True).wait_for()
    mira.get_by_role("button", name="Release results").click()
    mira.get_by_text("results released").wait_for()
    ansa.get_by_text(re.compile(r"20 of \d+ marks")).first.wait_for()
    _scored(held)
    _looks_back(held, ansa)


def _listening(page: Any) -> list[str]:
    """All that a page receives, by its socket and otherwise."""
    received: list[str] = []

    def frame(payload: Any) -> None:
        received.append(payload if isinstance(payload, str) else payload.decode())

    def answer(response: Any) -> None:
        if "/desk" in response.url or "/shown/" in response.url:
            received.append(response.text())

    page.on("websocket", lambda socket: socket.on("framereceived", frame))
    page.on("response", answer)
    return received


def _fits(page: Any, name: str) -> None:
    needs_axe()
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            if SHOTS:
                shot = Path(SHOTS) / f"modbus-held-{name}-{width}-{theme}.png"
                page.screenshot(path=shot, full_page=True)
    page.set_viewport_size({"width": 1366, "height": 900})
    page.emulate_media(color_scheme="light")
    assert findings(page) == []


def _looks_back(desk: CourseDesk, page: Any) -> None:
    """The instructor looks back; the page that was worked on tells the path, and a good one."""

    def stage(_: str) -> Any:
        return nullcontext(lambda *_: None)

    written = score_and_write(desk.class_folder, stage, look_back=5)
    assert written.not_looked_back == 0
    page.reload()
    for solution in _benches(desk):
        page.locator(f'[data-place="{solution.name}"] a').click()
        page.locator(".pg-result").get_by_text("What each step told").click()
        told = page.locator(".pg-result").inner_text()
        assert "A good path from the start:" in told
        # The traffic was counted too: each step with how many faults it left.
        assert re.search(
            r"the master's report \(1 min\): .*asked.*\d+ possible faults? before, \d+ after\.",
            told,
        ), told
        if SHOTS:
            page.screenshot(path=Path(SHOTS) / f"modbus-back-{solution.name}.png", full_page=True)
