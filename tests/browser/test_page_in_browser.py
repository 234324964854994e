"""The page at the web host, in a browser: what a trainee sees, and what becomes of answers."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page_of
from course import CourseDesk
from course_at_the_page import opened, sat_down
from dealt import Solution
from hands import HANDS
from page_host import LocalHost, PageStation, scenario_of_lab
from starlette.responses import JSONResponse, PlainTextResponse
from trainee import Trainee, slips_to_make

from labkit.exchange.hand_in import pack
from labkit.exchange.journal import Journal, records
from labkit.exchange.task_file import journal_path
from labkit.station.workbook import Workbook

pytestmark = pytest.mark.browser


@pytest.fixture
def station(host: LocalHost, browser: Any) -> Iterator[PageStation]:
    """A browser of its own for each test."""
    with sat_down(host, browser) as found:
        yield found


def test_what_an_exercise_needs_lies_open_beside_it(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    """A table that a question speaks of is seen with it; who folds it finds it folded."""
    host.sit_down(scenario_of_lab("canopen-configuration"), tmp_path / "desk")
    opened(station, host)
    texts = station.page.locator(".pg-beside details.pg-folded")
    messages = texts.filter(has_text="position of the drive").locator("table")
    station.go("load")
    messages.wait_for()
    heads = texts.locator("> summary").all_inner_texts()
    assert len(heads) == len(set(heads)), heads
    assert texts.filter(has_text="Aim.").get_attribute("open") is None
    texts.locator("> summary", has_text="How full is the bus").click()
    messages.wait_for(state="hidden")
    station.go("mapping-words")
    station.go("load")
    assert messages.is_hidden()
    station.go("lamps")
    open_now = texts.and_(station.page.locator("[open]")).locator("> summary").all_inner_texts()
    assert open_now == ["Your network", "For “Two lamps”", "Part 7: when something is wrong"]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_exercises_have_the_colours_of_the_page(
    station: PageStation, host: LocalHost, tmp_path: Path, theme: str
) -> None:
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    station.page.emulate_media(color_scheme=theme)
    opened(station, host)
    colour = "node => getComputedStyle(node).backgroundColor"
    frame = station.page.locator(".lk-exercise").evaluate(colour)
    assert frame == station.page.locator(".pg-head").evaluate(colour)
    assert (frame == "rgb(255, 255, 255)") == (theme == "light")


def partly(solution: Solution) -> Any:
    """A right answer to a table, but for its last cell."""
    *_, last = solution.right
    return {**solution.right, last: ""}


def test_the_list_says_how_each_exercise_stands(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("network-power"), tmp_path / "desk")
    solutions = dealt.solutions()
    opened(station, host)
    trainee = Trainee(station, dealt)
    trainee.gives(solutions["supply-current"], solutions["supply-current"].right)
    wrong = slips_to_make(solutions["v-minus"])[0]
    trainee.gives(solutions["v-minus"], wrong)
    trainee.give(solutions["drop-limits"], partly(solutions["drop-limits"]))
    trainee.give(solutions["warm-copper"], "no number")
    trainee.gives(solutions["explain-cut"], solutions["explain-cut"].right)
    stands = {name: station.state(name) for name in solutions}
    assert {name: state for name, state in stands.items() if state != "open"} == {
        "supply-current": "right",
        "v-minus": "wrong",
        "drop-limits": "partly",
        "warm-copper": "unreadable",
        "explain-cut": "awaits",
    }
    spoken = station.page.locator('[data-place="drop-limits"] a').inner_text()
    assert "partly right" in spoken
    assert station.page.locator(".pg-count").inner_text() == "5 of 17 saved"


def test_partly_right_does_not_look_like_wrong(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("network-power"), tmp_path / "desk")
    solutions = dealt.solutions()
    opened(station, host)
    trainee = Trainee(station, dealt)
    look = """frame => [getComputedStyle(frame).borderLeftStyle,
        getComputedStyle(frame.querySelector('.lk-verdict')).color]"""
    trainee.give(solutions["drop-limits"], partly(solutions["drop-limits"]))
    half = station.exercise("drop-limits").evaluate(look)
    trainee.give(solutions["v-minus"], slips_to_make(solutions["v-minus"])[0])
    none = station.exercise("v-minus").evaluate(look)
    assert half[0] != none[0]
    assert half[1] != none[1]


def test_an_assessed_lab_says_open_and_saved_only(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk", practice=False)
    said: list[str] = []
    station.page.on("websocket", lambda it: it.on("framereceived", lambda text: said.append(text)))
    opened(station, host)
    solution = dealt.solutions()["longest-distance"]
    station.fill(solution, "1 m")
    station.exercise(solution.name).get_by_role("textbox").press("Tab")
    station.wait_state(solution.name, "saved")
    assert station.state(solution.name) == "saved"
    assert any('"saved"' in text for text in said)
    assert all(json.loads(text)["saved"]["verdict"] is None for text in said)
    # Left and saved, and then the button: one answer. What is typed after it is another one.
    station.press(solution)
    station.answer(solution, "2 m")
    assert dealt.on_disk(solution.name) == ["1 m", "2 m"]


def test_the_next_open_one_is_one_press_away(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    solutions = dealt.solutions()
    first, second, third, *_ = solutions
    opened(station, host)
    station.answer(solutions[second], solutions[second].right)
    station.go(first)
    station.page.get_by_role("button", name="Next open one").click()
    station.page.locator(f'[data-place="{third}"] [aria-current]').wait_for()
    assert station.page.evaluate("document.activeElement.tagName") == "MAIN"
    station.answer(solutions[first], solutions[first].right)
    opened(station, host)
    assert station.page.url.endswith(f"#{third}")


def test_handing_in_lists_what_is_open_and_shows_the_receipt(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    solutions = dealt.solutions()
    first, second, *rest = solutions
    page = station.page
    opened(station, host)
    station.answer(solutions[first], solutions[first].right)
    station.fill(solutions[second], "7 m")
    station.go("_hand-in")
    panel = page.locator(".pg-handing-in")
    assert "1 answered but not saved yet" in panel.inner_text()
    assert panel.get_by_role("listitem").count() == len(rest) + 1
    host.receipt = PlainTextResponse("The lab is closed since 10:00.", 409)
    panel.get_by_role("button", name="Hand in").click()
    panel.get_by_text("The lab is closed since 10:00.").wait_for()
    station.page_errors.clear()  # the browser notes the refusal
    host.receipt = JSONResponse({"code": "H7K-29Q", "at": "2026-01-05T09:30:00Z"})
    panel.get_by_role("button", name="Hand in").click()
    panel.get_by_text("H7K-29Q").wait_for()
    panel.get_by_role("link").first.click()
    page.locator(f'[data-place="{second}"] [aria-current]').wait_for()


def test_what_the_room_says_of_a_lab_is_shown(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    receipt = {"code": "H7K-29Q", "at": "2026-01-05T09:30:00Z"}
    clock = {"now": "2026-01-05T09:00:00Z", "deadline": "2026-01-05T09:42:30Z"}
    host.now = {"person": "t01", "clock": clock, "receipt": receipt}
    opened(station, host, "#_hand-in")
    page = station.page
    assert page.locator(".pg-time").inner_text() == "42 min left"
    assert page.locator(".pg-code").inner_text() == "H7K-29Q"
    host.now = {**host.now, "shut": "The time is up."}
    page.reload()
    page.get_by_text("The time is up.").first.wait_for()
    assert not page.get_by_role("button", name="Hand in").is_visible()


def test_what_is_not_saved_is_told_and_kept(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    host.now = {"person": "t01"}
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    first = dealt.solutions()["longest-distance"]
    page = station.page
    opened(station, host)
    station.fill(first, "12 m")
    page.locator(".pg-line", has_text="Not saved yet: 1").wait_for()
    opened(station, host, "#all-drops")
    page.reload()
    page.locator(".pg-line", has_text="Not saved yet: 1").wait_for()
    assert "not saved" in page.locator(f'[data-place="{first.name}"]').inner_text()
    assert station.value(first.name) == "12 m"


def test_who_joins_next_on_a_laptop_finds_nothing(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    host.now = {"person": "t01"}
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    first = dealt.solutions()["longest-distance"]
    opened(station, host)
    station.fill(first, "12 m")
    host.now = {"person": "t02"}
    station.page.reload()
    assert station.value(first.name) == ""
    host.now = {"person": "t01"}
    station.page.reload()
    assert station.value(first.name) == ""
    kept = "Object.keys(localStorage).filter(key => key.startsWith('labkit:'))"
    assert station.page.evaluate(kept) == []


def test_leaving_after_saved_asks_nothing(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    first = dealt.solutions()["longest-distance"]
    asked: list[str] = []

    def answer(dialog: Any) -> None:
        asked.append(dialog.type)
        dialog.accept()

    station.page.on("dialog", answer)
    opened(station, host)
    station.answer(first, first.right)
    station.page.goto("about:blank")
    assert asked == []


def test_one_more_like_this_is_worked_at_and_counts_for_nothing(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    page = station.page
    opened(station, host)
    assert not page.get_by_role("button", name="One more like this").is_visible()
    own = page.locator(".pg-place")
    own.get_by_label("Your answer").fill("1 m")
    own.get_by_role("button", name="Check my answer").click()
    own.locator(".lk-verdict").wait_for()
    page.get_by_role("button", name="One more like this").click()
    one = page.locator(".pg-one")
    one.get_by_label("Your answer").wait_for()
    asked = [each.locator(".lk-question").inner_text() for each in (own, one)]
    drawn = [page.locator(f"{place} svg").first.inner_html() for place in (".pg-beside", ".pg-one")]
    assert asked[0] != asked[1] or drawn[0] != drawn[1]
    one.get_by_label("Your answer").fill("2 m")
    one.get_by_role("button", name="Check my answer").click()
    one.locator(".lk-verdict").wait_for()
    station.shot("page-one-more")
    assert own.get_by_label("Your answer").input_value() == "1 m"
    page.get_by_role("button", name="Another one").click()
    one.locator(".lk-verdict").wait_for(state="detached")
    assert one.get_by_label("Your answer").input_value() == ""
    name = next(iter(dealt.solutions()))
    entries = Journal(journal_path(dealt.task_file)).read().entries
    assert [entry["event"] for entry in entries] == ["opened", "answer", "drill"]
    assert records(entries)[name].tries == 1


@pytest.mark.parametrize("sockets", [True, False], ids=["by a socket", "by plain requests"])
def test_two_windows_agree(
    station: PageStation, host: LocalHost, tmp_path: Path, sockets: bool
) -> None:
    host.sockets = sockets
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    first, second, *_ = dealt.solutions().values()
    other = PageStation(host, station.page.context.new_page())  # type: ignore[arg-type]
    opened(other, host)
    opened(station, host)
    station.answer(first, first.right)
    other.page.locator(f'[data-place="{first.name}"][data-state="right"]').wait_for()
    assert other.value(first.name) == str(first.right)
    other.answer(second, second.right)
    station.page.locator(f'[data-place="{second.name}"][data-state="right"]').wait_for()
    assert dealt.on_disk(second.name) == [second.right]
    assert host.pages is not None
    assert host.desk is not None
    assert (host.desk.number, "") in host.pages.who_is_here()
    other.fill(first, "9 m")
    station.answer(first, "8 m")
    other.page.locator(".pg-line", has_text="Not saved yet: 1").wait_for()
    other.answer(second, "7 m")  # which comes after what station saved
    assert other.value(first.name) == "9 m"
    other.page.close()
    if not sockets:
        station.page_errors[:] = [e for e in station.page_errors if "WebSocket" not in e]


def test_a_page_whose_workbook_is_another_one_by_now_shows_that_one(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    first = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "first")
    solution = next(iter(first.solutions().values()))
    opened(station, host)
    station.answer(solution, solution.right)
    host.sit_down(scenario_of_lab("plan-the-trunk", "retake"), tmp_path / "second")
    host.drop_sockets()
    station.page.locator(f'[data-place="{solution.name}"][data-state="open"]').wait_for()
    assert station.value(solution.name) == ""


def test_the_same_answers_give_the_same_marks_as_in_the_notebook(
    station: PageStation, host: LocalHost, browser: Any, tmp_path: Path
) -> None:
    here = CourseDesk.sit_down(tmp_path / "page", "plan-the-trunk")
    there = CourseDesk.sit_down(tmp_path / "notebook", "plan-the-trunk")
    host.open(here)
    opened(station, host)
    at_the_page = Trainee(station, here)
    page = browser.new_page()
    in_the_notebook = bare_page_of(page, Workbook.open(str(there.task_file)))
    for number, (name, solution) in enumerate(here.solutions().items()):
        answer = some_answer(solution, number)
        at_the_page.gives(solution, answer)
        frame = in_the_notebook.put_on(name)
        HANDS[solution.kind](frame, solution, answer)
        frame.get_by_role("button", name="my answer").click()
        page.locator(f'[data-exercise="{name}"][data-state="saved"]').wait_for()
        assert here.on_disk(name) == there.on_disk(name)
    page.close()
    marks = [hand_in_and_score(desk) for desk in (here, there)]
    assert marks[0] == marks[1]
    assert any(earned != possible for _, earned, possible, _ in marks[0])


def some_answer(solution: Solution, number: int) -> Any:
    """A known mistake for every third exercise, where it has one."""
    slips = slips_to_make(solution)
    return slips[0] if slips and number % 3 == 1 else solution.right


def hand_in_and_score(desk: CourseDesk) -> list[tuple[str, float, float, bool]]:
    shutil.copy(pack(desk.task_file), desk.class_folder.hand_ins)
    return [(m.exercise, m.earned, m.possible, m.awaits) for m in desk.scored().marks]


def test_an_answer_waits_until_the_host_is_back(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    first = dealt.solutions()["longest-distance"]
    opened(station, host)
    host.sockets = False
    host.drop_sockets()
    host.answers = False
    station.fill(first, first.right)
    station.press(first)
    station.wait_state(first.name, "stuck")
    frame = station.exercise(first.name).inner_text()
    assert "Your instructor's machine does not answer" in frame
    assert "ernel" not in frame
    station.page.locator(".pg-line.pg-away").wait_for()
    assert dealt.on_disk(first.name) == []
    host.answers = host.sockets = True
    station.wait_state(first.name, "saved")
    station.page.locator(".pg-line:not(.pg-away)").wait_for(state="attached")
    assert dealt.on_disk(first.name) == [first.right]
    station.page_errors.clear()  # the browser notes each try that failed


def test_an_exercise_that_did_not_come_is_asked_for_again(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    opened(station, host)
    host.answers = False
    station.page.locator('[data-place="addresses"] a').click()
    station.page.get_by_text("This exercise did not come.").wait_for()
    host.answers = True
    station.page.get_by_role("button", name="Try again").click()
    station.page.locator('[data-exercise="addresses"]').wait_for()
    station.page_errors.clear()  # the browser notes what failed


def test_a_page_whose_workbook_is_gone_says_so(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    first = dealt.solutions()["longest-distance"]
    opened(station, host)
    host.desk = None
    host.drop_sockets()
    station.page.locator(".pg-away", has_text="join the class again").wait_for()
    station.fill(first, "1 m")
    assert station.page.get_by_role("link", name="To the first page").is_visible()
    station.page_errors.clear()  # the browser notes the refusal
