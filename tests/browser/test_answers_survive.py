"""No answer is lost, and none is said to be saved that is not on disk."""

from __future__ import annotations

import pytest
from dealt import DealtClass, Desk, Solution
from driving import Server, Station

pytestmark = pytest.mark.browser

SAID_SAVED = """
window.saidSaved = [];
new MutationObserver(() => {
  for (const frame of document.querySelectorAll('[data-exercise][data-state="saved"]')) {
    const name = frame.dataset.exercise;
    if (!window.saidSaved.includes(name)) window.saidSaved.push(name);
  }
}).observe(document, {subtree: true, childList: true, attributeFilter: ['data-state']});
"""
IN_VIEW = """(name) => {
  const at = document.querySelector(`[data-exercise="${name}"]`)?.getBoundingClientRect();
  return Boolean(at) && at.bottom > 100 && at.top < innerHeight - 100;
}"""


def test_answers_survive_a_dead_engine_a_killed_one_and_a_reload(
    station: Station, server: Server, practice: DealtClass
) -> None:
    desk = practice.desk("t02")
    solutions = desk.solutions()
    station.page.add_init_script(SAID_SAVED)
    station.put_up_with_dying_engines()
    station.open(desk.notebook)
    station.answer(solutions["longest-distance"], solutions["longest-distance"].right)
    assert desk.on_disk("longest-distance") == [solutions["longest-distance"].right]

    _engine_is_gone(station, server, desk, solutions)
    _engine_is_killed(station, server, desk, solutions)

    journal = desk.journal_file.read_bytes()
    station.open(desk.notebook)
    _all_are_back(station, solutions, ["longest-distance", "section-loss", "look-up"])
    for solution in (solutions["longest-distance"], solutions["section-loss"]):
        assert desk.on_disk(solution.name) == [solution.right]
    assert desk.journal_file.read_bytes().startswith(journal)


def _engine_is_gone(
    station: Station, server: Server, desk: Desk, solutions: dict[str, Solution]
) -> None:
    """Nobody starts this one again but the trainee."""
    unsaved = solutions["section-loss"]
    server.ask(f"kernels/{server.kernel_of(desk.notebook)}", "DELETE")
    station.fill(unsaved, unsaved.right)
    station.press(unsaved)
    station.wait_state(unsaved.name, "stuck")
    assert "Not saved yet" in station.exercise(unsaved.name).text_content()
    hint = station.exercise(unsaved.name).get_by_role("button", name="Show a hint")
    assert hint.is_disabled()
    station.shot("stuck", f'[data-exercise="{unsaved.name}"]')
    station.wait_bar("dead")
    station.shot("dead")
    assert desk.on_disk(unsaved.name) == []
    assert station.page.evaluate("window.saidSaved") == ["longest-distance"]

    station.restart_until_saved(unsaved.name)
    assert desk.on_disk(unsaved.name) == [unsaved.right]
    station.wait_ready()
    station.page.wait_for_function(IN_VIEW, arg=unsaved.name)
    _all_are_back(station, solutions, ["longest-distance", "section-loss"])


def _engine_is_killed(
    station: Station, server: Server, desk: Desk, solutions: dict[str, Solution]
) -> None:
    """Jupyter starts this one again by itself."""
    unsaved = solutions["look-up"]
    process = server.kernel_process(server.kernel_of(desk.notebook))
    said = len(station.bar_said())
    process.kill()
    station.fill(unsaved, unsaved.right)
    station.press(unsaved)
    station.wait_state(unsaved.name, "saved")
    assert "restarting" in station.bar_said()[said:]
    assert desk.on_disk(unsaved.name) == [unsaved.right]
    station.wait_ready()
    _all_are_back(station, solutions, ["longest-distance", "section-loss", "look-up"])


def _all_are_back(station: Station, solutions: dict[str, Solution], names: list[str]) -> None:
    for name in names:
        station.wait_state(name, "saved")
        assert station.value(name) == solutions[name].right
        station.wait_verdict(name, "right")


def test_an_engine_killed_while_it_sets_up_sets_up_again(
    station: Station, server: Server, practice: DealtClass
) -> None:
    desk = practice.desk("t07")
    station.put_up_with_dying_engines()
    station.open(desk.notebook, wait=False)
    station.page.wait_for_function("barStates.includes('asking')")
    server.kernel_process(server.kernel_of(desk.notebook)).kill()
    station.page.wait_for_function(
        "barStates.includes('restarting') && barStates.at(-1) === 'ready'"
    )
    station.wait_ready()
    first = desk.solutions()["all-drops"]
    station.answer(first, first.right)
    assert desk.on_disk(first.name) == [first.right]


def test_a_hanging_engine_gets_one_answer_and_a_draft_outlives_a_restart(
    station: Station, server: Server, practice: DealtClass
) -> None:
    desk = practice.desk("t03")
    solutions = desk.solutions()
    station.open(desk.notebook)
    first, draft = solutions["all-drops"], solutions["drop-current"]
    process = server.kernel_process(server.kernel_of(desk.notebook))
    process.suspend()
    try:
        station.fill(first, first.right)
        # Impatience: Enter, then the button, several times.
        station.page.keyboard.press("Enter")
        station.press(first)
        station.press(first)
        station.wait_state(first.name, "stuck")
        assert desk.on_disk(first.name) == []
    finally:
        process.resume()
    station.wait_state(first.name, "saved")
    assert desk.on_disk(first.name) == [first.right]

    station.fill(draft, draft.right)
    station.wait_state(draft.name, "editing")
    station.restart_kernel(asks=True)
    station.wait_bar("restarting")
    station.wait_ready()
    station.wait_state(draft.name, "editing")
    # In practice nothing is handed to the check that the trainee has not handed to it.
    assert station.value(draft.name) == draft.right
    assert desk.on_disk(draft.name) == []
    assert desk.on_disk(first.name) == [first.right]
