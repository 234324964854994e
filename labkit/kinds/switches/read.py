"""Reading the kind `switches`: set a device's switches, or read them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, TypeVar

from pydantic import Field

from labkit.doors.installed import switches_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.doors.switches import FamilySwitches
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.of_family import say_family
from labkit.kinds.switches.check import ADDRESS, RATE, SET, TELLS
from labkit.kinds.switches.data import SwitchesAsk, SwitchesKey, Task
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error, nearest
from labkit.language.stream import Stream

_TASKS: Final[tuple[Task, ...]] = (SET, ADDRESS, RATE)
Word = TypeVar("Word", str, Task)


class SwitchesFields(ExerciseFields):
    """`address` and `rate` are formulas; `task` is what the trainee does with the switches.

    `device` is one that the family has; left out, its usual one.
    """

    device: str | None = Field(
        default=None,
        description="dip or rotary, of CANopen hex too. The usual one if you say nothing.",
    )
    task: str = Field(
        default=SET,
        description="set: the trainee sets the switches. address or rate: they are set, and are "
        "read.",
    )
    address: Text = Field(description="A formula: the node address.")
    rate: Text = Field(description="A formula: the data rate in kbit/s.")
    tells: dict[str, Text] = Field(
        default_factory=dict,
        description="Words of yours for known mistakes, a line each: address-reversed: Position "
        "1 is at the left.",
    )


class SwitchesReader:
    """Reads a `switches` exercise."""

    fields = SwitchesFields

    def read(self, fields: SwitchesFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        switches = reader.of_family(switches_for)
        devices = tuple(switches.devices)
        given = devices[0] if fields.device is None else fields.device
        device = _one_of(given, devices, reader, "device")
        task = _one_of(fields.task, _TASKS, reader, "task")
        address = reader.formula(fields.address, "address")
        rate = reader.formula(fields.rate, "rate")
        known = [*TELLS, *switches.tells]
        for slip in fields.tells:
            if slip not in known:
                raise reader.error(
                    "is no mistake that is looked for here.", nearest(slip, known), "tells", slip
                )
        tells = {slip: reader.prose(text, "tells", slip) for slip, text in fields.tells.items()}

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            node, speed = _whole(address, values), _rate(rate, values, switches)
            setting = _setting(switches, device, node, speed, address)
            ask: SwitchesAsk = {"device": device, "task": task, "setting": setting}
            say_family(ask, reader.family)
            key: SwitchesKey = {"tells": {slip: p.render(values) for slip, p in tells.items()}}
            if task != SET:
                return Prepared(ask, key)
            start = switches.setting(device, *switches.as_it_came)
            if setting == start:
                raise definition_error(
                    address.place,
                    f"the switches stand at {node} and {switches.rate_words(speed)} already, "
                    "as the device came.",
                    "Add a rule to 'valid:' that keeps this draw away.",
                )
            ask["setting"], key["address"], key["rate"] = start, node, speed
            return Prepared(ask, key)

        return prepare


def _one_of(word: str, known: tuple[Word, ...], reader: FieldReader, name: str) -> Word:
    for each in known:
        if each == word:
            return each
    raise reader.error(f"'{word}' is not known.", nearest(word, known), name)


def _whole(formula: Formula, values: Mapping[str, Value]) -> int:
    number = formula.number(values)
    if number != int(number):
        raise definition_error(formula.place, f"'{formula.text}' gives no whole number.")
    return int(number)


def _rate(formula: Formula, values: Mapping[str, Value], switches: FamilySwitches) -> float:
    """The rate as the family writes it; any other whole number is refused by its switches."""
    given = formula.number(values)
    known = next((rate for rate in switches.rates if rate == given), None)
    if known is None and given != int(given):
        rates = ", ".join(map(str, switches.rates))
        raise definition_error(
            formula.place, f"'{formula.text}' gives {given:g}, none of {rates} kbit/s."
        )
    return int(given) if known is None else known


def _setting(
    switches: FamilySwitches, device: str, address: int, rate: float, formula: Formula
) -> str:
    try:
        return switches.setting(device, address, rate)
    except PlanError as error:
        raise definition_error(formula.place, str(error)) from error
