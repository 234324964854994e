"""A right plan spoilt in each of its parts: the known mistakes."""

from __future__ import annotations

from collections.abc import Iterator

from labkit.doors.plans import Site
from labkit.kinds.whole_plan.data import Answer, DeviceAnswer


def spoilt_plans(site: Site, right: Answer) -> Iterator[Answer]:
    """One mistake at a time."""
    asked = [each for each in site.devices if each.name != site.scanner]
    first, *others = asked
    name, scanner = first.name, site.scanner
    yield _with(right, name, {"address": right["devices"][scanner]["address"]})
    rate = right["devices"][scanner]["rate"]
    for each in site.rates:
        if f"{each:g}" != rate:
            yield _with(right, name, {"rate": f"{each:g}"})
            yield _all_at(right, f"{each:g}")
    for metres in site.drops:
        yield _with(right, name, {"drop": f"{metres:g}"})
    yield {**right, "rating": f"{min(site.ratings):g}"}
    for place in ("0 m", f"{site.length:g} m"):
        yield {**right, "supply": place}
    yield {**right, "terminators": right["terminators"][:1]}
    yield _with(right, name, {"listed": False})
    yield _with(right, name, {"inputs": str(first.input_bytes + 1)})
    for device in (first, *others):
        if device.input_bytes:
            byte = str(device.reads_at + device.input_bytes)
            yield _with(right, device.name, {"first_in": byte})
    for device in (first, *others):
        if device.output_bytes:
            byte = str(device.program_at + device.output_bytes)
            yield _with(right, device.name, {"first": byte})


def _with(right: Answer, name: str, changes: dict[str, str | bool]) -> Answer:
    row: DeviceAnswer = {**right["devices"][name], **changes}  # type: ignore[typeddict-item]
    return {**right, "devices": {**right["devices"], name: row}}


def _all_at(right: Answer, rate: str) -> Answer:
    for name in right["devices"]:
        right = _with(right, name, {"rate": rate})
    return right
