"""Reading a line that a program runs against: devices, their places in the I/O map, conditions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from pydantic import Field

from labkit.bench.codec import to_json
from labkit.doors.family import DeviceOnBench
from labkit.doors.installed import bench_reading_for
from labkit.fieldbus.direct_address import Area, DirectAddress
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.iomap import DeviceIo, IoMap, Placement
from labkit.kinds.common.line import Condition, LineData, Place
from labkit.kinds.common.read_faults import faults_listed
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error, nearest

_HIGHEST_BYTE = 65536


class LineDeviceFields(Strict):
    """A device with the first bytes of its data in the controller's areas; sizes in bytes."""

    device: Text = Field(description="Its name; formulas stand in {{ }}.")
    inputs_at: Text | None = Field(default=None, description="First byte of its inputs, a formula.")
    outputs_at: Text | None = Field(
        default=None, description="First byte of its outputs, a formula."
    )
    input_bytes: Text = Field(default="1", description="A formula.")
    output_bytes: Text = Field(default="1", description="A formula.")


class ConditionFields(Strict):
    """A way in which the line can be, for trying out; the first one is always as planned."""

    text: Text = Field(description="What is so then; formulas stand in {{ }}.")
    faults: Text = Field(description='A formula that gives a list of faults: [{"kind": "idle"}].')


class LineFields(Strict):
    """The lab's network as a line that the program runs against while it is tried out."""

    scanner: Text = Field(description="The device that scans.")
    devices: list[LineDeviceFields] = Field(
        min_length=1, max_length=16, description="Those that inputs or outputs hang on."
    )
    conditions: list[ConditionFields] = Field(
        default_factory=list, max_length=6, description="Beside 'as planned'; at most six."
    )


@dataclass(frozen=True, slots=True)
class _Device:
    """A device as it is written; without a first byte there is no data of that area."""

    name: Prose
    starts: dict[Area, Formula | None]
    sizes: dict[Area, Formula]

    def on_bench(self, values: Mapping[str, Value]) -> DeviceOnBench:
        """The device with the sizes of its data."""
        inputs, outputs = (self._size(area, values) for area in Area)
        return DeviceOnBench(self.name.render(values), inputs, outputs, "poll")

    def placements(self, values: Mapping[str, Value]) -> Iterator[Placement]:
        """Where its data lies."""
        for area, start in self.starts.items():
            if start is not None:
                first = int(start.number(values))
                yield Placement(self.name.render(values), area, first, self._size(area, values))

    def _size(self, area: Area, values: Mapping[str, Value]) -> int:
        return int(self.sizes[area].number(values)) if self.starts[area] else 0


class LineReader:
    """The line of an exercise; for every scenario its data."""

    def __init__(self, fields: LineFields, reader: FieldReader, *path: str | int) -> None:
        self._reader, self._path = reader, path
        self._family = reader.of_family(bench_reading_for)
        self._network = reader.formula("network", *path)
        self._scanner = reader.prose(fields.scanner, *path, "scanner")
        self._devices = [self._device(each, at) for at, each in enumerate(fields.devices)]
        self._conditions = [
            (
                reader.prose(each.text, *path, "conditions", at, "text"),
                reader.formula(each.faults, *path, "conditions", at, "faults"),
            )
            for at, each in enumerate(fields.conditions)
        ]

    def for_scenario(
        self, values: Mapping[str, Value], addresses: Mapping[str, str], texts: Mapping[str, str]
    ) -> LineData:
        """The line; operands have direct addresses, and texts that say what they are."""
        place = self._reader.place(*self._path)
        try:
            devices = [each.on_bench(values) for each in self._devices]
            map_ = self._io_map(values, devices)
            network = self._network.evaluate(values)
            self._must_be_there(network, devices, values)
            scanner = self._scanner.render(values)
            setup = self._family.setup(network, scanner, devices, (0, 0), outputs=True)
            places = {
                area: {
                    name: found
                    for name, address in addresses.items()
                    if (found := _place(map_, area, address)) is not None
                }
                for area in Area
            }
        except PlanError as error:
            raise definition_error(place, str(error)) from error
        conditions: list[Condition] = []
        for at, (text, listed) in enumerate(self._conditions):
            here = self._reader.place(*self._path, "conditions", at, "faults")
            faults = faults_listed(listed, values, self._family, setup, here)
            conditions.append({"text": text.render(values), "has": [*map(to_json, faults)]})
        return {
            "setup": setup.to_json(),
            "devices": [each.name for each in devices],
            "inputs": places[Area.INPUT],
            "outputs": places[Area.OUTPUT],
            "things": _things(places[Area.OUTPUT], texts),
            "conditions": conditions,
        }

    def _device(self, each: LineDeviceFields, at: int) -> _Device:
        path = (*self._path, "devices", at)
        reader = self._reader

        def start(text: str | None, field: str) -> Formula | None:
            return None if text is None else reader.formula(text, *path, field)

        return _Device(
            reader.prose(each.device, *path, "device"),
            {
                Area.INPUT: start(each.inputs_at, "inputs_at"),
                Area.OUTPUT: start(each.outputs_at, "outputs_at"),
            },
            {
                Area.INPUT: reader.formula(each.input_bytes, *path, "input_bytes"),
                Area.OUTPUT: reader.formula(each.output_bytes, *path, "output_bytes"),
            },
        )

    def _io_map(self, values: Mapping[str, Value], devices: Sequence[DeviceOnBench]) -> IoMap:
        placed = tuple(spot for each in self._devices for spot in each.placements(values))
        map_ = IoMap(_HIGHEST_BYTE, _HIGHEST_BYTE, placed)
        due = [DeviceIo(each.name, each.input_bytes, each.output_bytes) for each in devices]
        for rule in map_.check(due):
            if not rule.ok:
                raise PlanError(f"The I/O map of this line: {rule.rule}: {rule.where}.")
        return map_

    def _must_be_there(
        self, network: Value, devices: Sequence[DeviceOnBench], values: Mapping[str, Value]
    ) -> None:
        known = self._family.device_names(network) or []
        scanner: tuple[str | int, ...] = ("scanner",)
        named = [(self._scanner.render(values), scanner)]
        named += [(each.name, ("devices", at, "device")) for at, each in enumerate(devices)]
        for name, at in named:
            if name not in known:
                message = f"There is no device '{name}' in the lab's network."
                place = self._reader.place(*self._path, *at)
                raise definition_error(place, message, nearest(name, known))


def _things(outputs: Mapping[str, Place], texts: Mapping[str, str]) -> dict[str, str]:
    """What hangs at each output: at which device, and which of its bits where nothing is said."""
    devices = [place["device"] for place in outputs.values()]

    def thing(name: str, device: str, byte: int, bit: int) -> str:
        if texts.get(name):
            return f"{texts[name].split(',')[0]} ({device})"
        return device if devices.count(device) == 1 else f"{device}, byte {byte} bit {bit}"

    return {name: thing(name, **place) for name, place in outputs.items()}


def _place(map_: IoMap, area: Area, address: str) -> Place | None:
    """Where a direct address lies in a device's data; None where that is nobody's, or other."""
    found = DirectAddress.from_text(address)
    if found.area is not area:
        return None
    for each in map_.device_bits(found):
        return {"device": each.device, "byte": each.byte, "bit": each.bit}
    return None
