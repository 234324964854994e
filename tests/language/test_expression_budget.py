"""No formula and no prose takes long or much memory, however its filters are put together.

They are worked out in a child process with little memory, so that one that escapes its budget fails
a test and not the machine.
"""

import json
import select
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.language.budget import LETTERS_A_STEP, MAX_STEPS, weight
from labkit.language.sandbox import filter_names

CHILD = Path(__file__).with_name("expression_child.py")
SECONDS, MB = 1.5, 60
WAIT = 60
"""How many seconds of the clock a child may take, on a machine that has much else to do."""

Child = subprocess.Popen[str]


@pytest.fixture(scope="module")
def child() -> Iterator[Child]:
    command = [sys.executable, str(CHILD)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
    ) as process:
        yield process
        process.kill()


def outcome(child: Child, text: str) -> str:
    """What came of `text`, which must have come soon and in little room."""
    assert child.stdin
    assert child.stdout
    child.stdin.write(json.dumps(text) + "\n")
    if not select.select([child.stdout], [], [], WAIT)[0]:
        child.kill()
        pytest.fail(f"no end of {text[:200]}")
    line = child.stdout.readline()
    assert line, f"out of memory: {text[:200]}"
    seconds, grown, came = json.loads(line)
    assert seconds < SECONDS, text[:200]
    assert grown < MB, text[:200]
    assert isinstance(came, str)
    return came


PATH = "0." * 600 + "0"
TOO_MUCH = [
    "([many] * 200) | map('list') | list",
    "([many] * 9) | map('list') | map('sort') | map('list') | map('sum') | list",
    "([nested] * 9) | map('map', 'sum') | map('list') | list",
    "([nested] * 9) | map('map', 'map', 'string') | map('map', 'list') | map('list') | list",
    "many | map('default', many, true) | map('sum') | sum",
    "many | map('default', many, true) | list | length",
    "groups | map(attribute='z', default=many) | list",
    "many | select('in', mane) | list",
    "many | reject('in', many) | list",
    "many | map('abs') | reject('in', many) | list",
    "groups | selectattr('b', 'eq', long) | list",
    "([long] * 10000) | map('upper') | list | length",
    "([long] * 10) | map('list') | map('sort') | list",
    "([wide] * 100) | sort | length",
    "wide | upper | lower | title | capitalize | trim | length",
    "many | map('string') | join(long)",
    "({1: [wide] * 100}) | string | length",
    f"([text] * 10000) | map(attribute='{PATH}') | list",
    f"([text] * 10000) | sort(attribute='{PATH}')",
    f"([text] * 10000) | min(attribute='{PATH}')",
    "sorted([many] * 30, key=sum) | length",
    "sorted(many, key=abs)",
    "zip(*[many] * 100) | length",
    "[[nested] * 9] * 9",
    "[" + ", ".join(["wide + wide"] * 150) + "] | length",
    "[" + ", ".join(["long.split(' ')"] * 110) + "] | length",
    "[" + ", ".join(["zip(many, mane)"] * 110) + "] | length",
    "[" + ", ".join(["many | sort"] * 150) + "] | length",
    "[" + ", ".join(["many"] * 300) + "] | sort",
    " or ".join(["many == mane + few"] * 80),
    "{% for x in many %}{{ many == mane }}{% endfor %}",
    "{% for x in many %}{{ many.count(x) }}{% endfor %}",
    "{% for x in many %}{% if x in mane %}{% endif %}{% endfor %}",
    "{% for x in many if many.index(x) == 0 %}{% endfor %}",
    "{% for x in many %}{% if many is eq(mane) %}{% endif %}{% endfor %}",
    "{% for x in many %}{% if many[:][:] %}{% endif %}{% endfor %}",
    "{% for x in many %}{% if [many, mane][0] == [many, mane][1] %}{% endif %}{% endfor %}",
    "{% for x in many %}{{ loop.changed(nested) }}{% endfor %}",
    "{% for x in many %}{% if sorted(many) == mane %}{% endif %}{% endfor %}",
    "{% for x in many %}{% if wide ~ x %}{% endif %}{% endfor %}",
    "{% for x in many %}{% if long.split(' ') %}{% endif %}{% endfor %}",
    "{% for x in many %}" + "{% if x %}{% endif %}" * 1_000 + "{% endfor %}",
    "{% for x in many %}" + "{{ x + x * x }}" * 300 + "{% endfor %}",
    "{% for a in [[many, many]] %}" + "{% for a in [[a, a, a, a, a, a]] %}" * 9
    + "{{ a == a }}" + "{% endfor %}" * 10,
]  # fmt: skip


@pytest.mark.parametrize("text", TOO_MUCH, ids=lambda text: text[:50])
def test_what_goes_through_too_much_is_refused_with_place_and_mend(child: Child, text: str) -> None:
    came = outcome(child, text)
    assert came.startswith("lab.md, line 7: ")
    assert f"it takes over {MAX_STEPS} steps" in came
    assert came.endswith("under a name of its own in 'let:'.")


SOON = [
    "many | map('map', 'abs') | list | length",
    "many | reverse | list | sort | unique | list | length",
    "many | map('map', 'map', 'sum')",
    "text | map(" + "'map', " * 230 + "'upper') | list",
    "many | map(' turns', -1) | list | length",
    "([many] * 100) | map(' turns', -100000000) | map('list') | list",
    "(['1' * 4300] * 10) | map('int') | list",
    "([-(1000 ** 1000)] * 10000) | map('abs') | list | length",
    "[" + ", ".join(["[-(1000 ** 1000)] * 10000 | map('abs') | list"] * 40) + "] | length",
    "{{ many == mane }}" * 20_000,
    "{{ 1 }}" * 60_000,
    "{{ " + "1, " * 100_000 + "}}",
    "{{ many | list }}" * 30,
]


@pytest.mark.parametrize("text", SOON, ids=lambda text: text[:50])
def test_what_is_long_or_odd_ends_soon(child: Child, text: str) -> None:
    assert outcome(child, text)


GROUPS = ["many", "mane", "words", "groups", "nested", "few", "[many] * 9", "[nested] * 9"]
TEXTS = ["long", "wide", "text", "[wide] * 9", "[long, wide] * 99"]
WORDS = ["in", "eq", "ne", "lt", "sequence", "string", "divisibleby", "sameas"]
_FILTER = st.sampled_from(sorted(filter_names()))
_ARGUMENT = st.sampled_from(["many", "long", "wide", "nested", "0", "7", "true", f"'{PATH[:99]}'"])
_NAMED = st.sampled_from(["attribute='0'", "attribute='b'", "default=many", "case_sensitive=true"])


def _quoted(names: list[str]) -> list[str]:
    return [f"'{name}'" for name in names]


STEPS = st.one_of(
    _FILTER,
    st.builds("{}({})".format, _FILTER, _ARGUMENT | _NAMED),
    st.builds(
        "map({})".format,
        st.builds(
            lambda names, rest: ", ".join(_quoted(names) + rest),
            st.lists(_FILTER, min_size=1, max_size=4),
            st.lists(_ARGUMENT, max_size=2),
        ),
    ),
    st.builds(
        "{}('{}', {})".format,
        st.sampled_from(["select", "reject", "selectattr", "rejectattr"]),
        st.sampled_from(WORDS),
        _ARGUMENT,
    ),
)
EXPRESSIONS = st.recursive(
    st.sampled_from(GROUPS + TEXTS),
    lambda inner: st.one_of(
        st.builds(
            "({} | {})".format, inner, st.lists(STEPS, min_size=1, max_size=5).map(" | ".join)
        ),
        st.builds("({} * {})".format, inner, st.sampled_from([2, 99, 9999, "whole"])),
        st.builds("({} {} {})".format, inner, st.sampled_from(["+", "~", "==", "in", "<"]), inner),
        st.builds("[{}, {}]".format, inner, inner),
        st.builds("{}({})".format, st.sampled_from(["sorted", "sum", "max", "len", "zip"]), inner),
    ),
    max_leaves=4,
)
TEXT = EXPRESSIONS | st.builds(
    "{{% for x in {} %}}{{% for y in {} %}}{{{{ {} }}}}{{% endfor %}}{{% endfor %}}".format,
    EXPRESSIONS,
    EXPRESSIONS | st.just("x"),
    EXPRESSIONS | st.just("x") | st.just("y in x"),
)


@settings(max_examples=150, deadline=None)
@given(TEXT)
def test_whatever_is_put_together_ends_soon_and_in_little_room(child: Child, text: str) -> None:
    outcome(child, text)


def test_a_value_weighs_its_items_however_deep_and_its_letters() -> None:
    assert weight(2.5) == 1
    assert weight([1, 2.5, None]) == 4
    assert weight([[1, 2], (3,), {"a": [4]}]) == 1 + 3 + 2 + 1 + 1 + 1 + 1
    assert weight("a" * LETTERS_A_STEP * 7) == 8
    assert weight(["a" * LETTERS_A_STEP * 7] * 3) == 4 + 21
    endless: object = 1
    for _ in range(60):
        endless = [endless, endless]
    assert MAX_STEPS < weight(endless) < 2 * MAX_STEPS
