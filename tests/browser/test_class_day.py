"""A whole class day in a browser, without a terminal: from an empty folder to certificates.

An awkward roster, a trainee who comes late, a damaged stick, an exercise taken out, a retake.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from board_server import running_board
from dealt import Desk
from playwright.sync_api import expect

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import workbook_folder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.join_codes import codes_on_cards
from labkit.exchange.formats import JOURNAL_ENDING, TASK_ENDING
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, OPENED, Journal

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
LIST = """\
Staff of the packing hall

Personalnr.;Name;Vorname
007;Mäler;Ansa
012;Lindqvåle;Bo
031;Arrand;Celso
"""
LAB = "plan-the-trunk"
LONG_MS = 90_000


@pytest.fixture(scope="session")
def browser(whole_browser: Any) -> Any:
    """A whole day is held in browsers as a class has them."""
    return whole_browser


@pytest.fixture
def address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    monkeypatch.setenv("LABKIT_KEYS", str(tmp_path / "keys"))
    with running_board(tmp_path / "classes") as found:
        yield found


@pytest.fixture
def page(devices: Callable[..., Any], address: str) -> Any:
    """The trainer's browser, signed in."""
    opened = devices(here=address.partition("#")[0])
    opened.set_default_timeout(LONG_MS)
    opened.goto(address)
    opened.get_by_role("button", name="Go on").click()
    opened.get_by_role("heading", name="Classes").wait_for()
    return opened


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/class-day-{name}.png", full_page=True)


def part(page: Any, name: str) -> None:
    page.get_by_role("navigation").get_by_role("link", name=name, exact=True).click()
    page.get_by_role("link", name=name, exact=True).and_(page.locator("[aria-current]")).wait_for()


def begin(page: Any, folder: Path) -> ClassFolder:
    (folder / "staff.csv").write_bytes(LIST.encode("cp1252"))
    page.get_by_role("link", name="Begin a class").click()
    page.get_by_label("Title").fill("Packing hall")
    page.get_by_label("Pass mark").fill("60")
    page.get_by_role("checkbox", name="Plan the trunk").check()
    page.locator(".bg-how:visible").get_by_label("Worked at").select_option(value="laptops")
    page.get_by_label("The list of people").set_input_files(folder / "staff.csv")
    page.get_by_text("staff.csv: 3 people", exact=True).wait_for()
    page.get_by_role("button", name="Begin the class").click()
    page.wait_for_url("**/class/packing-hall/")
    return ClassFolder.open(folder / "classes" / "packing-hall")


def hand_in(made: ClassFolder, trainee: str, stick: Path, attempt: int = 1) -> Path:
    """What a trainee did on a laptop, all of it right, as it comes on a stick."""
    item = read_deal(made).dealt.find(trainee, LAB, attempt)
    assert item is not None
    home = workbook_folder(made, item)
    journal = Journal(home / f"{item.stem}{JOURNAL_ENDING}")
    journal.append(OPENED, lab=LAB)
    for name, solution in desk(made, trainee, attempt).solutions().items():
        journal.append(ANSWER, exercise=name, answer=solution.right)
    stick.mkdir(exist_ok=True)
    return pack(home / f"{item.stem}{TASK_ENDING}", stick)


def desk(made: ClassFolder, trainee: str, attempt: int = 1) -> Desk:
    item = read_deal(made).dealt.find(trainee, LAB, attempt)
    assert item is not None
    scenario = scenario_of(made.secret(), made.fields.id, made.lab(LAB, dealt=True), item)
    return Desk(workbook_folder(made, item), scenario)


def test_from_an_empty_folder_to_certificates(
    page: Any, devices: Callable[..., Any], tmp_path: Path
) -> None:
    made = begin(page, tmp_path)
    shot(page, "begun")
    page.get_by_role("button", name="Deal 3 workbooks").click()
    page.get_by_text("3 dealt, 0 were dealt already.").wait_for()

    # A trainee in the room, with nothing but a browser.
    page.get_by_label("The network that they are in").select_option(index=0)
    page.get_by_role("button", name="Open the room").click()
    page.get_by_role("link", name="Go to the room").wait_for()
    shot(page, "room")
    here = page.locator(".rm-address").inner_text()
    ansa = devices(here=here)
    ansa.set_default_timeout(LONG_MS)
    ansa.goto(here)
    ansa.get_by_label("six characters").fill(codes_on_cards(made, read_deal(made).dealt)["007"])
    ansa.get_by_role("button", name="Join").click()
    ansa.get_by_role("link", name="Begin").click()
    first = desk(made, "007").solutions()["longest-distance"]
    ansa.get_by_label("Your answer").fill(str(first.right))
    ansa.keyboard.press("Enter")
    ansa.locator('[data-place="longest-distance"][data-state="right"]').wait_for()
    ansa.get_by_role("link", name="Hand in").first.click()
    ansa.get_by_role("button", name="Hand in").click()
    ansa.get_by_text("receipt").first.wait_for()

    # Somebody comes late, and is dealt; nobody else's numbers change.
    before = [item.workbook for item in read_deal(made).dealt]
    part(page, "People")
    page.get_by_text("Somebody comes late").click()
    page.get_by_label("Id").fill("044")
    page.get_by_label("Name").last.fill("Hartwell Dunja")
    page.get_by_role("button", name="Add and deal").click()
    page.get_by_role("row", name="Dunja").get_by_text("● dealt").wait_for()
    assert [item.workbook for item in read_deal(made).dealt][:3] == before
    page.get_by_role("navigation").get_by_role("link", name="Class").click()
    page.get_by_role("button", name="End the room").click()
    page.get_by_role("button", name="Open the room").wait_for()

    # What comes on a stick that has seen better days.
    stick = tmp_path / "stick"
    hand_in(made, "012", stick)
    hand_in(made, "044", stick)
    cut = hand_in(made, "031", stick)
    whole = cut.read_bytes()
    cut.write_bytes(whole[:200])
    (stick / "letter.txt").write_text("private", encoding="utf-8")
    part(page, "Hand-ins")
    page.get_by_label("Files of hand-ins").set_input_files(sorted(stick.iterdir()))
    page.get_by_text("Damaged (1)").wait_for()
    page.locator(".hi-lab > .hi-rows > li").filter(has_text="Celso Arrand").wait_for()
    cut.write_bytes(whole)
    page.get_by_label("Files of hand-ins").set_input_files([cut])
    page.get_by_text("4 of 4 handed in").wait_for()
    page.get_by_role("button", name="Score", exact=True).click()
    page.get_by_text("Scored: 4 of 4 are handed in and marked.").wait_for()
    shot(page, "hand-ins")

    # An exercise is taken out for everybody, looked at first.
    part(page, "Marks")
    page.get_by_role("row", name="Bo Lindqvåle").get_by_text("100.0 %").wait_for()
    ansas = page.get_by_role("row", name="Ansa Mäler")
    expect(ansas).to_contain_text("not passed")
    shot(page, "marks")
    page.get_by_role("link", name="Put marks right").click()
    page.get_by_label("Exercise").select_option(index=1)
    page.get_by_role("button", name="See what taking it out changes").click()
    page.get_by_text("Nobody would cross the pass mark of 60 %.").wait_for()
    shot(page, "void")
    page.get_by_label("Why (it stays in the records)").fill("The drawing was wrong.")
    page.get_by_role("button", name="Do it").click()
    page.get_by_text("It is done, and in the records.").wait_for()

    # Who did not pass tries again, with other numbers.
    part(page, "People")
    page.get_by_label("Choose Ansa Mäler").check()
    page.get_by_role("button", name="Retake …").click()
    page.get_by_role("button", name="Deal 1 retake").click()
    page.get_by_role("row", name="Ansa Mäler").get_by_text("attempt 2").wait_for()
    again = hand_in(made, "007", tmp_path / "second stick", 2)
    part(page, "Hand-ins")
    page.get_by_label("Files of hand-ins").set_input_files([again])
    page.get_by_text("1 received").wait_for()
    page.get_by_role("button", name="Score", exact=True).click()
    page.get_by_text("Scored: 4 of 4 are handed in and marked.").wait_for()
    part(page, "Debrief")
    page.get_by_role("heading", name="What to teach again").wait_for()
    shot(page, "debrief")

    # Certificates that anybody can check, and the class in one file.
    part(page, "Close")
    page.get_by_role("button", name="Make the key").click()
    page.get_by_role("button", name="Issue 4").click()
    page.get_by_text("4 certificates hold").wait_for()
    shot(page, "close")
