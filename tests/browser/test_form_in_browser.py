"""Exercises added, changed, moved and copied by form, in a real browser."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from previewed_lab import preview_of

sys.path.append(str(Path(__file__).parents[1] / "preview"))

from written_lab import TEXT

ADDED = """\
```exercise which-end
kind: choice
title: Which end?
question: 'Where does it stand: at the start or at the end?'
answer: '"start"'
options:
  - id: start
    text: At the start
    tell: That is right.
  - id: end
    text: At the end
    tell: No, at the start.
marks: 1
working: It stands at the start.
```
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    made = tmp_path / "labs" / "small" / "lab.md"
    made.parent.mkdir(parents=True)
    made.write_text(TEXT, encoding="utf-8")
    return made


@pytest.fixture
def address(file: Path) -> Iterator[str]:
    with preview_of(file) as shown:
        yield shown


class Form:
    """The form on the preview's page."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.node = page.locator(".pf-form")

    def fill(self, label: str, text: str, number: int = 0) -> None:
        """Type into a field; of rows, into that of a row."""
        self.node.get_by_label(label, exact=True).nth(number).fill(text)

    def press(self, words: str) -> None:
        """Press a button of the form."""
        self.node.get_by_role("button", name=words, exact=True).click()

    def look(self) -> list[str]:
        """The lines that it would write, with their signs."""
        self.press("Show what it writes")
        self.node.locator(".pf-hunks").wait_for()
        lines = self.node.locator(".pf-line[data-sign]")
        return [
            f"{each.get_attribute('data-sign')}{each.locator('code').inner_text()}"
            for each in lines.all()
        ]

    def write(self) -> None:
        """Write what is shown."""
        self.press("Write it into the file")
        self.page.locator(".pf-said", has_text="Written").wait_for()

    def undo(self) -> None:
        """Take back what was written last."""
        self.page.get_by_role("button", name="Undo").click()
        self.page.locator(".pf-said", has_text="Undone").wait_for()


def test_a_lab_written_by_form(file: Path, address: str, devices: Callable[..., Any]) -> None:
    needs_axe()
    page = devices(here=address[: address.index("/", 8)])
    page.goto(f"{address}#loop")
    page.locator(".lk-question", has_text="How long is the loop?").wait_for()
    form = Form(page)
    adds(page, form)
    assert file.read_text(encoding="utf-8") == TEXT.replace("# Taps\n", f"{ADDED}\n# Taps\n")
    changes(page, form)
    copies_and_moves(page, form, file)
    is_told_of_an_editor(page, form, file)


def here(page: Any, words: str) -> Any:
    """A button above the exercise in focus."""
    return page.get_by_role("group", name="This exercise").get_by_role("button", name=words)


def adds(page: Any, form: Form) -> None:
    """A new exercise of a kind, which then is drawn."""
    page.get_by_role("button", name="Add an exercise").wait_for()
    page.keyboard.press("Alt+A")
    form.node.locator('[data-kind="choice"]').wait_for()
    assert findings(page) == []
    form.node.locator('[data-kind="choice"]').click()
    form.node.get_by_label("Title").wait_for()
    behind = form.node.get_by_label("It stands behind")
    assert behind.evaluate("n => n.selectedOptions[0].text") == "exercise: The loop"
    names = form.node.locator("details", has_text="Names that formulas may use")
    names.locator("summary").click()
    assert names.locator("code").inner_text() == "both_ways, length, taps"
    form.press("Show what it writes")
    wrong = form.node.locator(".pf-field", has=page.locator("[aria-invalid]"))
    wrong.first.wait_for()
    assert "'title' is empty." in wrong.first.inner_text()
    assert wrong.first.locator("textarea").evaluate("node => node === document.activeElement")
    assert findings(page) == []
    form.fill("Title", "Which end?")
    form.fill("Question", "Where does it stand: at the start or at the end?")
    form.fill("Answer", '"strt"')
    for at, (name, text, tell) in enumerate(
        (("start", "At the start", "That is right."), ("end", "At the end", "No, at the start."))
    ):
        form.node.locator(".pf-row").nth(at).get_by_label("Id", exact=True).fill(name)
        form.fill("Text", text, at)
        form.fill("Tell", tell, at)
    form.fill("Marks", "1")
    form.fill("Working", "It stands at the start.")
    # What only a draw shows is told at its field too.
    form.press("Show what it writes")
    page.locator(".pf-field", has_text="'strt' is not an option").wait_for()
    form.fill("Answer", '"start"')
    assert form.look() == [f"+{line}" for line in [*ADDED.splitlines(), " "]]
    assert findings(page) == []
    form.write()
    page.locator(".lk-question", has_text="Where does it stand").wait_for()
    page.locator(".lk-option", has_text="At the end").wait_for()


def changes(page: Any, form: Form) -> None:
    """One field is changed, and nothing else; a row moves by keyboard."""
    form.fill("Question", "On which end?")
    assert form.look() == [
        "-question: 'Where does it stand: at the start or at the end?'",
        "+question: 'On which end?'",
    ]
    form.write()
    page.locator(".lk-question", has_text="On which end?").wait_for()
    down = form.node.get_by_role("button", name="Options, number 1: one down")
    down.focus()
    page.keyboard.press("Enter")
    assert form.node.get_by_label("Text", exact=True).first.input_value() == "At the end"
    assert len(form.look()) == 6
    closes_by_escape(page, form)


def closes_by_escape(page: Any, form: Form) -> None:
    """Escape asks where something typed would be lost, and leaves the focus where it began."""
    asked: list[str] = []

    def says(*, yes: bool) -> None:
        def answers(dialog: Any) -> None:
            asked.append(dialog.message)
            dialog.accept() if yes else dialog.dismiss()

        page.once("dialog", answers)

    form.node.get_by_label("Title", exact=True).focus()
    says(yes=False)
    page.keyboard.press("Escape")
    assert form.node.is_visible()
    says(yes=True)
    page.keyboard.press("Escape")
    form.node.wait_for(state="hidden")
    assert len(asked) == 2
    assert here(page, "Change").evaluate("node => node === document.activeElement")
    page.keyboard.press("Alt+A")
    form.node.locator('[data-kind="choice"]').first.wait_for()
    page.keyboard.press("Escape")  # nothing is typed: nothing is asked
    form.node.wait_for(state="hidden")
    assert len(asked) == 2


def copies_and_moves(page: Any, form: Form, file: Path) -> None:
    """A copy behind it, which is moved to the end and back by undo."""
    here(page, "Copy").click()
    block = [line[1:] for line in form.look()]
    assert block[0] == "```exercise which-end-2"
    assert "question: 'On which end?'" in block
    form.write()
    page.locator('.pg-list [data-place="which-end-2"]').wait_for()
    copied = file.read_text(encoding="utf-8")
    page.locator('.pg-list a[href="#which-end-2"]').click()
    here(page, "Move").click()
    last = "exercise: The same in every draw"
    form.node.get_by_label("It stands behind").select_option(label=last)
    form.look()
    form.write()
    moved = file.read_text(encoding="utf-8")
    assert moved.index("```exercise which-end-2") > moved.index("```exercise fixed")
    form.undo()
    assert file.read_text(encoding="utf-8") == copied


def is_told_of_an_editor(page: Any, form: Form, file: Path) -> None:
    """What an editor writes meanwhile is not written over, and what is typed stays."""
    page.locator('.pg-list a[href="#taps"]').click()
    page.locator(".lk-question", has_text="A box holds").wait_for()
    page.keyboard.press("Alt+C")
    form.fill("Title", "Mine")
    theirs = file.read_text(encoding="utf-8").replace("title: The loop", "title: Theirs")
    file.write_text(theirs, encoding="utf-8")
    form.node.locator(".pf-told", has_text="was changed meanwhile").wait_for()
    form.press("Show what it writes")
    assert file.read_text(encoding="utf-8") == theirs
    form.press("Take in the file as it is now")
    form.node.locator(".pf-told", has_text="still here").wait_for()
    assert form.look() == ["-title: The taps", "+title: Mine"]
    form.write()
    assert file.read_text(encoding="utf-8") == theirs.replace("title: The taps", "title: Mine")
    form.undo()
    assert file.read_text(encoding="utf-8") == theirs


def test_an_exercise_of_another_lab_is_found_and_taken(
    file: Path, address: str, devices: Callable[..., Any]
) -> None:
    needs_axe()
    other = file.parent.parent / "other" / "lab.md"
    other.parent.mkdir()
    text = TEXT.replace("id: small", "id: other").replace("length", "metres")
    other.write_text(text.replace("title: A small", "title: Another"), encoding="utf-8")
    page = devices(here=address[: address.index("/", 8)])
    page.goto(f"{address}#loop")
    page.get_by_role("button", name="Add an exercise").click()
    form = Form(page)
    form.node.get_by_role("button", name="Take one from another lab").press("Enter")
    sought = form.node.get_by_label("Words of it")
    assert sought.evaluate("node => node === document.activeElement")
    sought.press("Enter")
    form.node.locator(".pf-told", has_text="Type a word first.").wait_for()
    page.keyboard.type("how loop anothr")
    page.keyboard.press("Enter")
    form.node.locator(".pf-told", has_text="Did you mean 'another'").wait_for()
    sought.fill("how loop another")
    page.keyboard.press("Enter")
    found = form.node.locator('[data-from="other/loop 1.0"]')
    found.wait_for()
    assert "With it comes: both_ways, metres." in found.inner_text()
    assert findings(page) == []
    sought.press("Escape")  # takes out what is typed there
    assert form.node.is_visible()
    assert sought.input_value() == ""
    found.press("Enter")
    form.node.get_by_label("Title", exact=True).wait_for()
    assert form.node.get_by_label("From", exact=True).input_value() == "other/loop 1.0"
    assert findings(page) == []
    form.fill("Given", "metres: length\nboth_ways: both_ways")
    form.fill("Title", "From there")
    form.look()
    form.write()
    taken = "given:\n  metres: length\n  both_ways: both_ways\ntitle: From there\n```\n"
    assert f"```exercise from-there\nfrom: other/loop 1.0\n{taken}" in file.read_text("utf-8")
    form.node.locator("h2", has_text="Change: From there").wait_for()
    page.locator(".lk-question", has_text="How long is the loop?").first.wait_for()


def test_what_is_typed_stays_beside_what_an_editor_changed_in_the_same_exercise(
    file: Path, address: str, devices: Callable[..., Any]
) -> None:
    page = devices(here=address[: address.index("/", 8)])
    page.goto(f"{address}#loop")
    here(page, "Change").click()
    form = Form(page)
    form.node.get_by_label("Title", exact=True).wait_for()

    def editor_writes(old: str, new: str) -> None:
        file.write_text(file.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
        form.node.locator(".pf-told", has_text="was changed meanwhile").wait_for()
        form.press("Take in the file as it is now")

    form.fill("Working", "Mine")
    editor_writes("title: The loop", "title: Theirs")
    form.node.locator(".pf-told", has_text="still here").wait_for()
    assert form.node.get_by_label("Title", exact=True).input_value() == "Theirs"
    assert form.look() == ["-working: Add them up.", "+working: Mine"]
    editor_writes("working: Add them up.", "working: Of theirs")
    form.node.locator(".pf-told", has_text="You had typed: Mine").wait_for()
    assert "Working was changed there too" in form.node.locator(".pf-told").inner_text()
    assert form.node.get_by_label("Working", exact=True).input_value() == "Of theirs"
