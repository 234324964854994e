"""An author's day at the preview, in a real browser: write, save, see, mend."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from previewed_lab import preview_of

sys.path.append(str(Path(__file__).parents[1] / "preview"))

from written_lab import SLIPPING, TEXT


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The lab that is written at."""
    made = tmp_path / "labs" / "small" / "lab.md"
    made.parent.mkdir(parents=True)
    made.write_text(TEXT, encoding="utf-8")
    return made


@pytest.fixture
def address(file: Path) -> Iterator[str]:
    """Where `labkit preview` shows it."""
    with preview_of(file) as shown:
        yield shown


def test_writing_with_the_preview_beside_it(
    file: Path, address: str, devices: Callable[..., Any]
) -> None:
    needs_axe()
    page = devices(here=address[: address.index("/", 8)])
    page.goto(f"{address}#taps")
    question, answer = page.locator(".lk-question"), page.locator(".lk-input")
    question.filter(has_text="A box holds").wait_for()
    answer.fill("3 m")

    # A save elsewhere in the text: what is typed here stays, with the focus.
    file.write_text(TEXT.replace("title: The loop", "title: All of the loop"), encoding="utf-8")
    page.locator('[data-place="loop"]', has_text="All of the loop").wait_for()
    assert answer.input_value() == "3 m"
    assert answer.evaluate("(node) => node === document.activeElement")

    goes_on_with_trials(page, file)

    # Something else is asked here: that is seen, and it is said whose answer is gone.
    other = TEXT.replace("A box holds", "Another box holds")
    file.write_text(other, encoding="utf-8")
    question.filter(has_text="Another box holds").wait_for()
    assert answer.input_value() == ""
    page.locator(".pv-state", has_text="Answers cleared").filter(has_text="The taps").wait_for()

    # One exercise is broken: it is a card in its place, the others go on.
    file.write_text(other.replace("answer: both_ways", "answer: both_wyas"), encoding="utf-8")
    page.locator('[data-place="loop"] .pv-mark').wait_for()
    assert "A" in question.inner_text()
    wrong = page.locator(".pv-list .pv-problem")
    assert "answer: both_wyas" in wrong.locator(".pv-source").inner_text()
    assert "small/lab.md, line" in wrong.locator(".pv-where").inner_text()
    assert "2 to be mended" not in page.locator(".pv-state", has_text="1 to be mended").inner_text()
    reached_by_key(page)
    stands_beside_or_above(page)
    wrong.locator("a", has_text="To exercise 1.").click()
    page.locator(".pv-card", has_text="cannot be shown").wait_for()
    assert page.locator(".pg-stage").evaluate("(node) => node === document.activeElement")
    assert findings(page) == []

    # The header is broken: what was drawn last stays, marked as old.
    file.write_text(other.replace("2 * length", "2 * lenth"), encoding="utf-8")
    page.locator(".pv-of-old").wait_for()
    assert "cannot be drawn" in page.locator(".pv-state").inner_text()
    page.locator(".pv-card").wait_for()
    file.write_text(other, encoding="utf-8")
    page.locator(".pv-of-old").wait_for(state="detached")
    page.locator(".lk-question", has_text="How long is the loop?").wait_for()

    # Another draw and back, by keys; the other view; print and solutions in windows of their own.
    first = question.inner_text()
    page.keyboard.press("Alt+N")
    page.locator(".pv-seed", has_not_text="one").wait_for()
    page.keyboard.press("Alt+B")
    page.locator(".pv-seed", has_text="one").wait_for()
    page.locator(".lk-question", has_text=first).wait_for()
    page.keyboard.press("Alt+V")
    page.locator(".pv-state", has_text="as an assessed class gets it").wait_for()
    for key, words in (("Alt+O", "The loop"), ("Alt+K", "copy")):
        with page.context.expect_page() as opened:
            page.keyboard.press(key)
        opened.value.locator("body", has_text=words).wait_for()
        opened.value.close()

    # What the quick proof finds stands at its exercise.
    file.write_text(SLIPPING, encoding="utf-8")
    found = page.locator(".pv-here summary")
    found.wait_for(timeout=90_000)
    assert "50 draws, of the text saved at" in page.locator(".pv-proof").inner_text()
    found.click()
    page.locator(".pv-here .pv-problem").first.wait_for()
    page.keyboard.press("Alt+L")
    page.locator(".pv-list").wait_for()
    assert findings(page) == []


def goes_on_with_trials(page: Any, file: Path) -> None:
    """What is typed, and one more like it, stay where their exercise is the same, or come back."""
    own, other = page.locator(".pg-place .lk-input"), page.locator(".pg-one .lk-input")
    page.locator(".pg-place .lk-button", has_text="Check").click()
    page.locator(".pg-more > .pg-button").click()
    other.fill("7 m")
    other.press("End")
    drawn = page.locator(".pg-one .lk-question").inner_text()
    own.fill("4 m")
    other.focus()

    def save(old: str, new: str) -> None:
        assert old in TEXT
        file.write_text(TEXT.replace(old, new), encoding="utf-8")

    save("title: The loop", "title: The whole loop")
    page.locator('[data-place="loop"]', has_text="The whole loop").wait_for()
    assert other.evaluate("(node) => node === document.activeElement")
    # Broken for a while, then as it was.
    save("answer: length / taps", "answer: length / tapps")
    page.locator(".pv-card").wait_for()
    save("title: The loop", "title: The loop again")
    page.locator(".pg-one").wait_for()
    assert page.locator(".pg-one .lk-question").inner_text() == drawn
    assert (own.input_value(), other.input_value()) == ("4 m", "7 m")
    assert "leared" not in page.locator(".pv-state").inner_text()
    # Solved in another way: the answer stays, the drill does not, and that is said.
    save("answer: length / taps", "answer: 2 * length / taps")
    page.locator(".pv-state", has_text="closed, since").filter(has_text="The taps").wait_for()
    other.wait_for(state="detached")
    assert own.input_value() == "4 m"


def reached_by_key(page: Any) -> None:
    """The list of what is wrong takes the focus and gives it back to where it was."""
    answer, shown = page.locator(".lk-input"), page.locator(".pv-list")
    is_at = "(node) => node === document.activeElement"
    answer.focus()
    page.keyboard.press("Alt+L")
    assert shown.evaluate(is_at)
    page.keyboard.press("Escape")
    assert shown.is_hidden()
    assert answer.evaluate(is_at)
    page.keyboard.press("Alt+L")
    assert shown.evaluate(is_at)
    page.keyboard.press("Alt+L")
    assert answer.evaluate(is_at)
    page.locator(".pv-button", has_text="to be mended").click()


def stands_beside_or_above(page: Any) -> None:
    """On a wide page beside the lab, on a narrow one between the head and the lab."""

    def box(where: str) -> Any:
        return page.locator(where).bounding_box()

    shown, stage, head = box(".pv-list"), box(".pg-stage"), box(".pg-head")
    assert shown["x"] >= stage["x"] + stage["width"]
    assert abs(shown["y"] - stage["y"]) < 30
    page.set_viewport_size({"width": 400, "height": 768})
    shown, stage, head = box(".pv-list"), box(".pg-stage"), box(".pg-head")
    assert head["y"] + head["height"] <= shown["y"] + 1
    assert shown["y"] + shown["height"] <= stage["y"]
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    assert findings(page) == []
    page.set_viewport_size({"width": 1366, "height": 768})


def test_markup_in_a_lab_runs_nothing(
    file: Path, address: str, devices: Callable[..., Any]
) -> None:
    page = devices(here=address[: address.index("/", 8)])
    page.goto(f"{address}#loop")
    page.locator(".lk-question").wait_for()
    bad = "<img src=x onerror=document.title=1><script>document.title=1</script>"
    text = TEXT.replace("title: A small lab", f"title: '{bad}'")
    text = text.replace("answer: both_ways", f"answer: '{bad}'").replace("How long", f"{bad} How")
    file.write_text(text, encoding="utf-8")
    page.locator(".pv-card .pv-source", has_text="onerror").wait_for()
    assert page.locator("img, body script").count() == 0
    assert page.title() == bad
