"""The expression language: what it gives, what it refuses, and where it says so."""

import pytest

from labkit.language.expression import Language, fixed, running_total, show
from labkit.language.problems import DefinitionError, Place
from labkit.language.taken_apart import sum_of

PLACE = Place("lab.md", 7, "answer")
VALUES = {"thick": 100, "thin": 20.5, "drops": [1.5, 2, 6], "rate": 250}


def _value(text: str) -> object:
    language = Language()
    return language.formula(text, PLACE, VALUES).evaluate(language.values(VALUES))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("thick + 5 * thin", 202.5),
        ("(thick + thin) / 2", 60.25),
        ("drops | max", 6),
        ("sum(drops)", 9.5),
        ("running_total([3, 4, 5])", [3, 7, 12]),
        ('"a" if rate > 125 else "b"', "a"),
        ("drops[0] ** 2", 2.25),
        ("thick > 50 and thin < 50", True),
        ("len(drops) // 2", 1),
        ("0.1 + 0.2 == 0.3", False),
    ],
)
def test_formulas_are_worked_out(text: str, value: object) -> None:
    assert _value(text) == value


@pytest.mark.parametrize(
    "text",
    ["thick-thin-rate*thin/-(thick+thin)", "-thick+ +rate", "((thick))*rate/thin/thick", "thin"],
)
def test_a_sum_is_worked_out_as_a_formula_is(text: str) -> None:
    assert sum_of(text, VALUES) == pytest.approx(_value(text), rel=1e-15)


@pytest.mark.parametrize(
    "text", ["thick**2", "thick//2", "drops|max", "thick.real", "[thick]", "1"]
)
def test_a_sum_is_of_names_and_four_signs_alone(text: str) -> None:
    with pytest.raises(ValueError, match="no part of a sum"):
        sum_of(text, VALUES)


@pytest.mark.parametrize(
    "text",
    [
        "().__class__",
        "thick.__class__",
        "''.__class__.__mro__",
        "drops.append(3)",
        "drops.__len__()",
        "''.format",
        "'{0.__class__}'.format(thick)",
        "drops | attr('__class__')",
        "9 ** 9 ** 9",
        "2 ** 100000",
        "'a' * 100000000",
        "[0] * 100000000",
        "'%0999999999d' % 1",
        "range(10 ** 9)",
        "drops | random",
        "lipsum()",
        "cycler",
        "self",
        "import os",
        "open('/etc/passwd')",
        "1 / 0",
        "thick + drops",
        "drops[99]",
        "thick.nothing + 1",
        "",
        "1 +",
        "}} {{ thick",
        "x" * 3000,
    ],
)
def test_what_is_beyond_the_language_is_refused_with_its_place(text: str) -> None:
    with pytest.raises(DefinitionError) as refused:
        _value(text)
    place = refused.value.problems[0].place
    assert (place.file, place.line, place.field) == ("lab.md", 7, "answer")


def test_an_unknown_name_comes_with_the_nearest_known_one() -> None:
    with pytest.raises(DefinitionError, match="Did you mean 'thick'"):
        _value("thik + 1")


def test_prose_says_the_line_of_an_unknown_name_inside_a_longer_text() -> None:
    text = "First line.\n\nThe trunk is {{ thick }} m,\nthe drop {{ dropp }} m."
    with pytest.raises(DefinitionError) as refused:
        Language().prose(text, PLACE, VALUES)
    assert refused.value.problems[0].place.line == 10


def test_prose_writes_numbers_as_people_do() -> None:
    language = Language()
    prose = language.prose("{{ 0.1 + 0.2 }} {{ 4.0 }} {{ thin | fixed(2) }}", PLACE, VALUES)
    assert prose.render(language.values(VALUES)) == "0.3 4 20.50"
    assert show(True) == "yes"
    assert fixed(2.0 / 3, 3) == "0.667"
    assert running_total([0.1, 0.2]) == [0.1, 0.3]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a { b } %c% #d#", "a { b } %c% #d#"),
        ("{{ thin }} m", "20.5 m"),
        ("{% if true %}yes{% endif %}", "yes"),
        ("Measure.{# the key: 60 ohm #} Then write.", "Measure. Then write."),
    ],
)
def test_each_mark_alone_makes_prose_a_template(text: str, shown: str) -> None:
    language = Language()
    assert language.prose(text, PLACE, VALUES).render(language.values(VALUES)) == shown


def test_a_comment_without_an_end_is_a_mistake_of_the_author() -> None:
    with pytest.raises(DefinitionError, match="comment"):
        Language().prose("Measure. {# the key: 60 ohm", PLACE, VALUES)


def test_prose_cannot_be_made_to_run_for_ever() -> None:
    language = Language()
    text = (
        "{% for a in l %}{% for b in l %}{% for c in l %}{% for d in l %}x"
        "{% endfor %}{% endfor %}{% endfor %}{% endfor %}"
    )
    values = {"l": list(range(500))}
    prose = language.prose(text, PLACE, values)
    with pytest.raises(DefinitionError, match="it takes over 200000 steps"):
        prose.render(language.values(values))


def test_the_same_names_always_give_the_same_text() -> None:
    language = Language()
    prose = language.prose("{% for d in drops %}{{ d }} {% endfor %}", PLACE, VALUES)
    assert len({prose.render(language.values(VALUES)) for _ in range(5)}) == 1
