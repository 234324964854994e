"""Reading the kind `choose_modules`: a list of signals, a catalogue, chassis and supplies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Annotated, Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.chassis import MOST_SLOTS
from labkit.fieldbus.chassis_modules import (
    MOST_LINES_OF_A_KIND,
    MOST_MA,
    MOST_POINTS,
    MOST_SIGNALS,
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
from labkit.kinds.common.byte_areas import whole, whole_of
from labkit.kinds.common.read_apart import check_apart, check_ids
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error, nearest
from labkit.language.stream import Stream

MOST_KINDS: Final = 6
_MOST_PERCENT: Final = 100


class PointFields(Strict):
    """A kind of points."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="What it is called, as in '24 V DC input'.")
    mains: bool = Field(
        default=False, description="Whether it may carry mains voltage: the caution stands there."
    )


class SignalFields(Strict):
    """A line of the list of signals. Texts are prose, numbers formulas."""

    text: Text = Field(description="What the signals are; formulas stand in {{ }}.")
    point: Id = Field(description="The id of their kind of points.")
    count: Text = Field(description="A formula: how many.")
    fed_by: Text = Field(
        description="The supply that feeds them, as prose; others share no common."
    )
    load: Text = Field(default="0", description="A formula: what each takes, in mA.")


class ModuleFields(Strict):
    """A module of the catalogue: invent it. Texts are prose, numbers formulas, currents in mA."""

    id: Id = Field(description="Small letters, digits and '-'.")
    type: Text = Field(description="Its type code: invent one.")
    point: Id = Field(description="The id of its kind of points.")
    count: Text = Field(description="A formula: how many points.")
    commons: Text = Field(default="1", description="A formula: in how many commons of equal size.")
    slots: Text = Field(default="1", description="A formula: 1, or 2 slots that it covers.")
    at_5: Text = Field(description="A formula: what it takes at 5 V, in mA.")
    at_24: Text = Field(default="0", description="A formula: what it takes at 24 V, in mA.")
    each: Text | None = Field(
        default=None, description="A formula: what a point may carry, in mA; no limit if left out."
    )
    together: Text | None = Field(
        default=None, description="A formula: what all its points may carry; no limit if left out."
    )


class FixedFields(Strict):
    """A module that stands there already, one after the other from slot 0 on."""

    text: Text = Field(description="What it is.")
    at_5: Text = Field(description="A formula: what it takes at 5 V, in mA.")
    at_24: Text = Field(default="0", description="A formula: what it takes at 24 V, in mA.")


class SupplyFields(Strict):
    """A supply of the chassis: invent it."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="Its type code: invent one.")
    at_5: Text = Field(description="A formula: what it gives at 5 V, in mA.")
    at_24: Text = Field(description="A formula: what it gives at 24 V, in mA.")


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
    chassis: Text = Field(description="A formula: a list of numbers of slots, counted from 0.")
    supplies: list[SupplyFields] = Field(
        min_length=1, max_length=4, description="The supplies to choose from."
    )
    apart: list[Annotated[list[Id], Field(min_length=2, max_length=2)]] = Field(
        default_factory=list,
        max_length=6,
        description="Pairs of kinds that may not stand side by side.",
    )
    loads: bool = Field(default=True, description="Whether the trainee adds up both rails.")
    smallest: bool = Field(
        default=False, description="Whether the chassis may be no larger than needed."
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
        chassis = reader.formula(fields.chassis, "chassis")
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
                "chassis": _sizes(chassis, values, len(fixed)),
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
    """The texts and formulas of a line."""

    def __init__(self, fields: SignalFields, at: int, reader: FieldReader) -> None:
        self.point = fields.point
        self.text = reader.prose(fields.text, "signals", at, "text")
        self.fed_by = reader.prose(fields.fed_by, "signals", at, "fed_by")
        self.count = reader.formula(fields.count, "signals", at, "count")
        self.load = reader.formula(fields.load, "signals", at, "load")

    def data(self, values: Mapping[str, Value]) -> Signal:
        return {
            "text": _words(self.text, values),
            "point": self.point,
            "count": whole_of(self.count, values, 1, MOST_SIGNALS),
            "fed_by": _words(self.fed_by, values),
            "load": whole_of(self.load, values, 0, MOST_MA),
        }


class _Module:
    """The texts and formulas of a module."""

    def __init__(self, fields: ModuleFields, at: int, reader: FieldReader) -> None:
        self.fields = fields
        self.type = reader.prose(fields.type, "modules", at, "type")

        def formula(name: str) -> Formula | None:
            text = getattr(fields, name)
            return None if text is None else reader.formula(text, "modules", at, name)

        self.count, self.commons, self.slots = map(formula, ("count", "commons", "slots"))
        self.at_5, self.at_24 = map(formula, ("at_5", "at_24"))
        self.each, self.together = map(formula, ("each", "together"))

    def data(self, values: Mapping[str, Value]) -> CatalogueModule:
        def number(formula: Formula | None, least: int, most: int) -> int:
            return whole_of(formula, values, least, most) if formula else least

        def limit(formula: Formula | None) -> int | None:
            return whole_of(formula, values, 1, MOST_MA) if formula else None

        return {
            "id": self.fields.id,
            "type": _words(self.type, values),
            "point": self.fields.point,
            "count": number(self.count, 1, MOST_POINTS),
            "commons": number(self.commons, 1, MOST_POINTS),
            "slots": number(self.slots, 1, 2),
            "at_5": number(self.at_5, 0, MOST_MA),
            "at_24": number(self.at_24, 0, MOST_MA),
            "each": limit(self.each),
            "together": limit(self.together),
        }


class _Rails:
    """What something gives or takes at both rails."""

    def __init__(
        self, fields: FixedFields | SupplyFields, reader: FieldReader, name: str, at: int
    ) -> None:
        self.text = reader.prose(fields.text, name, at, "text")
        self.at_5 = reader.formula(fields.at_5, name, at, "at_5")
        self.at_24 = reader.formula(fields.at_24, name, at, "at_24")

    def fixed(self, values: Mapping[str, Value]) -> FixedModule:
        return {
            "text": _words(self.text, values),
            "at_5": whole_of(self.at_5, values, 0, MOST_MA),
            "at_24": whole_of(self.at_24, values, 0, MOST_MA),
        }

    def supply(self, name: str, values: Mapping[str, Value]) -> Supply:
        return {"id": name, **self.fixed(values)}


def _words(prose: Prose, values: Mapping[str, Value]) -> str:
    return " ".join(prose.render(values).split())


def _sizes(formula: Formula, values: Mapping[str, Value], fixed: int) -> list[int]:
    found = formula.evaluate(values)
    sizes = found if isinstance(found, list | tuple) else [found]
    return sorted({whole(formula, size, fixed + 1, MOST_SLOTS) for size in sizes})


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
