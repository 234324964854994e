"""No empty line, and no sentence on what cannot be read, shows an answer that could be right."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any, cast

import pytest

from labkit.doors.installed import check_for, kinds, page_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

ROOT = Path(__file__).parents[2]
WIDGET_FILES = sorted(
    file
    for room in ("front_end", "kinds", "station/widgets")
    for file in (ROOT / "labkit" / room).rglob("*.js")
)
LABS = sorted([*ROOT.glob("labs/*/lab.md"), *ROOT.glob("tests/lab/labs/*/lab.md")])
WITH_A_FORM = {"quantity", "measured", "supply_position", "direct_address"}
NONSENSE: tuple[object, ...] = (
    "",
    "x y",
    "?",
    "12 x",
    "0x",
    "%IX",
    "V",
    "zz",
    {"": "x"},
    {},
    [],
    None,
)


@pytest.mark.parametrize("file", WIDGET_FILES, ids=lambda file: file.name)
def test_what_a_page_shows_in_an_empty_line_is_known_to_the_check(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    shown = re.findall(r"placeholder\s*[:=]\s*([^,\n;]+)", text)
    for each in shown:
        if each == "shown.view.form":
            assert file.stem in WITH_A_FORM
        else:
            assert each.startswith('"'), f"{each}: take it from the check's examples"
            assert not re.search(r"\d", each)
    assert "shown.view.form" in shown or file.stem not in WITH_A_FORM
    assert not re.search(r"for example|e\. ?g\.|such as", re.sub(r"//.*", "", text))


@cache
def exercises() -> dict[str, Any]:
    """The first exercise of each kind, with its numbers."""
    found: dict[str, Any] = {}
    for file in [*LABS, ROOT / "tests" / "library" / "bench-day" / "lab.md"]:
        lab = read_lab(file)
        scenario = draw(lab, "examples")
        for exercise in lab.exercises:
            if exercise.kind not in found:
                found[exercise.kind] = scenario.prepare(exercise)
    return found


def test_every_kind_is_looked_at() -> None:
    assert exercises().keys() == set(kinds())


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_the_form_on_the_page_is_the_one_that_proof_reading_tries(kind: str) -> None:
    made, check = exercises()[kind], cast(Any, check_for(kind))
    page = page_for(kind)
    assert hasattr(check, "examples") is (kind in WITH_A_FORM)
    if kind not in WITH_A_FORM:
        return
    form = page(made.ask, made.key).view()["form"]
    tried = [one["value"] if isinstance(one, dict) else one for one in check.examples(made.ask)]
    assert set(tried) == {form}
    assert not re.search(r"\d", form)
    for one in check.examples(made.ask):
        assert check.check(made.ask, made.key, one).credit == 0


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_a_sentence_on_what_cannot_be_read_shows_no_answer(kind: str) -> None:
    made, check = exercises()[kind], check_for(kind)
    right = check.right_answer(made.ask, made.key)
    answers: list[Any] = [*NONSENSE]
    if isinstance(right, dict):
        answers += [{**right, name: text} for name in right for text in NONSENSE]
        answers += [{name: text} for name in right for text in NONSENSE]
    for answer in answers:
        sentence = check.unreadable(made.ask, answer)
        # What was typed may be told again, and so may bounds and the names of things.
        told = sentence.replace("(0 to 9, A to F)", "").replace("digits 0 to 9", "")
        assert not re.search(r"(for example|e\. ?g\.|such as|write)[^.]*\d", told.lower()), sentence
