"""A class's marks as a table, a lab at a time."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.classroom.mark import Mark
from labkit.classroom.result import Result
from labkit.lab.definition import Lab

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int_]


@dataclass(frozen=True, eq=False)
class MarkTable:
    """The marks of everyone who handed in one lab.

    `earned`, `right` and `answered` have the shape (trainees, exercises), `possible` (exercises,).
    An exercise that still awaits the instructor's own mark for somebody is left out and named in
    `awaited`: a mark that is not there yet is no zero. So is one that was voided, in `voided`.
    """

    lab: Lab
    results: tuple[Result, ...]
    exercises: tuple[str, ...]
    numbers: tuple[int, ...]
    titles: tuple[str, ...]
    possible: Floats
    earned: Floats
    right: Flags
    answered: Flags
    awaited: tuple[str, ...] = ()
    voided: tuple[str, ...] = ()

    @property
    def trainees(self) -> int:
        """How many handed in."""
        return len(self.results)

    @property
    def shares(self) -> Floats:
        """The share of each exercise's marks that was earned, 0 to 1."""
        return self.earned / self.possible

    @property
    def totals(self) -> Floats:
        """Each trainee's marks in these exercises together, shape (trainees,)."""
        sums: Floats = self.earned.sum(axis=1)
        return sums


def mark_tables(labs: Mapping[str, Lab], results: Collection[Result]) -> tuple[MarkTable, ...]:
    """A table for each lab that somebody handed in. What two worked at together is in it once."""
    tables = []
    for lab_id, lab in labs.items():
        counted = [
            result
            for result in results
            if result.dealt.lab == lab_id and result.counts and not result.as_guest
        ]
        if counted:
            tables.append(_table(lab, counted))
    return tuple(tables)


def _table(lab: Lab, results: list[Result]) -> MarkTable:
    columns = list(zip(*(result.marks for result in results), strict=True))
    voided = [column for column in columns if column[0].voided]
    counted = [column for column in columns if not column[0].voided]
    awaited = [column for column in counted if any(mark.awaits for mark in column)]
    kept = [column for column in counted if not any(mark.awaits for mark in column)]
    shape = (len(kept), len(results))
    return MarkTable(
        lab=lab,
        results=tuple(results),
        exercises=tuple(column[0].exercise for column in kept),
        numbers=tuple(column[0].number for column in kept),
        titles=tuple(column_title([mark.title for mark in column]) for column in kept),
        possible=np.array([column[0].possible for column in kept], dtype=float),
        earned=_array([[mark.earned for mark in column] for column in kept], shape),
        right=_array([[mark.verdict.right for mark in column] for column in kept], shape) > 0,
        answered=_array([[mark.answered for mark in column] for column in kept], shape) > 0,
        awaited=_named(awaited),
        voided=_named(voided),
    )


def _named(columns: list[tuple[Mark, ...]]) -> tuple[str, ...]:
    return tuple(f"{column[0].number}. {column[0].title}" for column in columns)


def _array(columns: list[list[float]] | list[list[bool]], shape: tuple[int, int]) -> Floats:
    return np.array(columns, dtype=float).reshape(shape).T


def column_title(titles: list[str]) -> str:
    """The title that all trainees read; where it holds their own numbers, that of the first."""
    first = titles[0]
    return first if all(title == first for title in titles) else f"{first} (one of several)"
