"""Reading the kind `io_map`: devices' bytes placed in a scanner's two areas."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.direct_address import HIGHEST_BYTE
from labkit.fieldbus.iomap import Alignment
from labkit.kinds.common.byte_areas import MAX_AREA, names_of, numbers_of, text_of, whole_of
from labkit.kinds.io_map.check import filled_map, fixed_map
from labkit.kinds.io_map.data import DATA, HOME, AreaName, DeviceSizes, IoMapAsk, Placed
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import Place, definition_error
from labkit.language.stream import Stream

ALIGNMENTS: Final = {
    "byte": Alignment.BYTE,
    "word": Alignment.WORD,
    "double word": Alignment.DOUBLE_WORD,
}


class DevicesFields(Strict):
    """Three lists: names, and the bytes that each device produces and consumes."""

    name: Text = Field(description="A formula that gives a list of names.")
    produced: Text = Field(description="A formula that gives a list: the bytes that each produces.")
    consumed: Text = Field(description="A formula that gives a list: the bytes that each consumes.")


class AreasFields(Strict):
    """Bytes of the scanner's input and output area."""

    input: Text = Field(description="A formula: bytes, at most 256.")
    output: Text = Field(description="A formula: bytes, at most 256.")


class PlacedFields(Strict):
    """Data that lies there already: its device, `input` or `output`, its first byte."""

    device: Text = Field(description="A formula that gives its name.")
    area: AreaName = Field(description="The scanner's area.")
    at: Text = Field(description="A formula: its first byte.")


class IoMapFields(ExerciseFields):
    """`alignment` is byte, word or double word; `packed` asks for a map without needless gaps."""

    devices: DevicesFields = Field(description="Three lists of the same length.")
    areas: AreasFields = Field(description="How large the scanner's areas are.")
    alignment: Literal["byte", "word", "double word"] = Field(
        default="byte", description="On which boundaries data begin."
    )
    packed: bool = Field(default=False, description="No block may be left that could start lower.")
    placed: list[PlacedFields] = Field(
        default_factory=list, description="Data that lie there already."
    )


class IoMapReader:
    """Reads an `io_map` exercise."""

    fields = IoMapFields

    def read(self, fields: IoMapFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        names = reader.formula(fields.devices.name, "devices", "name")
        produced = reader.formula(fields.devices.produced, "devices", "produced")
        consumed = reader.formula(fields.devices.consumed, "devices", "consumed")
        areas = {
            "input": reader.formula(fields.areas.input, "areas", "input"),
            "output": reader.formula(fields.areas.output, "areas", "output"),
        }
        placed = [
            (
                reader.formula(item.device, "placed", index, "device"),
                item.area,
                reader.formula(item.at, "placed", index, "at"),
            )
            for index, item in enumerate(fields.placed)
        ]
        too_small, wrongly_placed = reader.place("areas"), reader.place("placed")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            devices = _devices(names, produced, consumed, values)
            ask: IoMapAsk = {
                "devices": devices,
                "areas": {
                    area: whole_of(size, values, 0, MAX_AREA) for area, size in areas.items()
                },
                "alignment": int(ALIGNMENTS[fields.alignment]),
                "packed": fields.packed,
                "placed": [_placed(*item, devices, values) for item in placed],
            }
            _check_placed(ask, wrongly_placed)
            _must_be_solvable(ask, too_small)
            return Prepared(ask, {})

        return prepare


def _devices(
    names: Formula, produced: Formula, consumed: Formula, values: Mapping[str, Value]
) -> list[DeviceSizes]:
    found = names_of(names, values)
    come_in = numbers_of(produced, values, len(found))
    go_out = numbers_of(consumed, values, len(found))
    return [
        {"name": name, "produced": in_, "consumed": out}
        for name, in_, out in zip(found, come_in, go_out, strict=True)
    ]


def _placed(
    device: Formula,
    area: AreaName,
    at: Formula,
    devices: list[DeviceSizes],
    values: Mapping[str, Value],
) -> Placed:
    with_data = [each["name"] for each in devices if each[DATA[area]]]
    name = text_of(device, values, with_data)
    return {"device": name, "area": area, "at": whole_of(at, values, 0, HIGHEST_BYTE)}


def _check_placed(ask: IoMapAsk, place: Place) -> None:
    seen = [(item["device"], item["area"]) for item in ask["placed"]]
    if len(set(seen)) < len(seen):
        raise definition_error(place, "the same data is placed twice.", "Drop one of them.")
    blocks = sum(1 for each in ask["devices"] for data in HOME if each[data])
    if blocks == len(seen):
        raise definition_error(place, "nothing is left to be placed in this scenario.")
    fixed = fixed_map(ask)
    if fixed.overlaps() or fixed.outside():
        raise definition_error(place, "what is placed already overlaps or lies outside its area.")


def _must_be_solvable(ask: IoMapAsk, place: Place) -> None:
    if filled_map(ask) is None:
        raise definition_error(
            place,
            "the devices' bytes do not fit into the areas in this scenario.",
            "Enlarge 'areas', or add a rule under 'valid:'.",
        )
