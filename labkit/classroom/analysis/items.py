"""How hard each exercise was, and whether it tells the stronger from the weaker."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from labkit.classroom.analysis.intervals import (
    Interval,
    correlation_interval,
    share_difference,
    wilson,
)
from labkit.classroom.analysis.table import Floats, MarkTable

GROUP: Final = 0.27
"""The share of the class in each of the two groups that are compared: T. L. Kelley, "The selection
of upper and lower groups for the validation of test items", Journal of Educational Psychology 30
(1939) 17-24."""


@dataclass(frozen=True, slots=True)
class ItemFigures:
    """One exercise: `difficulty` is the mean share of its marks that was earned (1: all easy).

    `discrimination` is the correlation of its marks with the marks of all the *other* exercises;
    `upper_lower` the difference of its shares between the best and the weakest 27 % of the class.
    None where the marks cannot tell.
    """

    exercise: str
    number: int
    title: str
    trainees: int
    difficulty: float
    difficulty_range: Interval
    blank: int
    discrimination: float | None
    discrimination_range: Interval | None
    upper_lower: float | None
    upper_lower_range: Interval | None


def item_figures(table: MarkTable) -> tuple[ItemFigures, ...]:
    """The figures of every exercise, in the order of the lab."""
    shares = table.shares
    difficulties = shares.mean(axis=0)
    correlations = corrected_item_total(table.earned)
    figures = []
    for index, exercise in enumerate(table.exercises):
        correlation = correlations[index]
        groups = upper_lower_shares(shares[:, index], table.totals)
        size = group_size(table.trainees)
        difficulty = min(1.0, float(difficulties[index]))
        figures.append(
            ItemFigures(
                exercise=exercise,
                number=table.numbers[index],
                title=table.titles[index],
                trainees=table.trainees,
                difficulty=difficulty,
                difficulty_range=wilson(difficulty, table.trainees),
                blank=int((~table.answered[:, index]).sum()),
                discrimination=correlation,
                discrimination_range=None
                if correlation is None
                else correlation_interval(correlation, table.trainees),
                upper_lower=None if groups is None else groups[0] - groups[1],
                upper_lower_range=None
                if groups is None
                else share_difference(groups[0], size, groups[1], size),
            )
        )
    return tuple(figures)


def corrected_item_total(marks: Floats) -> list[float | None]:
    """Each column's correlation with the sum of the other columns; shape (trainees, exercises).

    "Corrected" because an exercise left in its own total would correlate with itself
    (S. Henrysson, Psychometrika 28 (1963) 211-218). None where either side does not vary.
    """
    totals = marks.sum(axis=1)
    return [_correlation(column, totals - column) for column in marks.T]


def _correlation(one: Floats, two: Floats) -> float | None:
    first, second = one - one.mean(), two - two.mean()
    lengths = float(np.linalg.norm(first) * np.linalg.norm(second))
    # Sums of marks carry rounding noise: a column that is all alike must not count as varying.
    if lengths < 1e-9 * (1 + float(np.abs(one).max()) * float(np.abs(two).max())):
        return None
    return max(-1.0, min(1.0, float(first @ second) / lengths))


def group_size(trainees: int) -> int:
    """How many people are in each of the two compared groups; at least one."""
    return max(1, round(GROUP * trainees))


def upper_lower_shares(shares: Floats, totals: Floats) -> tuple[float, float] | None:
    """The mean share of an exercise in the best and in the weakest 27 % by total marks.

    Those who tie at a group's edge fill its last places together, each with the same part of a
    place, so that no order of the roster decides. None when the class is too small for two groups
    or everybody has the same total.
    """
    size = group_size(len(totals))
    rounded = totals.round(6)
    if 2 * size > len(totals) or rounded.min() == rounded.max():
        return None
    upper, lower = _places(-rounded, size), _places(rounded, size)
    return min(1.0, float(shares @ upper) / size), min(1.0, float(shares @ lower) / size)


def _places(values: Floats, size: int) -> Floats:
    """How much of a place each has among the `size` smallest values."""
    edge = np.sort(values)[size - 1]
    before, tied = values < edge, values == edge
    places: Floats = before + tied * (size - before.sum()) / tied.sum()
    return places
