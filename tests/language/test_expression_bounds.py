"""The expression language: no way out of it, no way to hang in it, and mistakes with a place."""

from contextlib import suppress
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.network import Network, Segment
from labkit.language.expression import Language
from labkit.language.problems import DefinitionError, Place
from labkit.language.sandbox import MAX_ITEMS

PLACE = Place("lab.md", 7, "let → x")
NETWORK = Network(125, (Segment("thick", 100.0),))
VALUES = {
    "text": "abc",
    "whole": 5,
    "part": 2.5,
    "many": list(range(500)),
    "few": [1, 2.5],
    "network": NETWORK,
}
FUNCTIONS: dict[str, Any] = {"limit": 4.65, "half": lambda value: value / 2}
LANGUAGE = Language(FUNCTIONS)


def value_of(text: str) -> object:
    formula = LANGUAGE.formula(text, PLACE, VALUES)
    return formula.evaluate(LANGUAGE.values(VALUES))


def written(text: str) -> str:
    return LANGUAGE.prose(text, Place("lab.md", 7), VALUES).render(LANGUAGE.values(VALUES))


def problem_of(text: str, prose: bool = False) -> str:
    with pytest.raises(DefinitionError) as caught:
        written(text) if prose else value_of(text)
    (problem,) = caught.value.problems
    assert problem.place.file == "lab.md"
    assert prose or (problem.place.line, problem.place.field) == (7, "let → x")
    return str(problem)


ESCAPES = [
    "().__class__",
    "().__class__.__bases__[0].__subclasses__()",
    "''['__class__']",
    "''.format",
    "'{0.__class__}'.format(text)",
    "'{0.__class__}'.format_map({})",
    "network.__init__",
    "network.__init__.__globals__",
    "network.__dict__",
    "half.__globals__",
    "half.__code__",
    "sum.__globals__",
    "abs.__self__",
    "text | attr('__class__')",
    "[network] | map(attribute='__class__') | list",
    "[text] | map('attr', '__class__') | list",
    "few.append(3)",
    "few.__iadd__([3])",
    "whole.to_bytes(9, 'big')",
    "text.encode()",
    "self",
    "self.__init__",
    "caller",
    "varargs",
    "loop",
    "range(3)",
    "lipsum()",
    "dict()",
    "cycler",
    "namespace()",
    "joiner()",
    "many | random",
    "many | shuffle",
    "text | safe",
    "text | pprint",
    "network | string",
    "sum",
    "text.upper",
    "few.foo",
    "few[9]",
    "{1: 2}[3]",
    "none + 1",
]


@pytest.mark.parametrize("text", ESCAPES)
def test_there_is_no_way_out_of_the_language(text: str) -> None:
    problem_of(text)


def test_nothing_was_changed_by_the_attempts() -> None:
    assert VALUES["few"] == [1, 2.5]


BOMBS = [
    "9 ** 9 ** 9",
    "9 ^ 9 ^ 9",
    "1025 ^ 1000",
    "1e300 ^ 2",
    "2 ^ (1e308 × 10)",
    "^".join(["1"] * 900),
    "16#" + "F" * 1900,
    "(2 ^ 900) × (2 ^ 900)",
    "shift_left(1, 64)",
    "shift_left(1, 1e9)",
    "shift_left(2 ^ 900, 1)",
    "bits_of(1, 1e9)",
    "bytes_of(1, 1e9)",
    "hex(1, 1e9)",
    "binary(1, 1e9)",
    "many | map('hex', 1e9) | join",
    "hex_bytes([1] * 1001)",
    "bytes_in('01 ' * 1001)",
    "check_sum([1] * 1001, 'CRC-32/ISO-HDLC')",
    "check_sum('1' * 1001, 'CRC-32/ISO-HDLC')",
    "check_sum_of_bits([1] * 8001, 'CRC-15/CAN')",
    "ceil(1e308 * 10)",
    "sqrt(2 ^ 1000 × 2 ^ 1000)",
    "log(2 ^ 1000 × 2 ^ 1000)",
    "2 ** 1001",
    "1000 ** 1000 * 1000 ** 1000 * 1000 ** 1000 * 1000 ** 1000",
    "2.0 ** 1000 * 10 ** 300",
    f"'a' * {MAX_ITEMS + 1}",
    f"{MAX_ITEMS} * ('a' * {MAX_ITEMS})",
    f"[1] * {MAX_ITEMS} + [1] * {MAX_ITEMS}",
    f"[[[1] * {MAX_ITEMS}] * {MAX_ITEMS}] * {MAX_ITEMS}",
    f"'' ~ [[[1] * {MAX_ITEMS}] * {MAX_ITEMS}]",
    f"(('a' * {MAX_ITEMS}) ~ ('a' * {MAX_ITEMS})) * 9",
    f"([[1] * {MAX_ITEMS}] * 9) | join('-')",
    f"many | join('x' * {MAX_ITEMS})",
    "'%999999999d' % 1",
    "'%999999999d' | format(1)",
    "'{:999999999}'.format(1)",
    "text | center(999999999)",
    "text.ljust(999999999)",
    "text.zfill(999999999)",
    "text | replace('', 'b' * 9999) | replace('', 'c' * 9999)",
    "text | indent(999999999)",
    "many | batch(999999999, 0) | list",
    "many | slice(999999999) | list",
    "fixed(part, 999999999)",
    "round(whole, -999999999)",
    "part | round(999999999)",
    "part | round(999999999, 'floor')",
    "('9' * 5000) | int",
    "9" * 1999,
    "1e400",
    "(" * 900 + "1" + ")" * 900,
    "[" * 90 + "]" * 90,
    "-" * 1900 + "1",
    "not " * 400 + "1",
    "+".join(["1"] * 900),
    "a" * 3000,
    "(-8) ** 0.5",
]


@pytest.mark.parametrize("text", BOMBS, ids=lambda text: text[:40])
def test_nothing_grows_beyond_bounds(text: str) -> None:
    problem_of(text)


DOUBLED = ["grown + grown", "grown ~ grown", "[grown, grown]", "(grown, [grown])", "[grown] * 2"]


@pytest.mark.parametrize("text", DOUBLED)
def test_names_that_double_each_other_stay_bounded(text: str) -> None:
    def doubled(names: dict[str, object], times: int) -> None:
        for _ in range(times):
            formula = LANGUAGE.formula(text, PLACE, names)
            names["grown"] = formula.evaluate(LANGUAGE.values(names))

    doubled({"grown": "abcdefghij"}, 5)
    with pytest.raises(DefinitionError, match="limited to"):
        doubled({"grown": "abcdefghij"}, 60)


PROSE_BOMBS = [
    "{% for x in many %}{{ check_sum([1], 'CRC-32/ISO-HDLC') }}{% endfor %}" * 4,
    "".join("{% for x in many %}" for _ in range(4)) + "x" + "{% endfor %}" * 4,
    "{% for x in many %}{% for y in many %}{% endfor %}{% endfor %}",
    "{% for x in many %}{{ 'y' * 9999 }}{% endfor %}",
    "{% for x in few recursive %}{{ loop(few) }}{% endfor %}",
    "{% set text = text ~ text %}" * 60,
    "{% macro again() %}{{ again() }}{% endmacro %}{{ again() }}",
    "{% include 'lab.md' %}",
    "{% import 'os' as os %}",
    "{% extends 'lab.md' %}",
    "{% block x %}{% endblock %}",
    "{% filter upper %}x{% endfilter %}",
    "{% with x = 1 %}{% endwith %}",
    "{{ " + "(" * 60 + "1" + ")" * 60 + " }}",
    "{% if 1 %}" * 200 + "{% endif %}" * 200,
    "{{ " + "9" * 5000 + " }}",
    "{{" * 50_000,
]


@pytest.mark.parametrize("text", PROSE_BOMBS, ids=lambda text: text[:40])
def test_prose_can_neither_hang_nor_reach_other_files(text: str) -> None:
    problem_of(text, prose=True)


def test_as_many_turns_as_a_lab_needs_are_allowed() -> None:
    side = 99
    loops = f"{{% for x in many[:{side}] %}}{{% for y in many[:{side}] %}}x{{% endfor %}}"
    assert written(loops + "{% endfor %}") == "x" * side**2
    # Each text has its own budget.
    assert written("{% for x in many %}x{% endfor %}") == "x" * 500


USUAL = [
    ("(whole + 5 * part) / 2", 8.75),
    ("[3, 4.57 / whole] | min", 0.914),
    ("many[-1] // 50 * 50", 450),
    ("2 ** 10", 1024),
    ("1001 ** 2", 1_002_001),
    ("whole if text == 'abc' else 0", 5),
    ("half(limit)", 2.325),
    ("running_total([0.1, 0.2, 0.3])", [0.1, 0.3, 0.6]),
    ("sum([0.1] * 10)", 1.0),
    ("sum([1, 2])", 3),
    ("([0.1] * 10) | sum", 1.0),
    ("few | map('fixed', 2) | join(' + ')", "1.00 + 2.50"),
    ("few | map('half')", None),
    ("many | select('lessthan', 3)", [0, 1, 2]),
    ("text ~ '-' ~ whole ~ '-' ~ part", "abc-5-2.5"),
    ("{'near': 1, 'far': 2}['far']", 2),
    ("text.upper()", "ABC"),
    ("round(2.675, 2)", 2.67),
    ("round(7.5)", 8),
    ("zip(few, few)", [(1, 1), (2.5, 2.5)]),
    ("network.trunk_length", 100.0),
    ("'7' | int + 1", 8),
]


@pytest.mark.parametrize(("text", "value"), USUAL)
def test_formulas_give_their_value(text: str, value: object) -> None:
    if value is None:
        assert "half" in problem_of(text)
        return
    found = value_of(text)
    assert found == value
    assert type(found) is type(value)


def test_a_lazy_list_is_a_list_and_does_not_run_dry() -> None:
    names = dict(VALUES)
    formula = LANGUAGE.formula("many | map('fixed')", PLACE, names)
    names["lazy"] = formula.evaluate(LANGUAGE.values(names))
    twice = LANGUAGE.formula("len(lazy) + len(lazy)", PLACE, names)
    assert twice.evaluate(LANGUAGE.values(names)) == 1000


def test_prose_writes_values_as_people_do() -> None:
    assert written("{{ 0.1 + 0.2 }} {{ 4.0 }} {{ -0.0 }} {{ whole > 1 }}") == "0.3 4 0 yes"
    assert written('{{ [4.0, 5.5] | join(" + ") }} and {{ few }}') == "4 + 5.5 and 1, 2.5"
    assert written("{{ -0.001 | fixed(2) }} {{ 2.845 | fixed(2) }}") == "0.00 2.85"
    assert written("{% for x in few %}{{ loop.index }}: {{ x }}; {% endfor %}") == "1: 1; 2: 2.5;"


@pytest.mark.parametrize("text", ["{{ sum }}", "{{ none }}", "{{ network }}", "{{ text.upper }}"])
def test_prose_never_shows_the_insides_of_the_program(text: str) -> None:
    message = problem_of(text, prose=True)
    assert "0x" not in message
    assert "<" not in message


@given(st.sampled_from(["many", "few", "text", "network", "part * whole", "{'b': 1, 'a': part}"]))
def test_the_same_names_always_give_the_same_value(text: str) -> None:
    assert value_of(text) == value_of(text)


MISTAKES = [
    ("wole + 1", "'wole' is not a name of this lab. Did you mean 'whole'?"),
    ("limt", "'limt' is not a name of this lab. Did you mean 'limit'?"),
    ("xyzzy", "There are: few, many, "),
    ("few | summ", "'summ' is not a filter of the formulas here. Did you mean 'sum'?"),
    ("whole is ood", "'ood' is not a test of the formulas here. Did you mean 'odd'?"),
    ("", "a formula is missing"),
    ("whole / 0", "it divides by zero"),
    ("whole % 0", "it divides by zero"),
    ("0 ** -1", "it divides by zero"),
    ("whole + text", "a number and a text do not go together with '+'"),
    ("max([])", "has no value"),
    ("few.foo", "there is no 'foo' in a list"),
    ("sum", "it gives a function"),
    ("(1", "'(1' cannot be read: '(' is not closed"),
    ("1 }} x {{ 2", "stands without {{ }}"),
    ("1 +", "cannot be read"),
    ("a" * 2001, "longer than 2000 characters"),
]


@pytest.mark.parametrize(("text", "sentence"), MISTAKES)
def test_a_mistake_in_a_formula_has_a_sentence_and_its_place(text: str, sentence: str) -> None:
    message = problem_of(text)
    assert sentence in message
    assert "template" not in message
    assert "Jinja" not in message


PROSE_MISTAKES = [
    ("one\n\n{{ wole }}", 9, "Did you mean 'whole'?"),
    ("one\ntwo {{ whole\n/ 0 }}", 8, "it divides by zero"),
    ("one\n{% for x in few %}\n{{ x / 0 }}\n{% endfor %}", 9, "'{{ x / 0 }}' has no value"),
    ("one\n{% if whole %}", 8, "{% if whole %} has no end. Write {% endif %}"),
    ("one\n{% for x in few %}", 8, "{% for x in few %} has no end"),
    ("one\n\n{{ whole | shw }}", 9, "Did you mean 'show'?"),
    ("one\n{% set x = 1 %}", 8, "there are 'if' and 'for'"),
    ("one\n{{ whole", 8, "Write }} behind the formula"),
    ("one\ntwo\n{{ 1 }} {{ text + 1 }}", 9, "do not go together"),
]


@pytest.mark.parametrize(("text", "line", "sentence"), PROSE_MISTAKES)
def test_a_mistake_in_prose_names_its_own_line(text: str, line: int, sentence: str) -> None:
    message = problem_of(text, prose=True)
    assert message.startswith(f"lab.md, line {line}:")
    assert sentence in message


@pytest.mark.parametrize("text", ["true", "'5'", "[5]", "none", "1e308 * 10", "network"])
def test_only_a_finite_number_is_a_number(text: str) -> None:
    formula = LANGUAGE.formula(text, PLACE, VALUES)
    with pytest.raises(DefinitionError):
        formula.number(LANGUAGE.values(VALUES))


@given(st.text(alphabet="abcfew_ +-*/%()[]{}.,'\"|~<>=!09eifnosrt\n#", max_size=40))
def test_any_formula_is_read_and_worked_out_or_refused_with_a_sentence(text: str) -> None:
    with suppress(DefinitionError):
        value_of(text)


@given(st.lists(st.sampled_from(["{{", "}}", "{%", "%}", "{#", "#}", " for ", " x ", " in ", " if ",
    " few ", "whole", " endfor ", "endif", "\n", "(", ")", "|", "join", "set", "=", "a"]),
    max_size=14).map("".join))  # fmt: skip
def test_any_prose_is_written_or_refused_with_a_sentence(text: str) -> None:
    with suppress(DefinitionError):
        assert isinstance(written(text), str)
