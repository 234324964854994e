"""Reading what a ladder's inputs hang on: buttons, wires that may break, devices to be lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from pydantic import Field

from labkit.kinds.common.line import LineData
from labkit.kinds.ladder.data import Control
from labkit.kinds.ladder.panel import Panel, switch
from labkit.kinds.ladder.playing import MOST_ACTS
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Name, Strict, Text
from labkit.language.expression import Prose, Value
from labkit.language.problems import definition_error, nearest


class OperandFields(Strict):
    """An operand: the name that this block uses, its direct address and what it is, as prose."""

    name: Name = Field(description="A short name, which this exercise uses.")
    address: Text | None = Field(default=None, description="Its direct address, such as %IX4.2.")
    text: str = Field(default="", description="What it is; formulas stand in {{ }}.")


class InputFields(OperandFields):
    """An input, and what it hangs on at the panel; nothing said, it is a switch."""

    contact: Literal["open", "closed"] | None = Field(
        default=None, description="It is a button; at rest its contact is open, or closed."
    )
    breaks: bool = Field(default=False, description="Whether its wire may break.")
    device: Text | None = Field(
        default=None, description="The device that it is wired to, which may drop out."
    )
    lost: Literal["cleared", "kept"] = Field(
        default="cleared", description="What the scanner does with it while its device is lost."
    )
    active: Text | None = Field(
        default=None, description="It is the scanner's bit that says whether this device is active."
    )


class PanelReader:
    """The panel of an exercise: none where no input says anything, unless it is needed."""

    def __init__(self, inputs: Sequence[InputFields], reader: FieldReader, *, needed: bool) -> None:
        self._place = reader.place("inputs")
        self._inputs = [(item, *_devices(item, at, reader)) for at, item in enumerate(inputs)]
        self._shown = needed or any(map(_says_something, inputs))

    def for_scenario(
        self, ids: Mapping[str, str], values: Mapping[str, Value], line: LineData | None
    ) -> list[Control] | None:
        """A control an input; on a line it is wired to the device that it belongs to there."""
        if not self._shown:
            return None
        controls = [
            _control(item, ids[item.name], _filled(device, values), _filled(active, values))
            for item, device, active in self._inputs
        ]
        if line is not None:
            controls = [self._on_the_line(each, line) for each in controls]
        acts = len(Panel(tuple(controls)).acts())
        if acts > MOST_ACTS:
            message = f"{acts} buttons, wires and devices are too many; take at most {MOST_ACTS}."
            raise definition_error(self._place, message)
        return controls

    def _on_the_line(self, control: Control, line: LineData) -> Control:
        if control["what"] == "active" and control["device"] not in line["devices"]:
            message = f"'{control['device']}' is no device of the line."
            mend = nearest(control["device"], line["devices"])
            raise definition_error(self._place, message, mend)
        place = line["inputs"].get(control["id"])
        return control if place is None else {**control, "device": place["device"]}


def _says_something(item: InputFields) -> bool:
    return bool(item.contact or item.breaks or item.device or item.active)


def _devices(item: InputFields, at: int, reader: FieldReader) -> tuple[Prose | None, Prose | None]:
    """The device that an input is wired to, and the one whose active bit it is."""
    here = ("inputs", at)
    if item.active and (item.contact or item.breaks or item.device):
        message = "an active bit comes from the scanner: it has no button, wire or device."
        raise reader.error(message, "Leave these out, or 'active'.", *here, "active")
    if item.lost == "kept" and not item.device:
        message = "no device is named whose loss keeps it."
        raise reader.error(message, "Add 'device: …'.", *here, "lost")
    return (
        reader.prose(item.device, *here, "device") if item.device else None,
        reader.prose(item.active, *here, "active") if item.active else None,
    )


def _filled(prose: Prose | None, values: Mapping[str, Value]) -> str:
    return prose.render(values) if prose else ""


def _control(item: InputFields, label: str, device: str, active: str) -> Control:
    plain = switch(label)
    if active:
        return {**plain, "what": "active", "device": active}
    return {
        **plain,
        "what": "button" if item.contact else "switch",
        "closed": item.contact == "closed",
        "breaks": item.breaks,
        "device": device,
        "keeps": item.lost == "kept",
    }
