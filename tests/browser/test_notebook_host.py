"""The notebook as a trainee's page: what is pressed harms nothing, and it says how it stands."""

from __future__ import annotations

from typing import Any

import pytest
from dealt import DealtClass, Solution
from driving import Server, Station

pytestmark = pytest.mark.browser

CELLS = "jupyterapp.shell.currentWidget.content.widgets.length"
DIALOG = ".jp-Dialog"
# Whether the line at the top shows all that it says.
BAR_IS_WHOLE = """() => {
  const bar = document.querySelector('.lk-bar').getBoundingClientRect();
  const line = document.querySelector('.lk-bar-line').getBoundingClientRect();
  const below = document.querySelector('.jp-Notebook').getBoundingClientRect();
  return line.bottom <= bar.bottom + 1 && bar.bottom <= below.top + 1;
}"""


def test_what_a_trainee_presses_harms_no_workbook(station: Station, practice: DealtClass) -> None:
    desk = practice.desk("t04")
    first = desk.solutions()["longest-distance"]
    station.open(desk.notebook)
    _keys_are_no_shortcuts(station, first)
    _text_stays_text(station)
    station.answer(first, first.right)
    _cleared_outputs_come_back(station, first)
    _leaving_asks_only_for_what_is_not_saved(station, first)
    assert desk.on_disk(first.name) == [first.right]


def _keys_are_no_shortcuts(station: Station, solution: Solution) -> None:
    page = station.page
    cells = page.evaluate(CELLS)
    frame = station.exercise(solution.name)
    for pressed in (
        frame.get_by_role("button", name="my answer"),
        page.locator('[data-exercise="rate-verdict"]').get_by_role("radio").first,
        page.get_by_role("button", name="Make my hand-in file"),
    ):
        pressed.focus()
        for key in ("b", "a", "m", "0", "0", "Alt+Enter"):
            page.keyboard.press(key)
    # What a key asks for is done after it: a fourth thing shows that the others had their time.
    station.fill(solution, solution.right)
    station.wait_state(solution.name, "editing")
    assert page.evaluate(CELLS) == cells
    assert page.locator(DIALOG).count() == 0
    assert page.locator(".jp-MarkdownCell").count() == page.locator(".jp-mod-rendered").count()


def _text_stays_text(station: Station) -> None:
    page = station.page
    text = page.locator(".jp-RenderedMarkdown", has_text="Brindlemere").first
    text.dblclick()
    page.keyboard.press("Enter")
    assert text.is_visible()
    assert page.locator(".jp-MarkdownCell .cm-editor").filter(visible=True).count() == 0


def _cleared_outputs_come_back(station: Station, solution: Solution) -> None:
    page = station.page
    page.evaluate("void jupyterapp.commands.execute('editmenu:clear-all')")
    page.locator(".lk-exercise").first.wait_for(state="detached")
    station.wait_ready()
    station.wait_state(solution.name, "saved")
    assert station.value(solution.name) == solution.right


def _leaving_asks_only_for_what_is_not_saved(station: Station, solution: Solution) -> None:
    page = station.page
    asked: list[str] = []

    def answer(dialog: Any) -> None:
        asked.append(dialog.type)
        dialog.accept()

    page.on("dialog", answer)
    page.reload()
    assert asked == []
    station.wait_ready()
    station.wait_state(solution.name, "saved")
    station.fill(solution, "9 m")
    page.goto("about:blank")
    assert asked == ["beforeunload"]


def test_the_line_at_the_top_and_an_exercise_say_the_same(
    station: Station, server: Server, practice: DealtClass
) -> None:
    desk = practice.desk("t05")
    hung, gone = desk.solutions()["longest-distance"], desk.solutions()["all-drops"]
    page = station.page
    page.set_viewport_size({"width": 640, "height": 360})  # a laptop's screen at 200 %
    station.put_up_with_dying_engines()
    station.open(desk.notebook)
    assert page.evaluate(BAR_IS_WHOLE)
    server.kernel_process(server.kernel_of(desk.notebook)).suspend()
    _gives_in_vain(station, hung)
    station.wait_bar("silent")
    assert page.evaluate(BAR_IS_WHOLE)
    station.shot("bar-silent")
    _starts_it_again(station, hung)
    server.ask(f"kernels/{server.kernel_of(desk.notebook)}", "DELETE")
    _gives_in_vain(station, gone)
    assert page.locator(".lk-bar").get_attribute("data-tone") == "trouble"
    _starts_it_again(station, gone)
    for solution in (hung, gone):
        assert desk.on_disk(solution.name) == [solution.right]


def _gives_in_vain(station: Station, solution: Solution) -> None:
    station.fill(solution, solution.right)
    station.press(solution)
    station.wait_state(solution.name, "stuck")


def _starts_it_again(station: Station, solution: Solution) -> None:
    station.page.get_by_role("button", name="Start the engine again").click()
    station.wait_state(solution.name, "saved")
    station.wait_ready()


def test_two_windows_of_a_notebook_agree_and_hand_in_what_they_show(
    station: Station, server: Server, practice: DealtClass
) -> None:
    desk = practice.desk("t08")
    first, second, *_ = desk.solutions().values()
    other = Station(server, station.page.context.new_page())
    station.open(desk.notebook)
    other.open(desk.notebook)
    station.answer(first, first.right)
    other.wait_state(first.name, "saved")
    assert other.value(first.name) == first.right
    other.answer(second, second.right)
    panel = station.page.locator(".lk-handin")
    panel.locator("li.lk-done").nth(1).wait_for()
    station.fill(first, "9 m")
    press = panel.get_by_role("button", name="Make my hand-in file")
    press.click()
    panel.get_by_text("not saved yet: 1.").wait_for()
    assert not list(desk.folder.glob("*.handin.json"))
    press.click()
    station.page.wait_for_selector('.lk-handin[data-state="made"]')
    other.answer(second, "8 m")
    panel.get_by_text("You saved more after your hand-in file was made.").wait_for()
