"""The code of formulas and of prose: it comes to what Jinja's own comes to, for as many steps.

The reference is Jinja's compiler, with the sandbox's bounds written into the tree.
"""

import builtins
import dis
import re
import string
from collections.abc import Callable, Iterable
from types import CodeType, FunctionType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jinja2 import Template, UndefinedError, nodes

from labkit.errors import LabkitError
from labkit.fieldbus.devicenet.network import Network, Segment
from labkit.language.budget import slow
from labkit.language.expression import Formula, Language
from labkit.language.grammar import FormulaParser
from labkit.language.problems import DefinitionError, Place
from labkit.language.sandbox import bounded, environment, plain

# Jinja writes "3[1]" where a lab does; the code here does not.
pytestmark = pytest.mark.filterwarnings("ignore::SyntaxWarning")

PLACE = Place("lab.md", 7)
SPENT = " spent"


@slow(2_000)
def long_way(value: float) -> list[float]:
    return [value] * 3


LANGUAGE = Language({"half": lambda value: value / 2, "long_way": long_way})
VALUES = LANGUAGE.values(
    {
        "text": "ab c",
        "whole": 5,
        "part": 2.5,
        "none_left": 0,
        "few": [1, 2.5, 4],
        "words": ["a", "b"],
        "group": {"a": 1, "b": [1, 2]},
        "groups": [{"a": 2}, {"a": 1}],
        "network": Network(125, (Segment("thick", 100.0),)),
    }
)
NAMES = sorted(VALUES)
SIGNS = ["+", "-", "*", "/", "//", "%", "**", "==", "!=", "<", "<=", ">", ">="]
SIGNS += ["^", "×", "·", "⋅", "÷", "−"]


def by_jinja(template: Template) -> Iterable[str]:
    return template.root_render_func(template.new_context(dict(VALUES)))


def what_is_told(render: Callable[[], str], template: Template | None = None) -> object:
    """A text; or the line, the kind and the words of what is raised instead."""
    try:
        return render()
    except DefinitionError as error:
        line = error.problems[0].place.line - PLACE.line + 1
        return line, type(error.__cause__), str(error.__cause__)
    except Exception as error:
        trace, line = error.__traceback__, 1
        while trace:
            if template and trace.tb_frame.f_code.co_filename == "<template>":
                line = template.get_corresponding_lineno(trace.tb_lineno)
            trace = trace.tb_next
        return line, type(error), str(error)


def what_jinja_makes(text: str) -> tuple[Any, int]:
    """The value of a formula, or the kind and the words of what it raises; the steps spent."""
    expression = FormulaParser(environment(), text, state="variable").parse_expression()
    result = nodes.Name("result", "store", lineno=1)
    tree = nodes.Template([nodes.Assign(result, expression, lineno=1)], lineno=1)
    tree.set_environment(environment())
    template = environment().from_string(bounded(tree))
    context = template.new_context(dict(VALUES))
    try:
        list(template.root_render_func(context))
        made = plain(context.vars["result"])
    except Exception as error:
        made = (type(error), str(error))
    return made, context.vars.get(SPENT, 0)


def what_code_makes(formula: Formula) -> tuple[Any, int]:
    context = environment().from_string("").new_context({})
    try:
        made = plain(formula._code.run(VALUES, context))
    except Exception as error:
        made = (type(error), str(error))
    return made, context.vars.get(SPENT, 0)


def leaves() -> st.SearchStrategy[str]:
    constants = [
        "0",
        "1",
        "-2",
        "3.5",
        "16#1F",
        "2#10_10",
        "'×^'",
        "'b'",
        '"\'"',
        "true",
        "none",
        "[]",
        "()",
        "{}",
        "1e300",
    ]
    constants += ["16#1F", "2#10_10", "'×^'"]
    return st.sampled_from([*NAMES, *constants])


def grown(parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    def of(*forms: str) -> st.SearchStrategy[str]:
        forms_and_parts = st.tuples(st.sampled_from(forms), parts, parts, parts)
        return forms_and_parts.map(lambda found: found[0].format(*found[1:]))

    filters = ["abs", "length", "list", "max", "sum", "sort", "reverse", "first", "show", "unique"]
    filters += ["upper", "int", "float", "items", "string", "join", "min", "last", "hex", "binary"]
    tests = ["defined", "number", "string", "none", "even", "mapping", "callable", "test"]
    return st.one_of(
        of(*(f"({{0}} {sign} {{1}})" for sign in [*SIGNS, "~", "and", "or", "in", "not in"])),
        of("({0} < {1} <= {2})", "(not {0})", "(-{0})", "(+{0})", "({0} if {1} else {2})"),
        of("({0} if {1})", "[{0}, {1}]", "({0}, {1})", "({0},)", "{{{0}: {1}}}", "({0})"),
        of("({0})[{1}]", "({0})[{1}:]", "({0})[:{1}]", "({0})[{1}:{2}]", "({0})[::{1}]"),
        of("({0}).a", "({0}).upper()", "({0}).get({1})", "({0}).__class__", "({0}).rate"),
        of(*(f"({{0}} | {name})" for name in filters)),
        of("({0} | join({1}))", "({0} | sum(start={1}))", "({0} | map('abs') | list)"),
        of("({0} | fixed({1}))", "({0} | default({1}, true))", "({0} | round(*{1}))"),
        of("({0} | selectattr('a', 'gt', {1}) | list)", "({0} | map(attribute='a') | list)"),
        of("({0} | sort(attribute='a', reverse={1}))", "({0} | round(**{1}))"),
        of(*(f"({{0}} is {name})" for name in tests)),
        of("({0} is divisibleby({1}))", "({0} is in({1}))", "({0} is not sameas {1})"),
        of("half({0})", "long_way({0})", "max({0}, {1})", "min(*{0})", "sum({0})", "zip({0}, {1})"),
        of("sorted({0}, reverse={1})", "max({0}, key=half)", "round({0}, decimals={1})"),
        of("ceil({0})", "floor({0})", "sqrt({0})", "log({0})", "log({0}, {1})", "ln({0})"),
        of("bit({0}, {1})", "set_bit({0}, {1})", "bit_xor({0}, {1})", "bit_and(*{0})"),
        of("shift_left({0}, {1})", "signed({0}, 8)", "bits_of({0}, {1})", "hex({0}, {1})"),
        of("check_sum({0}, 'CRC-16/MODBUS')", "check_sum_of_bits({0}, 'CRC-15/CAN')"),
        of("-{0}^{1}", "{0}^{1}^{2}", "-{0} | abs", "{0} × {1} − {2}", "({0} | map('hex') | list)"),
        of("({0})({1})", "len({0})", "abs(**{0})", "running_total({0})", "fixed({0}, *{1})"),
    )


FORMULAS = st.recursive(leaves(), grown, max_leaves=8)


@settings(max_examples=500, deadline=None, derandomize=True)
@given(FORMULAS)
def test_a_formula_comes_to_what_jinja_makes_of_it_for_as_many_steps(text: str) -> None:
    try:
        formula = LANGUAGE.formula(text, PLACE, NAMES)
    except DefinitionError:
        return
    is_the_same(formula)


def is_the_same(formula: Formula) -> None:
    made, spent = what_code_makes(formula)
    wanted, jinja_spent = what_jinja_makes(formula.text)
    assert (type(made), repr(made), spent) == (type(wanted), repr(wanted), jinja_spent)


@pytest.mark.parametrize(
    "text",
    [
        *(f"[7 {sign} 2, part {sign} 2, whole {sign} part]" for sign in SIGNS),
        *("[2 in few, 3 in few]", "[1 not in few, 3 not in few]", "[0 and 1, 2 and 1, 0 or 3]"),
        *("[-whole, +whole, not whole, not none_left]", "1 < 2 < 3 > 1", "text ~ few ~ whole"),
        *("-whole^2", "2^whole^2", "-whole | abs", "--whole^-2", "whole × part ÷ 2 − 1 · 2 ⋅ 3"),
        *("[16#FF, 2#1, 8#17]", "hex(whole)", "few | map('hex')", "[1] | map('hex', 4) | list"),
        *("ceil(part)", "sqrt(text)", "check_sum([whole], 'CRC-8/SMBUS')", "bits_of(whole, 8)"),
        *("words * 3", "text * 20_000", "few + few", "2 ** 10_000", "'%s' % 3", "text % 3"),
        *("group.a", "group['b'][1]", "few[9]", "few.a", "text.upper()", "network.rate"),
        *("few[1:]", "few[:1]", "few[::2]", "1 if none_left", "1 + (1 if none_left)", "(1,)", "()"),
        *("groups | map(attribute='a') | sort | join(', ')", "long_way(2)", "half", "half(x=2)"),
        *("max(groups, key=half)", "max(few, key=half)", "part is divisibleby 2", "few is mapping"),
    ],
)
def test_each_part_of_the_language_comes_to_what_jinja_makes_of_it(text: str) -> None:
    is_the_same(LANGUAGE.formula(text, PLACE, NAMES))


@settings(max_examples=120, deadline=None, derandomize=True)
@given(st.lists(st.tuples(FORMULAS, FORMULAS), min_size=1, max_size=3))
def test_prose_comes_to_what_jinja_makes_of_it(parts: list[tuple[str, str]]) -> None:
    text = "".join(
        f"One\n{{% if {test} %}}two {{{{ {shown} }}}}\n{{% elif {shown} %}}\nthree\n"
        f"{{% else %}}\nfour {{{{ 1 / 3 }}}} {{% endif %}}\n\n{{{{ {test} }}}} five."
        for test, shown in parts
    )
    try:
        prose = LANGUAGE.prose(text, PLACE, NAMES)
    except DefinitionError:
        return
    try:
        template = environment().from_string(bounded(environment().parse(prose.text)))
    except UndefinedError:
        return  # Jinja works constants out as it compiles, such as "().a or 1".
    assert what_is_told(lambda: prose.render(VALUES)) == what_is_told(
        lambda: "".join(by_jinja(template)).strip(), template
    )


EVERYTHING = (
    "{'k': [text, (whole, 1.5)]}['k'][0].upper() ~ (few | sort(reverse=true) | join('; '))"
    " if whole + part * 2 ** 3 % 4 // 1 - 1 / 2 > 3 != (not none_left) and part is number"
    " or 'b' not in words else half(-whole, *few[1:2], key=+part, **group)"
)


def functions_in(code: CodeType) -> list[CodeType]:
    return [part for part in code.co_consts if isinstance(part, CodeType)]


def test_no_word_of_a_lab_is_in_the_code_and_it_can_reach_nothing_but_what_is_given() -> None:
    run = LANGUAGE.formula(EVERYTHING, PLACE, NAMES)._code.run
    assert isinstance(run, FunctionType)
    code = run.__code__
    ours = {"environment", "attribute", "item", "call", "worked", "Undefined", "show"}
    assert run.__globals__["__builtins__"] == {}
    assert all(name in ours or re.fullmatch(r"k\d+", name) for name in code.co_names)
    assert all(re.fullmatch(r"n\d+|values|context", name) for name in code.co_varnames)
    assert {one for one in code.co_consts if isinstance(one, str)} <= {*"+*%", "**"}
    assert functions_in(code) == []
    assert run.__closure__ is None
    # An attribute is asked of the sandbox alone; nothing is imported, written to or deleted.
    barred = ("ATTR", "METHOD", "IMPORT", "STORE_GLOBAL", "STORE_NAME", "STORE_SUBSCR", "DELETE")
    asked = [one.opname for one in dis.get_instructions(code)]
    assert not [name for name in asked if any(word in name for word in barred)]


def test_neither_builtins_nor_names_of_the_code_itself_are_names_of_a_lab() -> None:
    own = {"k0", "k8", "n0", "values", "context", "environment", "attribute", "item", "worked"}
    for name in ({*dir(builtins)} | own) - {*NAMES, "True", "False", "None"}:
        with pytest.raises(DefinitionError, match="is not a name of this lab"):
            LANGUAGE.formula(name, PLACE, NAMES)


@pytest.mark.parametrize("name", ["k0", "n1", "values", "context", "show", "__builtins__", "class"])
def test_a_labs_own_name_is_never_a_name_of_the_code(name: str) -> None:
    formula = LANGUAGE.formula(f"[{name}, text, 'k'] | join", PLACE, {name, "text"})
    assert formula.evaluate({**VALUES, name: 3}) == "3ab ck"


@pytest.mark.parametrize(
    "text",
    [
        *("half(a=1, a=2)", "few[1:2, 3]", "half(x=1)(x=2, x=3)"),
        "(" * 21 + "1" + ")" * 21,
        "-" * 150 + "1",
    ],
)
def test_what_cannot_be_written_as_code_is_refused_where_it_is_read(text: str) -> None:
    with pytest.raises(DefinitionError, match="nested too deep"):
        LANGUAGE.formula(text, PLACE, NAMES)


def test_all_names_are_worked_out_before_anything_else() -> None:
    """So a formula has no value where one of its names has none, whichever way it goes."""

    class Asked(dict[str, Any]):
        def __missing__(self, name: str) -> Any:
            asked.append(name)
            if name == "part":
                raise LabkitError("no value")
            return 1

    asked: list[str] = []
    formula = LANGUAGE.formula("whole if whole else few + part + text", PLACE, NAMES)
    with pytest.raises(DefinitionError, match="no value"):
        formula.evaluate(Asked())
    assert asked == ["whole", "few", "part"]


def test_letters_of_any_script_and_marks_stay_what_they_are() -> None:
    text = string.printable.replace("'", "").replace("\\", "").strip() + "Ωé\u2028"
    formula = LANGUAGE.formula(f"'{text}' ~ text", PLACE, NAMES)
    assert formula.evaluate(VALUES) == text + "ab c"
