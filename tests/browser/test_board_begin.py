"""A class is begun in a browser, by keyboard and file chooser, from a list of an office program."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from board_server import running_board
from checked_by_axe import findings, needs_axe

from labkit.classroom.class_folder import ClassFolder

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
LIST = """\
Class list, packing hall, November

Personalnr.;Name;Vorname;Abteilung;;Platz
007;Mäler;Ansa;Packing;;B1
012;Lindqvåle;Bo;Packing;;B2
012;Arrand;Celso;Filling;;B3
044;Lindqvåle;Bo;Packing;;B4
Total;;;4;;
"""


FORGET = """async () => {
  const sent = { method: "POST", body: "id,name\\na,Ann" };
  for (let n = 0; n < 8; n++) await fetch("/begin/list?name=x", sent);
}"""


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    with running_board(tmp_path / "classes") as found:
        yield found


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png", full_page=True)


def tab_to(page: Any, found: Any, most: int = 60) -> None:
    """Go to a field as somebody does who has no mouse."""
    for _ in range(most):
        if found.evaluate("node => node === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError("the keyboard does not come there")


def keys(page: Any, *pressed: str) -> None:
    for key in pressed:
        page.keyboard.press(key)


@pytest.mark.parametrize(("width", "theme"), [(1366, "light"), (400, "dark")])
def test_a_class_is_begun_from_an_awkward_list_without_a_mouse(
    devices: Callable[..., Any], address: str, tmp_path: Path, width: int, theme: str
) -> None:
    needs_axe()
    (tmp_path / "staff.csv").write_bytes(LIST.encode("cp1252"))
    page = devices(width, 800, here=address.partition("#")[0], color_scheme=theme)
    # From the beginning: a chooser that opens before it is listened for is nobody's.
    page.on("filechooser", lambda chooser: chooser.set_files(tmp_path / "staff.csv"))
    page.goto(address)
    page.get_by_role("button", name="Go on").press("Enter")
    page.get_by_role("link", name="Begin a class").press("Enter")
    title = page.get_by_label("Title")
    title.wait_for()
    page.keyboard.type("Packing hall: November")
    tab_to(page, page.get_by_label("Day"))
    page.keyboard.type("11272026")
    tab_to(page, page.get_by_label("Place"))
    page.keyboard.type("Brindlemere Springs")

    tab_to(page, page.get_by_role("checkbox", name="Plan the trunk"))
    keys(page, "Space")
    acceptance = page.get_by_role("checkbox", name="Acceptance")
    tab_to(page, acceptance)
    keys(page, "Space")
    lab = page.get_by_role("listitem").filter(has=acceptance)
    tab_to(page, lab.get_by_label("Mode"))
    keys(page, "ArrowDown")
    lab.get_by_text("keys and hidden faults never leave this machine").wait_for()

    tab_to(page, page.get_by_label("The list of people"))
    keys(page, "Space")
    page.get_by_text("staff.csv: 5 people, 3 rows to be mended").wait_for()
    assert page.get_by_label("Last name").input_value() == "1"
    assert findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    shot(page, f"begin-{width}-{theme}")

    # The board has forgotten the list meanwhile: the page sends it again by itself.
    page.evaluate(FORGET)
    tab_to(page, page.get_by_role("button", name="Leave out: Total"))
    keys(page, "Enter")
    page.get_by_role("button", name="Take in again: Total").wait_for()
    number = page.get_by_label("Id, line 6")
    tab_to(page, page.get_by_role("button", name="Go to the first"), 200)
    keys(page, "Enter")
    tab_to(page, number)
    keys(page, "Control+a")
    page.keyboard.type("031")
    keys(page, "Enter")
    page.get_by_text("staff.csv: 4 people", exact=True).wait_for()
    assert number.evaluate("node => node === document.activeElement")
    shot(page, f"begin-mended-{width}-{theme}")

    tab_to(page, page.get_by_role("button", name="Begin the class"))
    keys(page, "Enter")
    page.wait_for_url("**/class/packing-hall-november/")
    page.get_by_role("heading", name="Packing hall: November").wait_for()
    page.get_by_text("4 people").wait_for()
    made = ClassFolder.open(tmp_path / "classes" / "packing-hall-november")
    assert made.fields.date == "2026-11-27"
    assert [made.fields.mode_of(lab) for lab in made.fields.labs] == ["practice", "assessed"]
    assert [(each.id, each.name, each.seat) for each in made.trainees] == [
        ("007", "Ansa Mäler", "B1"),
        ("012", "Bo Lindqvåle", "B2"),
        ("031", "Celso Arrand", "B3"),
        ("044", "Bo Lindqvåle", "B4"),
    ]
