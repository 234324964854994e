"""Hand-ins at the board in a browser: chosen and dropped, told once, who is missing, scoring."""

from __future__ import annotations

import json
import os
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
import uvicorn
from checked_by_axe import findings, needs_axe
from tiny_class import MakeRoom, Room

from labkit.board.app import board_app
from labkit.board.asked import Asked
from labkit.board.classes import Classes
from labkit.board.held_rooms import HeldRooms
from labkit.page.serving import listening
from labkit.room.trainers import Trainers

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
Open = Callable[..., Any]
DROP = """(files) => {
  const drop = new DataTransfer();
  for (const [name, text] of files) drop.items.add(new File([text], name));
  const zone = document.querySelector(".hi-zone");
  const about = { dataTransfer: drop, bubbles: true, cancelable: true };
  for (const what of ["dragover", "drop"]) zone.dispatchEvent(new DragEvent(what, about));
}"""
SPOILT = """() => {
  File.prototype.slice = function (...cut) {
    const part = Blob.prototype.slice.apply(this, cut);
    const fails = () => Promise.reject(new DOMException("x", "NotReadableError"));
    if (this.name.startsWith("spoilt")) part.arrayBuffer = fails;
    return part;
  };
}"""


@pytest.fixture
def dealt(make_room: MakeRoom) -> Room:
    made = make_room()
    made.deal()
    return made


@pytest.fixture
def stick(dealt: Room, tmp_path: Path) -> Path:
    """Ann's hand-in, Ben's cut off, one of another class, and a letter."""
    folder = tmp_path / "stick"
    folder.mkdir()
    for trainee in ("ann", "ben"):
        made = dealt.hand_in(trainee)
        shutil.move(made, folder / made.name)
    ann, ben = (folder / f"tiny--{trainee}.handin.json" for trainee in ("ann", "ben"))
    foreign = {**json.loads(ann.read_bytes()), "class": "room-8"}
    (folder / "<i>elsewhere.handin.json").write_text(json.dumps(foreign), encoding="utf-8")
    ben.write_bytes(ben.read_bytes()[:150])
    (folder / "letter.txt").write_text("private", encoding="utf-8")
    return folder


@pytest.fixture
def at_hand_ins(devices: Open, dealt: Room) -> Iterator[Open]:
    """Opens the page of the class's hand-ins, its trainer signed in, on a board that runs."""
    with listening("127.0.0.1", 0) as made, closing(HeldRooms()) as rooms:
        port = made.getsockname()[1]
        asked = Asked(Classes(dealt.path.parent), Trainers(), f"labkit-board-{port}", dealt.library)
        config = uvicorn.Config(board_app(asked, rooms, "Mira"), log_level="critical")
        server = uvicorn.Server(config)
        running = threading.Thread(target=server.run, args=([made],))
        running.start()
        here = f"http://127.0.0.1:{port}"

        def opened(width: int = 1366, height: int = 768, *, dark: bool = False) -> Any:
            scheme = "dark" if dark else "light"
            page = devices(width, height, here=here, color_scheme=scheme)
            page.goto(f"{here}/class/class/hand-ins#{asked.trainers.key}")
            page.get_by_role("button", name="Go on").click()
            page.get_by_role("heading", name="Who is missing").wait_for()
            return page

        yield opened
        server.should_exit = True
        running.join(timeout=120)


def hand_in(dealt: Room, trainee: str) -> bytes:
    """A hand-in's bytes; it does not lie in the class."""
    made = dealt.hand_in(trainee)
    data = made.read_bytes()
    made.unlink()
    return data


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"hand-ins-{name}.png", full_page=True)


def missing(page: Any) -> list[str]:
    rows = page.locator(".hi-lab > .hi-rows > li > b")
    return [text.strip() for text in rows.all_inner_texts()]


def test_chosen_files_come_in_and_each_kind_is_told_once(
    at_hand_ins: Open, dealt: Room, stick: Path
) -> None:
    needs_axe()
    page = at_hand_ins()
    assert missing(page) == ["Ann Orrel (ann)", "Ben Tasker (ben)", "Cy Morland (cy)"]
    page.get_by_label("Files of hand-ins").set_input_files(sorted(stick.iterdir()))
    page.get_by_text("1 received").wait_for()
    page.get_by_role("heading", name="Damaged (1)").wait_for()
    page.get_by_role("heading", name="Of another class (1)").wait_for()
    page.get_by_text("<i>elsewhere.handin.json").wait_for()
    page.get_by_text("1 other file, left alone").wait_for()
    assert missing(page) == ["Ben Tasker (ben)", "Cy Morland (cy)"]
    (kept,) = (dealt.path / "hand-ins" / "received").iterdir()
    assert kept.read_bytes() == (stick / "tiny--ann.handin.json").read_bytes()
    assert findings(page) == []
    shot(page, "came")
    # Put away, it stays so on the next visit, until it comes again.
    page.get_by_role("button", name="Put away: Damaged").press("Enter")
    page.get_by_role("heading", name="Damaged").wait_for(state="detached")
    page.reload()
    page.get_by_role("heading", name="Of another class (1)").wait_for()
    assert page.get_by_role("heading", name="Damaged").count() == 0
    page.get_by_label("Files of hand-ins").set_input_files([stick / "tiny--ben.handin.json"])
    page.get_by_role("heading", name="Damaged (1)").wait_for()
    page.get_by_role("button", name="Put away: Damaged").click()
    page.get_by_role("button", name="Show again what was put away (1)").click()
    page.get_by_role("heading", name="Damaged (1)").wait_for()


def test_dropped_files_come_in_and_one_that_cannot_be_read_is_told(
    at_hand_ins: Open, stick: Path
) -> None:
    page = at_hand_ins(400, 800, dark=True)
    page.evaluate(SPOILT)
    ann = (stick / "tiny--ann.handin.json").read_text("utf-8")
    spoilt = [[f"spoilt {number}.handin.json", "{}"] for number in range(2)]
    page.evaluate(DROP, [*spoilt, ["tiny--ann.handin.json", ann], ["copy.handin.json", ann]])
    page.get_by_text("1 received").wait_for()
    page.get_by_role("heading", name="Not readable here (2)").wait_for()
    page.get_by_text("The same again: 1 file, nothing to do").wait_for()
    assert "undefined" not in page.locator("main").inner_text()
    assert missing(page) == ["Ben Tasker (ben)", "Cy Morland (cy)"]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    shot(page, "dropped")


def test_a_folder_of_folders_is_dropped_as_by_hand(
    at_hand_ins: Open, dealt: Room, stick: Path
) -> None:
    page = at_hand_ins()
    (stick / "deep" / "er").mkdir(parents=True)
    shutil.move(stick / "tiny--ann.handin.json", stick / "deep" / "er" / "mail (1).json")
    for number in range(120):
        (stick / "deep" / f"{number}.txt").touch()
    with ZipFile(stick.parent / "mail.zip", "w") as archive:
        archive.writestr("cy.handin.json", hand_in(dealt, "cy"))
    line = page.context.new_cdp_session(page)
    box = page.locator(".hi-zone").bounding_box()
    files = [str(stick), str(stick.parent / "mail.zip")]
    data = {"items": [], "files": files, "dragOperationsMask": 1}
    at = {"x": box["x"] + 20, "y": box["y"] + 20, "data": data}
    for what in ("dragEnter", "dragOver", "drop"):
        line.send("Input.dispatchDragEvent", {"type": what, **at})
    page.get_by_text("2 received").wait_for()
    page.get_by_text("121 other files, left alone").wait_for()
    assert missing(page) == ["Ben Tasker (ben)"]


def test_a_folder_is_chosen_and_the_class_is_scored(
    at_hand_ins: Open, dealt: Room, stick: Path
) -> None:
    page = at_hand_ins()
    page.get_by_label("A folder of hand-ins").set_input_files(stick)
    page.get_by_text("1 received").wait_for()
    page.get_by_role("button", name="Score").click()
    page.get_by_text("Scored: 1 of 3 are handed in and marked.").wait_for()
    assert (dealt.folder.scores / "debrief.html").exists()
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy the list").click()
    page.get_by_text("Copied.").wait_for()
    copied = page.evaluate("navigator.clipboard.readText()").splitlines()
    assert copied[1:] == [
        "Tiny lab: 1 of 3 handed in",
        "  Ben Tasker (ben): not handed in",
        "  Cy Morland (cy): not handed in",
    ]
    page.emulate_media(media="print")
    assert not page.get_by_role("button", name="Score").is_visible()
    assert page.get_by_text("Cy Morland (cy)").is_visible()


def test_many_go_in_lots_and_what_did_not_come_in_can_go_on(at_hand_ins: Open, stick: Path) -> None:
    page = at_hand_ins()
    ann = (stick / "tiny--ann.handin.json").read_text("utf-8")
    sent: list[str] = []

    def once(route: Any) -> None:
        sent.append(route.request.url)
        if len(sent) == 2:
            route.fulfill(status=503, body="The disk is full.")
        else:
            route.continue_()

    page.route("**/hand-ins/receive", once)
    page.evaluate(DROP, [[f"{number}.handin.json", ann] for number in range(70)])
    page.get_by_text("The disk is full.").wait_for()
    page.get_by_role("button", name="Go on with the 38 files that did not come in").click()
    page.get_by_text("The same again: 69 files, nothing to do").wait_for()
    assert len(sent) == 4


def test_a_page_that_hears_nothing_says_how_old_it_is(at_hand_ins: Open) -> None:
    page = at_hand_ins()
    page.route("**/hand-ins/list", lambda route: route.abort())
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.get_by_text("labkit does not answer: is its window still open?").wait_for()
    page.unroute("**/hand-ins/list")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.get_by_text("labkit does not answer").wait_for(state="detached")
