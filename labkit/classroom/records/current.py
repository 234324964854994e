"""What holds now, worked out from the entries: the last word on each question counts."""

from __future__ import annotations

from functools import cache
from typing import Any

from sqlalchemy import (
    Float,
    Numeric,
    Select,
    String,
    Table,
    and_,
    case,
    cast,
    false,
    func,
    or_,
    select,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.elements import ColumnElement
from sqlalchemy.sql.functions import GenericFunction

from labkit.classroom.records.schema import (
    IN_PERSON,
    counting,
    editions,
    manual,
    marks,
    people,
    voids,
)


class _Hundredths(GenericFunction[float]):
    """A number rounded to two decimals: PostgreSQL rounds to decimals only what is decimal."""

    type = Float()
    inherit_cache = True


@compiles(_Hundredths)
def _hundredths(element: Any, compiler: Any, **options: Any) -> str:
    (value,) = element.clauses
    return str(compiler.process(func.round(value, 2), **options))


@compiles(_Hundredths, "postgresql")
def _decimal_hundredths(element: Any, compiler: Any, **options: Any) -> str:
    (value,) = element.clauses
    rounded = cast(func.round(cast(value, Numeric), 2), Float(53))
    return str(compiler.process(rounded, **options))


class _Latest(GenericFunction[str]):
    """The greatest of several times."""

    type = String()
    inherit_cache = True


@compiles(_Latest)
def _latest(element: Any, compiler: Any, **options: Any) -> str:
    return str(compiler.process(func.max(*element.clauses), **options))


@compiles(_Latest, "postgresql")
def _greatest(element: Any, compiler: Any, **options: Any) -> str:
    return str(compiler.process(func.greatest(*element.clauses), **options))


@cache
def current_marks() -> Select[Any]:
    """A row for each exercise of each hand-in that counts.

    `earned` and `credit` are the person's own mark where one was given; `awaits` says that one is
    still missing; `voided` that the exercise is taken out of everybody's marks; `since` when all
    this came to hold.
    """
    given = manual.c.credit.is_not(None)
    by_hand = _Hundredths(manual.c.credit * marks.c.possible - marks.c.hint_cost)
    return (
        select(
            people.c.workbook,
            people.c.lab,
            people.c.trainee,
            people.c.name,
            counting.c.digest,
            *(marks.c[name] for name in ("exercise", "number", "title", "possible")),
            func.coalesce(manual.c.credit, marks.c.credit).label("credit"),
            case(
                (manual.c.credit.is_(None), marks.c.earned),
                (by_hand < 0, 0.0),
                else_=by_hand,
            ).label("earned"),
            marks.c.earned.label("earned_at_first"),
            *(marks.c[name] for name in ("message", "slip", "readable", "answered", "answer")),
            *(marks.c[name] for name in ("answer_digest", "tries", "hints", "hint_cost")),
            case((given, false()), else_=marks.c.awaits).label("awaits"),
            marks.c.lab_digest,
            manual.c.by.label("marked_by"),
            manual.c.note.label("note"),
            func.coalesce(voids.c.voided, false()).label("voided"),
            # New columns come last: PostgreSQL then takes the view over from an older version.
            _Latest(
                marks.c.marked_at,
                counting.c.decided_at,
                editions.c.since,
                func.coalesce(manual.c.marked_at, ""),
                func.coalesce(voids.c.since, ""),
            ).label("since"),
        )
        .select_from(people)
        .join(counting, and_(counting.c.workbook == people.c.workbook, _last_word(counting)))
        .join(editions, and_(editions.c.lab == people.c.lab, _last_edition()))
        .join(
            marks,
            and_(
                marks.c.digest == counting.c.digest,
                marks.c.workbook == people.c.workbook,
                marks.c.lab_digest == editions.c.lab_digest,
            ),
        )
        .outerjoin(manual, manual.c.id == _last_manual())
        .outerjoin(voids, voids.c.id == _last_void())
    )


def _last_word(table: Table) -> ColumnElement[bool]:
    later = table.alias("later")
    last = select(func.max(later.c.id)).where(later.c.workbook == people.c.workbook)
    return table.c.id == last.correlate(people).scalar_subquery()


def _last_edition() -> ColumnElement[bool]:
    later = editions.alias("later_edition")
    last = select(func.max(later.c.id)).where(later.c.lab == people.c.lab)
    return editions.c.id == last.correlate(people).scalar_subquery()


def _last_manual() -> ColumnElement[int | None]:
    """A person marks an answer: who answers anew is to be marked anew.

    What was seen in person was seen, whatever is answered.
    """
    later = manual.alias("later_manual")
    last = select(func.max(later.c.id)).where(
        later.c.workbook == marks.c.workbook,
        later.c.exercise == marks.c.exercise,
        or_(
            later.c.answer_digest == marks.c.answer_digest,
            later.c.answer_digest == IN_PERSON,
        ),
    )
    return last.correlate(marks).scalar_subquery()


def _last_void() -> ColumnElement[int | None]:
    later = voids.alias("later_void")
    last = select(func.max(later.c.id)).where(
        later.c.lab == marks.c.lab, later.c.exercise == marks.c.exercise
    )
    return last.correlate(marks).scalar_subquery()
