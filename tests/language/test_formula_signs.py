"""Signs of books in formulas, and how powers bind: as in mathematics and in Python."""

import ast
import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.language.expression import Language
from labkit.language.problems import DefinitionError, Place

PLACE = Place("lab.md", 7)
LANGUAGE = Language()
VALUES = LANGUAGE.values({"I": 2.5, "R": 10, "a": 3, "b": 4, "drops": [1, 2.5], "word": "a×b"})
IN_PYTHON = {"^": "**", "×": "*", "·": "*", "⋅": "*", "÷": "/", "−": "-"}


def value_of(text: str) -> object:
    return LANGUAGE.formula(text, PLACE, VALUES).evaluate(VALUES)


def told(text: str) -> str:
    with pytest.raises(DefinitionError) as refused:
        value_of(text)
    return str(refused.value)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("I^2 × R", 62.5),
        ("I ^ 2 · R", 62.5),
        ("I²".replace("²", "^2"), 6.25),
        ("a·b", 12),
        ("a⋅b", 12),
        ("a·2", 6),
        ("2·a", 6),
        ("a÷b", 0.75),
        ("a−b", -1),
        ("−a", -3),
        ("2^−1", 0.5),
        ("-2^2", -4),
        ("−2^2", -4),
        ("+-2^2", -4),
        ("--2^2", 4),
        ("(-2)^2", 4),
        ("-(-2)^2", -4),
        ("2^3^2", 512),
        ("2^-1^2", 0.5),
        ("2 × 3^2", 18),
        ("-2 ** 2", -4),
        ("2 ** 3 ** 2", 512),
        ("2 ** 3 ^ 2", 512),
        ("1500^2", 2_250_000),
        # A filter is of what stands before it, with its sign.
        ("-2 | abs", 2),
        ("2 ^ -3 | abs", 8),
        ("-2 ^ -3 | abs", -8),
        ("-drops[0]^2", -1),
        ("2 × -a", -6),
    ],
)
def test_a_formula_of_a_book_gives_its_value(text: str, value: float) -> None:
    assert value_of(text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        *(("16#FF", 255), ("16#ff", 255), ("16#00_1F", 31), ("2#1010_0101", 165), ("8#17", 15)),
        *(("-16#FF", -255), ("16#FF^2", 65_025), ("[1, 2, 3][2#10]", 3), ("16#10×2", 32)),
    ],
)
def test_numbers_are_read_as_iec_61131_writes_them(text: str, value: int) -> None:
    assert value_of(text) == value
    assert isinstance(value_of(text), int)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("2#12", "Behind 2# only digits 0 and 1 can stand"),
        ("8#8", "0 to 7"),
        ("16#FG", "0 to 9 and A to F"),
        ("16#F__F", "0 to 9 and A to F"),
        ("16#_F", "0 to 9 and A to F"),
        ("16#", "0 to 9 and A to F"),
        ("16#FF#1", "0 to 9 and A to F"),
        ("10#99", "There are 2#, 8#, 16#"),
        ("$1F", "Write 16#1F"),
        ("a + #1f", "Write 16#1F"),
        ("&h1F", "Write 16#1F"),
        ("0Ah", "Write 16#0A"),
        ("16#01 +", "behind the last '+' a value is missing"),
        ("5h", "a formula has no units"),
        ("log(5 m)", "a formula has no units"),
        ("a ^", "behind the last '^' a value is missing"),
        ("a −", "behind the last '−' a value is missing"),
        ("× a", "before the first '×' a value is missing"),
        ("a × ÷ b", "'× ÷': two signs stand together"),
        ("a ^ * b", "'^ *': two signs stand together"),
        ("2a", "Write 2 * a"),
        ("I^2R", "Write 2 * R"),
        ("a²", "a ^ 2"),
        ("√a", "sqrt("),
        ("a – b", "Write - for it: a - b"),
        ("drops ^ 2", "a list and a number do not go together with '^'. Take one item"),
        ("drops ** 2", "go together with '**'"),
        ("drops × 2.5", "go together with '×'"),
        ("word − 1", "go together with '−'"),
        ("(-8) ^ 0.5", "a negative number has no such power"),
        ("0 ^ -1", "divides by zero"),
        ("1e300 ^ 2", "the number gets too large"),
        ("1025 ^ 1000", "the number gets too large"),
    ],
)
def test_what_is_mistyped_is_told_in_the_signs_that_were_typed(text: str, mend: str) -> None:
    assert mend in told(text)


@pytest.mark.parametrize("text", ["×·÷−^ 16#FF", "I^2 × R", "a·b", "2#1010"])
def test_in_quotation_marks_and_outside_of_braces_signs_stay_text(text: str) -> None:
    assert value_of(f"'{text}'") == text
    assert value_of(f'"{text}" ~ word') == f"{text}a×b"
    prose = f"{text} {{{{ '{text}' }}}} {{{{ 2 × 3 }}}} {{% if 2^2 == 4 %}}{text}{{% endif %}}"
    assert LANGUAGE.prose(prose, PLACE, ()).render(VALUES) == f"{text} {text} 6 {text}"


def sums(parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    signs = st.sampled_from(
        [" + ", " − ", " × ", "·", " ⋅ ", " ÷ ", "^", " ^ ", " ** ", "^−", " - "]
    )
    return st.one_of(
        st.tuples(parts, signs, parts).map("".join),
        st.tuples(st.sampled_from(["-", "−", "+"]), parts).map("".join),
        parts.map("({})".format),
    )


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.recursive(st.sampled_from(["2.0", "3.0", "0.5", "1.5", "I"]), sums, max_leaves=6))
def test_signs_bind_as_in_python(text: str) -> None:
    written = re.sub("|".join(map(re.escape, IN_PYTHON)), lambda sign: IN_PYTHON[sign[0]], text)
    try:
        wanted = eval(compile(ast.parse(written, mode="eval"), "", "eval"), {"I": 2.5})
    except (OverflowError, ZeroDivisionError):
        return
    if isinstance(wanted, complex) or not math.isfinite(wanted):
        return
    try:
        found = value_of(text)
    except DefinitionError as refused:
        found = str(refused)
    if isinstance(found, str):
        assert re.search("exponents up to|too large|no such power", found), text
    else:
        assert found == pytest.approx(wanted, rel=1e-12), text
