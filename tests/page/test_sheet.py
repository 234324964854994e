"""A lab's text cut up for a page: nothing of it may get lost, and its cautions stay open."""

from __future__ import annotations

import re
from functools import cache

import pytest

from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario, draw
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab
from labkit.language.expression import Prose
from labkit.language.markdown import to_html
from labkit.page.sheet import Sheet, sheet_of

LABS = sorted(file.parent.name for file in lab_library().glob("*/lab.md"))


@cache
def drawn(lab: str) -> tuple[Scenario, Sheet]:
    scenario = draw(read_lab(lab_library() / lab / "lab.md"), "page")
    return scenario, sheet_of(scenario)


def words(html: str) -> list[str]:
    """The letters and digits that a reader sees, in their order."""
    text = re.sub(r"<[^>]+>", "", html).replace("_", "")
    return re.findall(r"\w", text.translate(str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")))


@pytest.mark.parametrize("lab", LABS)
def test_every_word_of_a_lab_is_on_its_page(lab: str) -> None:
    scenario, sheet = drawn(lab)
    for step in sheet["steps"]:
        assert step["question"], step["exercise"]
    parts = [part for part in scenario.lab.body if isinstance(part, Prose)]
    texts = [to_html(part.render(scenario.names)) for part in parts]
    folded = [text for step in sheet["steps"] for text in step["texts"]] + sheet["after"]
    headings = {text["heading"] for text in folded} | {step["part"] for step in sheet["steps"]}
    shown = [
        *(text["html"] for text in folded),
        *(caution for step in sheet["steps"] for caution in step["cautions"]),
    ]
    without_headings = [re.sub(r"<h\d>.*?</h\d>", "", text) for text in texts]
    assert sorted(words("".join(shown))) == sorted(words("".join(without_headings)))
    for heading in re.findall(r"<h\d>(.*?)</h\d>", "".join(texts)):
        assert heading in headings


@pytest.mark.parametrize("lab", LABS)
def test_each_text_stands_under_a_heading_of_its_own(lab: str) -> None:
    """What stood without one was "About this lab" twice, and a table for one exercise lay there."""
    _, sheet = drawn(lab)
    later = [text["heading"] for step in sheet["steps"][1:] for text in step["texts"]]
    assert "" not in later
    first = [text["heading"] for text in sheet["steps"][0]["texts"]]
    assert len({*first, *later}) == len([*first, *later])


def test_a_table_after_an_exercise_stands_under_the_title_of_the_next_one() -> None:
    _, sheet = drawn("canopen-line")
    (text,) = sheet["steps"][1]["texts"]
    assert text["heading"] == "For “How fast can it be?”"
    assert "<table>" in text["html"]


@pytest.mark.parametrize("lab", LABS)
def test_a_question_says_the_same_as_in_the_notebook(lab: str) -> None:
    scenario, sheet = drawn(lab)
    exercises = [part for part in scenario.lab.body if isinstance(part, Exercise)]
    for step, exercise in zip(sheet["steps"], exercises, strict=True):
        question = re.sub(r"<summary>.*?</summary>", "", step["question"])
        assert words(question) == words(to_html(exercise.question.render(scenario.names)))


@pytest.mark.parametrize("lab", LABS)
def test_a_lab_has_its_caution_open_beside_the_first_question(lab: str) -> None:
    _, sheet = drawn(lab)
    (caution,) = sheet["steps"][0]["cautions"]
    assert "<strong>Caution." in caution
    assert "<details" not in caution


def test_what_is_marked_in_a_question_is_folded() -> None:
    _, sheet = drawn("troubleshooting")
    question = sheet["steps"][0]["question"]
    assert question.index("?") < question.index(
        "<details><summary>What stands between the two wires"
    )
    assert "folded:" not in question


@pytest.mark.parametrize("lab", LABS)
def test_both_drawings_of_a_network_name_the_same_parts_in_the_same_order(lab: str) -> None:
    scenario, sheet = drawn(lab)
    recipe = scenario.lab.network
    if recipe is None:
        assert sheet["picture"] == ""
        return
    # A note that is pinned in the wide one is found in the narrow one by the part it stands at.
    wide, narrow = (
        re.findall(r"<g><title>(.*?)</title>\s*<(?:circle|line|rect)", drawing)
        for drawing in (recipe.draw(scenario.network), sheet["picture"])
    )
    assert wide == narrow
    assert len(wide) > 5
