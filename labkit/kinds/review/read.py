"""Reading the kind `review`: a network, and the errors that its drawing has."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from pydantic import Field

from labkit.doors.installed import families, network_for, review_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.doors.review import CannotPlantError, FamilyReview, ProposedDrawing
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.of_family import OfFamily, say_family
from labkit.kinds.review.data import ReviewKey
from labkit.kinds.review.drawing import DrawingData, drawn
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import Place, definition_error, nearest
from labkit.language.stream import Stream

_YES_OR_NO: Final = {"yes": True, "true": True, "no": False, "false": False}


class ErrorFields(Strict):
    """An error that the drawing may have."""

    error: Text = Field(description="Its name, such as two earths: the guide lists them.")
    planted: Text | None = Field(
        default=None,
        description="yes, no, or a formula that says whether a draw has it, such as rate == 125. "
        "Left out where 'plant' says how many are drawn.",
    )


class ReviewFields(ExerciseFields):
    """The network is the lab's own, what `plan` gives, or one of the exercise's own."""

    plan: str | None = Field(
        default=None, description="A formula that gives the network; left out, the lab's own."
    )
    network: dict[str, Any] | None = Field(
        default=None,
        description="A network of this exercise's own, written as in the header: the lab's picture "
        "of its network would show what is right.",
    )
    errors: list[ErrorFields] = Field(
        min_length=1, max_length=20, description="Those that the drawing may have."
    )
    plant: Text | None = Field(
        default=None,
        description="A formula: how many of these errors are drawn and planted; 0 for a drawing "
        "without any.",
    )


@dataclass(frozen=True, slots=True)
class _Error:
    name: str
    planted: bool | Formula

    def is_planted(self, values: Mapping[str, Value]) -> bool:
        if isinstance(self.planted, bool):
            return self.planted
        found = self.planted.evaluate(values)
        if not isinstance(found, bool):
            raise definition_error(
                self.planted.place,
                f"'{self.planted.text}' gives '{found}', which is neither yes nor no.",
                "Write yes, no or a comparison, such as 'rate == 125'.",
            )
        return found


class ReviewReader:
    """Reads a `review` exercise."""

    fields = ReviewFields

    def read(self, fields: ReviewFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        reader = replace(reader, family=_family(fields, reader))
        review = reader.of_family(review_for)
        plan, place = _plan(fields, reader)
        errors = _errors(fields, review, reader)
        count = reader.formula(fields.plant, "plant") if fields.plant is not None else None

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            right = _as_planned(review, plan(values), place)
            if count is None:
                names = [error.name for error in errors if error.is_planted(values)]
                drawing = _planted(review, right, names, stream, reader)
            else:
                wanted = _count(count, values, len(errors))
                drawing = _some(review, right, [e.name for e in errors], wanted, stream, reader)
            ask: OfFamily = {}
            say_family(ask, reader.family)
            key: ReviewKey = {"drawing": DrawingData(drawing)}
            return Prepared(ask, key, drawn=lambda: drawn(drawing))

        return prepare


def _family(fields: ReviewFields, reader: FieldReader) -> str:
    if fields.network is None:
        return reader.family
    name = fields.network.get("family")
    if not isinstance(name, str) or name not in families():
        raise reader.error(
            f"'{name}' is not a network family." if name else "is missing.",
            nearest(str(name or ""), families()),
            *("network", "family"),
        )
    return name


def _plan(
    fields: ReviewFields, reader: FieldReader
) -> tuple[Callable[[Mapping[str, Value]], Any], Place]:
    """What gives the network of a draw, and where that is written."""
    if fields.network is None:
        formula = reader.formula(fields.plan or "network", "plan")
        return formula.evaluate, formula.place
    if fields.plan is not None:
        raise reader.error(
            "stands beside a 'network:' of this exercise's own.",
            "Leave one of the two out.",
            "plan",
        )
    return network_for(reader.family).recipe(fields.network, reader).build, reader.place("network")


def _errors(fields: ReviewFields, review: FamilyReview, reader: FieldReader) -> list[_Error]:
    errors: list[_Error] = []
    for at, each in enumerate(fields.errors):
        if each.error not in review.errors:
            raise reader.error(
                f"there is no error '{each.error}' to plant.",
                nearest(each.error, review.errors),
                *("errors", at, "error"),
            )
        if each.error in [error.name for error in errors]:
            raise reader.error(
                f"'{each.error}' is there twice.", "Take one away.", *("errors", at, "error")
            )
        if (each.planted is None) != (fields.plant is not None):
            raise reader.error(
                "either 'plant' says how many are drawn, or each error says whether it is planted.",
                "Write 'plant: 3' for the whole exercise, or 'planted: yes' for each error.",
                *("errors", at),
            )
        errors.append(_Error(each.error, _stated(each.planted, reader, at)))
    return errors


def _stated(planted: str | None, reader: FieldReader, at: int) -> bool | Formula:
    if planted is None:
        return False
    stated = _YES_OR_NO.get(planted.strip().lower())
    return reader.formula(planted, "errors", at, "planted") if stated is None else stated


def _as_planned(review: FamilyReview, plan: Any, place: Place) -> ProposedDrawing:
    """The drawing without an error. Raises `DefinitionError`."""
    try:
        drawing = review.as_planned(plan)
    except PlanError as error:
        raise definition_error(
            place, str(error), "Rule such draws out under 'valid:', or mend the network."
        ) from error
    if drawing is None:
        raise definition_error(place, "does not give a network.")
    return drawing


def _planted(
    review: FamilyReview,
    right: ProposedDrawing,
    names: Sequence[str],
    stream: Stream,
    reader: FieldReader,
) -> ProposedDrawing:
    try:
        return review.planted(right, names, stream)
    except CannotPlantError as error:
        raise reader.error(
            str(error),
            "Take this error out, let 'planted' leave such draws out, or rule them out under "
            "'valid:'.",
            "errors",
        ) from error


def _some(
    review: FamilyReview,
    right: ProposedDrawing,
    names: Sequence[str],
    wanted: int,
    stream: Stream,
    reader: FieldReader,
) -> ProposedDrawing:
    """So many of the errors, drawn; one that has no place beside the others is passed over."""
    drawing, taken = right, list[str]()
    for at in stream.order(len(names)):
        if len(taken) == wanted:
            break
        try:
            drawing = review.planted(right, [*taken, names[at]], stream)
        except CannotPlantError:
            continue
        taken.append(names[at])
    if len(taken) < wanted:
        raise reader.error(
            f"only {len(taken)} of these errors can be planted together, where {wanted} are asked.",
            "List more errors, plant fewer, or rule such draws out under 'valid:'.",
            "errors",
        )
    return drawing


def _count(count: Formula, values: Mapping[str, Value], most: int) -> int:
    found = count.evaluate(values)
    if type(found) is not int or not 0 <= found <= most:
        raise definition_error(
            count.place,
            f"'{count.text}' gives {found}, where 0 to {most} errors can be planted.",
            "Write how many of the listed errors a drawing has.",
        )
    return found
