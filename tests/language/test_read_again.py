"""A text that was read is there at once when it is read again, and has names of its own place."""

from __future__ import annotations

import pytest

from labkit.language import expression
from labkit.language.expression import Language
from labkit.language.problems import DefinitionError, Place

HERE, THERE = Place("lab.md", 3, "answer"), Place("other.md", 9, "answer")


def test_the_same_text_stands_at_each_place_with_its_own_names() -> None:
    first = Language().formula("again_a + again_b", HERE, ["again_a", "again_b", "more"])
    second = Language().formula("again_a + again_b", THERE, ["again_a", "again_b"])
    assert (first.place, second.place) == (HERE, THERE)
    assert first.names == second.names == {"again_a", "again_b"}
    assert second.evaluate({"again_a": 1, "again_b": 2}) == 3
    with pytest.raises(DefinitionError, match=r"other\.md, line 9.*'again_b' is not a name"):
        Language().formula("again_a + again_b", THERE, ["again_a"])


def test_prose_and_formula_of_one_text_are_two() -> None:
    text = "'{{ 1 + 1 }}'"
    assert Language().formula(text, HERE, []).evaluate({}) == "{{ 1 + 1 }}"
    assert Language().prose(text, HERE, []).render({}) == "'2'"
    assert Language().formula(text, HERE, []).evaluate({}) == "{{ 1 + 1 }}"


def test_a_name_of_another_family_is_none_here() -> None:
    with_it = Language({"again_f": lambda: 7})
    assert with_it.formula("again_f()", HERE, []).evaluate(with_it.values({})) == 7
    with pytest.raises(DefinitionError, match="'again_f' is not a name"):
        Language().formula("again_f()", HERE, [])


def test_what_may_not_stand_there_is_refused_each_time() -> None:
    for _ in range(2):
        with pytest.raises(DefinitionError):
            Language().prose("{% include 'x' %}", HERE, [])


def test_so_much_is_kept_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(expression, "_MOST_READ", 3)
    monkeypatch.setattr(expression, "_READ", {})
    for number in range(10):
        assert Language().formula(f"{number} + 1", HERE, []).evaluate({}) == number + 1
        assert len(expression._READ) <= 3
