"""Reading the kind `choose_modules`: a list of signals, a catalogue, chassis and supplies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.chassis import MOST_SLOTS
from labkit.fieldbus.chassis_modules import (
    MOST_LINES_OF_A_KIND,
    MOST_MA,
    MOST_POINTS,
    MOST_SIGNALS,
    too_many_to_share,
    with_reserve,
)
from labkit.fieldbus.errors import PlanError
from labkit.kinds.choose_modules.data import (
    CatalogueModule,
    ChooseModulesAsk,
    ChooseModulesKey,
    FixedModule,
    Signal,
    Supply,
)
from labkit.kinds.choose_modules.plan import catalogue, signal_lines
from labkit.kinds.choose_modules.spoilt import right_plan
from labkit.kinds.common.byte_areas import whole_of
from labkit.kinds.common.read_apart import check_apart, check_ids
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Prose, Value
from labkit.language.problems import definition_error, nearest
from labkit.language.stream import Stream

_Number = Callable[[Mapping[str, Value]], int]

MOST_KINDS: Final = 6
_MOST_PERCENT: Final = 100
_MOST_COUNT: Final = MOST_SIGNALS // 2
"""So many signals of a line, that with the largest reserve the library still takes it."""


class PointFields(Strict):
    """A kind of points."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="What it is called, as in '24 V DC input'.")
    mains: bool = Field(
        default=False, description="Whether it may carry mains voltage: the caution stands there."
    )


class SignalFields(Strict):
    """A line of the list of signals. Texts are prose, a number is one, or a formula."""

    text: Text = Field(description="What the signals are; formulas stand in {{ }}.")
    point: Id = Field(description="The id of their kind of points.")
    count: Text = Field(description="A number or a formula: how many.")
    fed_by: Text = Field(
        description="The supply that feeds them, as prose; others share no common."
    )
    load: Text = Field(default="0", description="What each takes, in mA.")


class ModuleFields(Strict):
    """A module of the catalogue: invent it. Texts are prose, a number is one, or a formula."""

    id: Id = Field(description="Small letters, digits and '-'.")
    type: Text = Field(description="Its type code: invent one.")
    point: Id = Field(description="The id of its kind of points.")
    count: Text = Field(description="How many points.")
    commons: Text = Field(default="1", description="In how many commons of equal size.")
    slots: Text = Field(default="1", description="1, or 2 slots that it covers.")
    at_5: Text = Field(description="What it takes at 5 V, in mA.")
    at_24: Text = Field(default="0", description="What it takes at 24 V, in mA.")
    each: Text | None = Field(
        default=None, description="What a point may carry, in mA; no limit if left out."
    )
    together: Text | None = Field(
        default=None, description="What all its points may carry, in mA; no limit if left out."
    )


class FixedFields(Strict):
    """A module that stands there already, one after the other from slot 0 on."""

    text: Text = Field(description="What it is.")
    at_5: Text = Field(description="What it takes at 5 V, in mA.")
    at_24: Text = Field(default="0", description="What it takes at 24 V, in mA.")


class SupplyFields(Strict):
    """A supply of the chassis: invent it."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="Its type code: invent one.")
    at_5: Text = Field(description="What it gives at 5 V, in mA.")
    at_24: Text = Field(description="What it gives at 24 V, in mA.")


class ChooseModulesFields(ExerciseFields):
    """A list of signals, and what there is for them."""

    points: list[PointFields] = Field(
        min_length=1, max_length=MOST_KINDS, description="The kinds of points."
    )
    signals: list[SignalFields] = Field(
        min_length=1, max_length=12, description="The list of signals."
    )
    reserve: Text = Field(
        default="0", description="A formula: the reserve of each line, in percent, rounded up."
    )
    modules: list[ModuleFields] = Field(min_length=1, max_length=16, description="The catalogue.")
    fixed: list[FixedFields] = Field(
        default_factory=list, max_length=4, description="What stands there already, from slot 0 on."
    )
    chassis: list[Text] = Field(
        min_length=1, max_length=6, description="Numbers of slots, counted from 0: 7, 10, 13."
    )
    supplies: list[SupplyFields] = Field(
        min_length=1, max_length=4, description="The supplies to choose from, the smallest first."
    )
    apart: list[Annotated[list[Id], Field(min_length=2, max_length=2)]] = Field(
        default_factory=list,
        max_length=6,
        description="Pairs of kinds that may not stand side by side.",
    )
    loads: bool = Field(default=True, description="Whether the trainee adds up both rails.")
    smallest: bool = Field(
        default=False, description="Whether chassis and supply may be no larger than needed."
    )


class ChooseModulesReader:
    """Reads a `choose_modules` exercise."""

    fields = ChooseModulesFields

    def read(self, fields: ChooseModulesFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        _check_names(fields, reader)
        signals = [_Signal(each, at, reader) for at, each in enumerate(fields.signals)]
        modules = [_Module(each, at, reader) for at, each in enumerate(fields.modules)]
        fixed = [_Rails(each, reader, "fixed", at) for at, each in enumerate(fields.fixed)]
        supplies = [_Rails(each, reader, "supplies", at) for at, each in enumerate(fields.supplies)]
        reserve = reader.formula(fields.reserve, "reserve")
        chassis = [
            _number(each, len(fixed) + 1, MOST_SLOTS, reader, "chassis", at)
            for at, each in enumerate(fields.chassis)
        ]
        place = reader.place("signals")

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:  # noqa: ARG001
            ask: ChooseModulesAsk = {
                "points": [
                    {"id": each.id, "text": each.text, "mains": each.mains}
                    for each in fields.points
                ],
                "signals": [each.data(values) for each in signals],
                "reserve": whole_of(reserve, values, 0, _MOST_PERCENT),
                "modules": [each.data(values) for each in modules],
                "fixed": [each.fixed(values) for each in fixed],
                "chassis": sorted({each(values) for each in chassis}),
                "supplies": [
                    each.supply(item.id, values)
                    for each, item in zip(supplies, fields.supplies, strict=True)
                ],
                "apart": [(one, other) for one, other in fields.apart],
                "loads": fields.loads,
                "smallest": fields.smallest,
            }
            check_apart([each["type"] for each in ask["modules"]], "modules", reader, "modules")
            check_apart([each["text"] for each in ask["supplies"]], "supplies", reader, "supplies")
            try:
                catalogue(ask)
                signal_lines(ask)
            except PlanError as error:
                raise definition_error(place, str(error)) from error
            full = with_reserve(signal_lines(ask), ask["reserve"])
            if kind := too_many_to_share(full):
                message = f"there are too many signals of '{kind}' to be shared out in all ways."
                raise definition_error(place, message, "Take fewer, or put two lines together.")
            example = right_plan(ask)
            if example is None:
                raise definition_error(
                    place,
                    "no choice of these modules serves the list in any chassis with any supply.",
                    "Give more slots, more current or other modules, or rule such draws out under "
                    "'valid:'.",
                )
            key: ChooseModulesKey = {"example": example}
            return Prepared(ask, key)

        return prepare


class _Signal:
    """The texts and numbers of a line."""

    def __init__(self, fields: SignalFields, at: int, reader: FieldReader) -> None:
        self.point = fields.point
        self.text = reader.prose(fields.text, "signals", at, "text")
        self.fed_by = reader.prose(fields.fed_by, "signals", at, "fed_by")
        self.count = _number(fields.count, 1, _MOST_COUNT, reader, "signals", at, "count")
        self.load = _number(fields.load, 0, MOST_MA, reader, "signals", at, "load")

    def data(self, values: Mapping[str, Value]) -> Signal:
        return {
            "text": _words(self.text, values),
            "point": self.point,
            "count": self.count(values),
            "fed_by": _words(self.fed_by, values),
            "load": self.load(values),
        }


class _Module:
    """The texts and numbers of a module."""

    def __init__(self, fields: ModuleFields, at: int, reader: FieldReader) -> None:
        self.id = fields.id
        self.point = fields.point
        self.type = reader.prose(fields.type, "modules", at, "type")

        def number(name: str, least: int, most: int) -> _Number:
            return _number(getattr(fields, name), least, most, reader, "modules", at, name)

        self.count = number("count", 1, MOST_POINTS)
        self.commons = number("commons", 1, MOST_POINTS)
        self.slots = number("slots", 1, 2)
        self.at_5 = number("at_5", 0, MOST_MA)
        self.at_24 = number("at_24", 0, MOST_MA)
        self.each = number("each", 1, MOST_MA) if fields.each else None
        self.together = number("together", 1, MOST_MA) if fields.together else None

    def data(self, values: Mapping[str, Value]) -> CatalogueModule:
        return {
            "id": self.id,
            "type": _words(self.type, values),
            "point": self.point,
            "count": self.count(values),
            "commons": self.commons(values),
            "slots": self.slots(values),
            "at_5": self.at_5(values),
            "at_24": self.at_24(values),
            "each": self.each(values) if self.each else None,
            "together": self.together(values) if self.together else None,
        }


class _Rails:
    """What something gives or takes at both rails."""

    def __init__(
        self, fields: FixedFields | SupplyFields, reader: FieldReader, name: str, at: int
    ) -> None:
        self.text = reader.prose(fields.text, name, at, "text")
        self.at_5 = _number(fields.at_5, 0, MOST_MA, reader, name, at, "at_5")
        self.at_24 = _number(fields.at_24, 0, MOST_MA, reader, name, at, "at_24")

    def fixed(self, values: Mapping[str, Value]) -> FixedModule:
        return {
            "text": _words(self.text, values),
            "at_5": self.at_5(values),
            "at_24": self.at_24(values),
        }

    def supply(self, name: str, values: Mapping[str, Value]) -> Supply:
        return {"id": name, **self.fixed(values)}


def _words(prose: Prose, values: Mapping[str, Value]) -> str:
    return " ".join(prose.render(values).split())


def _number(text: str, least: int, most: int, reader: FieldReader, *path: str | int) -> _Number:
    """A whole number as it stands, which is invented and needs no source; or a formula."""
    if not text.strip().isdecimal():
        formula = reader.formula(text, *path)
        return lambda values: whole_of(formula, values, least, most)
    number = int(text)
    if not least <= number <= most:
        message = f"{number} is outside {least} to {most}."
        raise reader.error(message, "Write a number in that range.", *path)
    return lambda values: number  # noqa: ARG005


def _check_names(fields: ChooseModulesFields, reader: FieldReader) -> None:
    """Every id once, every kind known and to be had, few lines enough to be shared out."""
    kinds = [each.id for each in fields.points]
    check_ids(kinds, "kind of points", reader, "points")
    check_ids([each.id for each in fields.modules], "module", reader, "modules")
    check_ids([each.id for each in fields.supplies], "supply", reader, "supplies")
    named = [("signals", at, each.point) for at, each in enumerate(fields.signals)]
    named += [("modules", at, each.point) for at, each in enumerate(fields.modules)]
    for name, at, point in named:
        if point not in kinds:
            message = f"'{point}' is no kind of points of this exercise."
            raise reader.error(message, nearest(point, kinds), name, at, "point")
    for at, pair in enumerate(fields.apart):
        _check_pair(pair, kinds, reader, at)
    to_be_had = {each.point for each in fields.modules}
    lines = Counter(each.point for each in fields.signals)
    for at, signal in enumerate(fields.signals):
        if signal.point not in to_be_had:
            message = f"no module of the catalogue has points of the kind '{signal.point}'."
            raise reader.error(message, "Add one.", "signals", at, "point")
        if lines[signal.point] > MOST_LINES_OF_A_KIND:
            message = f"there are more than {MOST_LINES_OF_A_KIND} lines of '{signal.point}'."
            raise reader.error(message, "Put two of them together.", "signals", at, "point")


def _check_pair(pair: Sequence[str], kinds: Sequence[str], reader: FieldReader, at: int) -> None:
    for name in pair:
        if name not in kinds:
            message = f"'{name}' is no kind of points of this exercise."
            raise reader.error(message, nearest(name, kinds), "apart", at)
    if pair[0] == pair[1]:
        message = f"'{pair[0]}' cannot stand apart from itself."
        raise reader.error(message, "Name two kinds.", "apart", at)
