"""Reading the kind `sign_off`: items that the instructor must see on the real bench."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import Field

from labkit.doors.family import DeviceOnBench
from labkit.doors.installed import listening_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.of_family import say_family
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_rubric import rubric_key, shares
from labkit.kinds.sign_off.data import LOG, Item, SignOffAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Marks, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream


class ItemFields(Strict):
    """What the trainee gets ready, what the instructor will look for, and what it is worth."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="What the trainee gets ready.")
    look_for: Text = Field(description="What you will look for; the trainee reads it.")
    marks: Marks | None = Field(
        default=None, description="What it is worth: say it of all items, or of none."
    )


class LogDeviceFields(Strict):
    """A device with its I/O in bytes and its connection."""

    device: Text = Field(description="Its name; formulas stand in {{ }}.")
    input_bytes: Text = Field(default="1", description="A formula.")
    output_bytes: Text = Field(default="0", description="A formula.")
    connection: str = Field(default="poll", description="How it is connected to the scanner.")


class LogFields(Strict):
    """A log of the real network, which the trainee drops; it is held against this plan."""

    scanner: Text = Field(description="The device that asks the others.")
    plan: Text = Field(
        default="network", description="A formula that gives the network; network is the lab's own."
    )
    devices: list[LogDeviceFields] = Field(
        default_factory=list, max_length=32, description="Devices whose I/O sizes are their own."
    )
    input_bytes: Text = Field(default="1", description="A formula: of all other devices.")
    output_bytes: Text = Field(default="0", description="A formula: of all other devices.")


class SignOffFields(ExerciseFields):
    """`marks` of the items: for all of them, or for none (then all are worth the same)."""

    items: list[ItemFields] = Field(min_length=1, max_length=20, description="What you must see.")
    caution: Text | None = Field(
        default=None,
        description="A caution that always stands there. Give one where the work can hurt "
        "somebody.",
    )
    log: LogFields | None = Field(
        default=None,
        description="A log of the real network may be dropped here: it is held against the plan.",
    )


class SignOffReader:
    """Reads a `sign_off` exercise."""

    fields = SignOffFields

    def read(self, fields: SignOffFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        ids = [item.id for item in fields.items]
        check_ids(ids, "item", reader, "items")
        parts = _shares(fields, reader)
        texts = [
            reader.prose(item.text, "items", index, "text")
            for index, item in enumerate(fields.items)
        ]
        looks = [
            reader.prose(item.look_for, "items", index, "look_for")
            for index, item in enumerate(fields.items)
        ]
        caution = reader.prose(fields.caution, "caution") if fields.caution else None
        planned = _planned(fields.log, ids, reader) if fields.log else None

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            items: list[Item] = [
                {"id": name, "text": text.render(values), "look_for": look.render(values)}
                for name, text, look in zip(ids, texts, looks, strict=True)
            ]
            ask: SignOffAsk = {
                "items": items,
                "caution": caution.render(values) if caution else "",
            }
            if planned:
                say_family(ask, reader.family)
                ask["log"] = {"planned": planned(values)}
            criteria = [f"{item['text']} Look for: {item['look_for']}" for item in items]
            return Prepared(ask, rubric_key(ids, criteria, parts, ""))

        return prepare


def _planned(
    fields: LogFields, ids: list[str], reader: FieldReader
) -> Callable[[Mapping[str, Value]], dict[str, Any]]:
    """What gives the plan that a log is held against, in a draw."""
    if LOG in ids:
        raise reader.error(
            f"an item is called '{LOG}', and a log may be dropped.",
            "Call the item otherwise.",
            *("items", ids.index(LOG), "id"),
        )
    listening = reader.of_family(listening_for)
    scanner = reader.prose(fields.scanner, LOG, "scanner")
    plan = reader.formula(fields.plan, LOG, "plan")
    usual = [
        reader.formula(text, LOG, name)
        for name, text in (
            ("input_bytes", fields.input_bytes),
            ("output_bytes", fields.output_bytes),
        )
    ]
    devices = [
        (
            reader.prose(each.device, LOG, "devices", at, "device"),
            reader.formula(each.input_bytes, LOG, "devices", at, "input_bytes"),
            reader.formula(each.output_bytes, LOG, "devices", at, "output_bytes"),
            each.connection,
        )
        for at, each in enumerate(fields.devices)
    ]

    def planned(values: Mapping[str, Value]) -> dict[str, Any]:
        given = [
            DeviceOnBench(name.render(values), whole(inputs, values), whole(outputs, values), kind)
            for name, inputs, outputs, kind in devices
        ]
        sizes = whole(usual[0], values), whole(usual[1], values)
        try:
            return listening.planned(plan.evaluate(values), scanner.render(values), given, sizes)
        except PlanError as error:
            raise definition_error(plan.place, str(error)) from error

    def whole(formula: Formula, values: Mapping[str, Value]) -> int:
        number = formula.number(values)
        if number != int(number) or number < 0:
            raise definition_error(formula.place, f"'{formula.text}' gives {number:g} bytes.")
        return int(number)

    return planned


def _shares(fields: SignOffFields, reader: FieldReader) -> list[float]:
    given = [item.marks for item in fields.items]
    if all(marks is None for marks in given):
        return [1 / len(given)] * len(given)
    for index, marks in enumerate(given):
        if marks is None:
            raise reader.error(
                "this item has no marks, others have.",
                "Give every item its marks, or none.",
                *("items", index, "marks"),
            )
    return shares([marks for marks in given if marks is not None], fields, reader, "items")
