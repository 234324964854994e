"""Reading the kind `switches`: set a device's switches, or read them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, TypeVar

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.switches.check import ADDRESS, DIP, RATE, ROTARY, SET, TELLS, setting_of
from labkit.kinds.switches.data import Device, SwitchesAsk, SwitchesKey, Task
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error, nearest
from labkit.language.stream import Stream

_DEVICES: Final[tuple[Device, ...]] = (DIP, ROTARY)
_TASKS: Final[tuple[Task, ...]] = (SET, ADDRESS, RATE)
Word = TypeVar("Word", Device, Task)

# New devices usually come set to 63 and the slowest rate (common practice, no source).
_AS_IT_CAME: Final = (63, 125)


class SwitchesFields(ExerciseFields):
    """`address` and `rate` are formulas; `task` is what the trainee does with the switches."""

    device: str = DIP
    task: str = SET
    address: Text
    rate: Text
    tells: dict[str, Text] = Field(default_factory=dict)


class SwitchesReader:
    """Reads a `switches` exercise."""

    fields = SwitchesFields

    def read(self, fields: SwitchesFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        device = _one_of(fields.device, _DEVICES, reader, "device")
        task = _one_of(fields.task, _TASKS, reader, "task")
        address = reader.formula(fields.address, "address")
        rate = reader.formula(fields.rate, "rate")
        for slip in fields.tells:
            if slip not in TELLS:
                raise reader.error(
                    "is no mistake that is looked for here.", nearest(slip, TELLS), "tells", slip
                )
        tells = {slip: reader.prose(text, "tells", slip) for slip, text in fields.tells.items()}

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            node, speed = _whole(address, values), _whole(rate, values)
            setting = _setting(device, node, speed, address)
            ask: SwitchesAsk = {"device": device, "task": task, "setting": setting}
            key: SwitchesKey = {"tells": {slip: p.render(values) for slip, p in tells.items()}}
            if task != SET:
                return Prepared(ask, key)
            start = setting_of(device, *_AS_IT_CAME)
            if setting == start:
                raise definition_error(
                    address.place,
                    f"the switches stand at {node} and {speed} kbit/s already, as the device came.",
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


def _setting(device: Device, address: int, rate: int, formula: Formula) -> str:
    try:
        return setting_of(device, address, rate)
    except PlanError as error:
        raise definition_error(formula.place, str(error)) from error
