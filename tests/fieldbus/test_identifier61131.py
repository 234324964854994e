"""Names after IEC 61131-3: rules and keywords from memory of the standard."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.identifier61131 import KEYWORDS, Fault, name_problem, same_name

# One line for the whole rule: an underscore, or none, then runs of letters and digits with single
# underscores between, the first run not begun by a digit unless the underscore stands before it.
SHAPE = re.compile(r"([A-Za-z]|_[A-Za-z0-9])[A-Za-z0-9]*(_[A-Za-z0-9]+)*")


@given(st.text("aB1_", max_size=8))
def test_a_name_is_one_exactly_when_the_whole_shape_fits(name: str) -> None:
    assert (name_problem(name) is None) == (SHAPE.fullmatch(name) is not None)


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("", Fault.EMPTY),
        ("scan ner", Fault.SPACE),
        ("scan\u00a0ner", Fault.SPACE),
        ("scan-ner", Fault.HYPHEN),
        ("scanner!", Fault.CHARACTER),
        ("Förderer", Fault.CHARACTER),
        ("scanner٣", Fault.CHARACTER),
        ("1scanner", Fault.DIGIT_FIRST),
        ("scan__ner", Fault.DOUBLE_UNDERSCORE),
        ("__scanner", Fault.DOUBLE_UNDERSCORE),
        ("scanner_", Fault.LAST_UNDERSCORE),
        ("_", Fault.LAST_UNDERSCORE),
        ("Program", Fault.KEYWORD),
        ("end_if", Fault.KEYWORD),
        ("a" * 41, Fault.TOO_LONG),
    ],
)
def test_each_fault_is_told_apart_and_quoted(name: str, fault: Fault) -> None:
    problem = name_problem(name)
    assert problem is not None
    assert problem.fault is fault
    assert name[:20] in problem.sentence


def test_what_is_a_name() -> None:
    for name in ("Scanner", "_scanner", "s", "Rack_2_slot_0", "a" * 40, "Programs"):
        assert name_problem(name) is None, name
    assert name_problem("abcdef", longest=5) is not None
    assert all(word == word.upper() for word in KEYWORDS)
    with pytest.raises(PlanError):
        name_problem("a", longest=0)


def test_capital_and_small_letters_are_the_same() -> None:
    assert same_name("Scanner_1", "sCANNER_1")
    assert not same_name("Scanner_1", "Scanner_2")
