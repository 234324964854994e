"""The small test lab of tables, switches and frames, and JSON of every shape."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab

LAB = read_lab(Path(__file__).parent / "data" / "small-answers.md")
EXERCISES = {exercise.id: exercise for exercise in LAB.exercises}
DRAWS = 200

_texts = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["12 W", "1e99 W", "5", "٣", "\ud800", "0x2F", "2F", "yes", "-1", "٣F"]),
    st.sampled_from(
        ["00010101", "11111111", "999", "630", "64", "250", "request", "none", "0E 01"]
    ),
    st.sampled_from(["7FF", "7F0", "FFFFFFFF", "00 00", "80 80", "0" * 90, "," * 20, "16#"]),
)
_scalars = st.one_of(
    st.none(), st.booleans(), st.integers(), st.integers(10**5000, 10**5001), st.floats(), _texts
)
_names = st.one_of(
    st.sampled_from(["1.4", "1.5", "1.6", "4.5", "1.group", "1.identifier", "1.data", "1.purpose"]),
    st.sampled_from(["1.source", "1.service", "2.error", "1.2", "1.3", "1.vendor", "1.serial"]),
    st.text(max_size=5),
)
json_values = st.recursive(
    _scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(_names, inner, max_size=6)
    ),
    max_leaves=10,
)


@cache
def scenarios() -> tuple[Scenario, ...]:
    """Two hundred draws."""
    return tuple(draw(LAB, f"small {number}") for number in range(DRAWS))


@cache
def prepared(name: str, number: int = 0) -> tuple[Any, dict[str, Any], dict[str, Any]]:
    """Check, ask and key of one exercise in one scenario."""
    exercise = EXERCISES[name]
    made = scenarios()[number].prepare(exercise)
    return check_for(exercise.kind), made.ask, made.key
