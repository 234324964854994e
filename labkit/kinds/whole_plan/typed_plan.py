"""A plan as it is typed, read; and written again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from labkit.doors.plans import (
    LEFT_END,
    RIGHT_END,
    DevicePlan,
    FamilyPlans,
    Site,
    SiteDevice,
    WholePlan,
)
from labkit.kinds.whole_plan.data import Answer, DeviceAnswer
from labkit.language.number import NODE_NOUNS, QuantityError, read_whole
from labkit.language.quantity import UNITS, read_quantity

MOST_BYTES: Final = 64
"""More bytes than any entry or start of the exercise's small networks."""


class TypedPlan(NamedTuple):
    """The plan that was read, None unless all of it could be; and what could not."""

    plan: WholePlan | None
    problems: list[str]


def terminator_places(site: Site) -> list[str]:
    """Where terminators may be put: the ends, and at each device."""
    return [LEFT_END, RIGHT_END, *(each.name for each in site.devices)]


def read_plan(site: Site, plans: FamilyPlans, answer: Any) -> TypedPlan:
    """What is typed as a plan, or every field that cannot be read and why."""
    reading = _Reading(site, plans, answer if isinstance(answer, dict) else {})
    plan = reading.plan()
    return TypedPlan(None if reading.problems else plan, reading.problems)


def is_empty(answer: Any) -> bool:
    """Whether nothing at all is filled in."""
    if not isinstance(answer, dict):
        return True
    devices = answer.get("devices")
    rows = (
        [row for row in devices.values() if isinstance(row, dict)]
        if isinstance(devices, dict)
        else []
    )
    fields = [
        answer.get("supply"),
        answer.get("rating"),
        *(e for row in rows for e in row.values()),
    ]
    for name in ("cables", "terminators"):
        given = answer.get(name)
        fields += given if isinstance(given, list) else []
    return not any(isinstance(each, str) and each.strip() for each in fields)


def typed(site: Site, plan: WholePlan) -> Answer:
    """A plan as somebody would type it: what is not asked of a device stays empty."""
    return {
        "cables": list(plan.cables),
        "supply": f"{plan.supply_at:.12g} m",
        "rating": f"{plan.rating:g}",
        "terminators": sorted(plan.terminators),
        "devices": {
            each.name: _typed_device(plan.devices[each.name], each, site) for each in site.devices
        },
    }


def _typed_device(planned: DevicePlan, device: SiteDevice, site: Site) -> DeviceAnswer:
    is_asked = device.name != site.scanner
    return {
        "address": str(planned.address),
        "rate": str(planned.rate),
        "drop": f"{planned.drop:g}",
        "listed": is_asked and planned.listed,
        "inputs": str(planned.input_bytes) if is_asked else "",
        "first_in": str(planned.inputs_at) if is_asked and device.input_bytes else "",
        "outputs": str(planned.output_bytes) if is_asked else "",
        "first": str(planned.outputs_at) if is_asked and device.output_bytes else "",
    }


class _Reading:
    """One answer being read; what cannot be is told in `problems`."""

    def __init__(self, site: Site, plans: FamilyPlans, answer: Mapping[str, Any]) -> None:
        self.site = site
        self.plans = plans
        self.answer = answer
        self.problems: list[str] = []

    def plan(self) -> WholePlan:
        return WholePlan(
            self._cables(),
            self._position(),
            self._chosen(self.answer.get("rating"), self.site.ratings, "the supply, A"),
            self._terminators(),
            {each.name: self._device(each) for each in self.site.devices},
        )

    def _cables(self) -> tuple[str, ...]:
        given = self.answer.get("cables")
        cables = given if isinstance(given, list) else []
        for number, piece in enumerate(self.site.pieces):
            chosen = cables[number] if number < len(cables) else ""
            if chosen not in piece.cables:
                self.problems.append(f"Choose the cable of piece {number + 1} of the trunk.")
        return tuple(map(str, cables[: len(self.site.pieces)]))

    def _position(self) -> float:
        text = self.answer.get("supply")
        try:
            if not isinstance(text, str) or not text.strip():
                raise QuantityError("Write a position in metres from the left end.")
            at = read_quantity(text, UNITS["m"]).to(UNITS["m"])
        except QuantityError as error:
            self.problems.append(f"Place of the supply: {error}")
            return 0.0
        if not 0 <= at <= self.site.length:
            self.problems.append(
                f"Place of the supply: {at:g} m is not on the trunk, which runs from 0 to "
                f"{self.site.length:g} m."
            )
        return at

    def _terminators(self) -> frozenset[str]:
        given = self.answer.get("terminators")
        places = terminator_places(self.site)
        named = given if isinstance(given, list) else []
        return frozenset(each for each in named if isinstance(each, str) and each in places)

    def _device(self, device: SiteDevice) -> DevicePlan:
        devices = self.answer.get("devices")
        rows = devices if isinstance(devices, dict) else {}
        found = rows.get(device.name)
        row: Mapping[str, Any] = found if isinstance(found, dict) else {}
        addresses = self.plans.addresses
        address = self._whole(row, "address", device, addresses[0], addresses[-1])
        rate = self._chosen(row.get("rate"), self.site.rates, f"{device.name}, data rate")
        drop = self._chosen(row.get("drop"), self.site.drops, f"{device.name}, drop")
        if device.name == self.site.scanner or row.get("listed") is not True:
            return DevicePlan(address, int(rate), drop, listed=False)
        inputs = self._whole(row, "inputs", device, 0, MOST_BYTES)
        outputs = self._whole(row, "outputs", device, 0, MOST_BYTES)
        first = self._whole(row, "first", device, 0, MOST_BYTES) if device.output_bytes else 0
        first_in = self._whole(row, "first_in", device, 0, MOST_BYTES) if device.input_bytes else 0
        return DevicePlan(address, int(rate), drop, True, inputs, outputs, first, first_in)

    def _whole(
        self, row: Mapping[str, Any], field: str, device: SiteDevice, least: int, most: int
    ) -> int:
        words = {
            "address": "node address",
            "inputs": "input bytes",
            "outputs": "output bytes",
            "first": "first output byte",
            "first_in": "first input byte",
        }[field]
        text = row.get(field)
        try:
            if not isinstance(text, str) or not text.strip():
                raise QuantityError("fill it in.")
            number = read_whole(text.strip()[:40], NODE_NOUNS)
        except QuantityError as error:
            self.problems.append(f"{device.name}, {words}: {error}")
            return least
        if not least <= number <= most:
            self.problems.append(f"{device.name}, {words}: {least} to {most}, not {number}.")
            return least
        return number

    def _chosen(self, text: Any, choices: Sequence[float], what: str) -> float:
        for each in choices:
            if isinstance(text, str) and text == f"{each:g}":
                return each
        self.problems.append(f"Choose: {what}.")
        return choices[0]
