"""Which places are right in a draw, and how many points may be set."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from labkit.kinds.common.read_id import id_meant
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error

MOST_POINTS: Final = 12


def given_by(formula: Formula, values: Mapping[str, Value], ids: list[str], what: str) -> list[str]:
    """The ids that a formula gives, one or a list. Raises `DefinitionError` for an unknown one."""
    value: Any = formula.evaluate(values)
    given = [str(each) for each in value] if isinstance(value, list | tuple) else [str(value)]
    unknown = next((each for each in given if each not in ids), None)
    if unknown is not None:
        raise definition_error(
            formula.place,
            f"the answer '{unknown}' is not {what}: it must give the id of one, or a list of ids.",
            id_meant(formula, unknown, ids),
        )
    return given


def right_ones(
    answer: Formula, values: Mapping[str, Value], ids: list[str], what: str
) -> list[str]:
    """The ids of what is right. Raises `DefinitionError`."""
    right = given_by(answer, values, ids, what)
    if not right or len(set(right)) < len(right) or len(right) > MOST_POINTS:
        raise definition_error(
            answer.place,
            f"the answer gives {len(right)} places, some perhaps twice.",
            f"It must give 1 to {MOST_POINTS} different places.",
        )
    return right


def points_that_can_be_set(points: Formula | None, values: Mapping[str, Value], right: int) -> int:
    """How many points may be set: as many as are right, unless the author says more."""
    if points is None:
        return right
    count = points.evaluate(values)
    if type(count) is not int or not right <= count <= MOST_POINTS:
        raise definition_error(
            points.place,
            f"'{points.text}' gives {count}, where {right} to {MOST_POINTS} points can be set.",
            "Write how many the trainee may set, at least as many as there are right places.",
        )
    return count
