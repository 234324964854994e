"""Planting errors in the drawing of a line, each so that it breaks its own rule and no other.

Every change is tried on the drawing and kept only when calculation finds exactly one error more,
at a place where its rule is not broken yet: what is said of one place is said once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from types import MappingProxyType
from typing import Final

from labkit.doors.review import CannotPlantError
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network
from labkit.fieldbus.modbus.parts import Derivation, Device, Terminator
from labkit.fieldbus.modbus.review import (
    ADDRESS_RANGE,
    ADDRESS_TWICE,
    BIAS,
    DERIVATION,
    EARTH,
    LOADS,
    TERMINATORS,
    Finding,
    findings,
)
from labkit.fieldbus.modbus.rules import DERIVATION_LIMIT_M, TAP_LIMIT_M, check_loads
from labkit.language.stream import Stream

_CLEARLY: Final = 1.05
"""So far an error goes beyond its limit, that no rounding hides it."""
_LONGEST: Final = 1.6
"""Of the limit: how far a derivation goes beyond it at most."""
_FORBIDDEN: Final = (0, 248, 250, 255)
"""Addresses that can be set and that no device may have (V1.02, 2.2)."""
_HEAVY: Final = (2.0, 4.0, 8.0)
"""Unit loads of an older receiver, or of one that brings resistors of its own (invented)."""
_MOST_TRIED: Final = 60

Way = Callable[[], Network]
"""One change to a drawing."""


@dataclass(frozen=True, slots=True)
class Planter:
    """The rule that an error breaks, and the ways to plant it in a drawing."""

    rule: str
    ways: Callable[[Network], Iterator[Way]]


def plant(network: Network, errors: Sequence[str], stream: Stream) -> Network:
    """The drawing with these errors and no other. Raises `CannotPlantError`."""
    for name in [name for name in PLANTERS if name in errors]:
        network = _planted(network, name, stream)
    return network


def _planted(network: Network, name: str, stream: Stream) -> Network:
    planter = PLANTERS[name]
    before = findings(network)
    candidates = list(planter.ways(network))
    for number in stream.order(len(candidates))[:_MOST_TRIED]:
        try:
            changed = candidates[number]()
        except PlanError:
            continue
        after = findings(changed)
        rules = sorted([*(each.rule for each in before), planter.rule])
        if sorted(each.rule for each in after) == rules and _told_apart(after):
            return changed
    raise CannotPlantError(name)


def _told_apart(found: Sequence[Finding]) -> bool:
    marks = [(each.rule, part) for each in found for part in each.parts]
    return len(set(marks)) == len(marks)


def _on_stubs(network: Network) -> list[str]:
    return [name for name, spot in network.spots.items() if not spot.in_trunk]


def _terminator_on_stub(network: Network) -> Iterator[Way]:
    """A terminator of an end stands at a device on a derivation instead."""
    for each in network.terminators:
        others = tuple(other for other in network.terminators if other is not each)
        if not network.spot(each.at).in_trunk:
            continue
        for name in _on_stubs(network):
            moved = (*others, replace(each, at=name))
            yield partial(replace, network, terminators=moved)


def _third_terminator(network: Network) -> Iterator[Way]:
    ohm = network.terminators[0].ohm if network.terminators else Terminator(0.0).ohm
    ends = (0.0, network.length)
    for name, spot in network.spots.items():
        if spot.in_trunk and any(abs(spot.position - at) < SAME_PLACE_M for at in ends):
            continue
        third = Terminator(name, ohm)
        yield partial(replace, network, terminators=(*network.terminators, third))


def _second_bias(network: Network) -> Iterator[Way]:
    for pair in network.polarizations[:1]:
        at = network.spot(pair.at).position
        for name, spot in network.spots.items():
            if abs(spot.position - at) >= SAME_PLACE_M:
                pairs = (*network.polarizations, replace(pair, at=name))
                yield partial(replace, network, polarizations=pairs)


def _long_derivation(network: Network) -> Iterator[Way]:
    for tap in network.taps:
        stubs = [each for each in tap.derivations if each.length >= SAME_PLACE_M]
        for stub in stubs:
            limit = min(DERIVATION_LIMIT_M, TAP_LIMIT_M / len(stubs))
            for metres in range(int(limit) + 1, int(_LONGEST * limit) + 1):
                if metres >= limit * _CLEARLY:
                    yield partial(_with_length, network, stub, float(metres))


def _with_length(network: Network, changed: Derivation, length: float) -> Network:
    def of(derivation: Derivation) -> Derivation:
        return replace(derivation, length=length) if derivation is changed else derivation

    return _with_derivations(network, of)


def _second_earth(network: Network) -> Iterator[Way]:
    taken = {network.spot(at).position for at in network.earths}
    for name, spot in network.spots.items():
        if spot.position not in taken:
            yield partial(replace, network, earths=(*network.earths, name))


def _address_twice(network: Network) -> Iterator[Way]:
    devices = [device for device in network.devices if device.address is not None]
    for one in devices:
        for other in devices:
            if one is not other:
                yield partial(_with_device, network, one.name, address=other.address)


def _forbidden_address(network: Network) -> Iterator[Way]:
    for device in network.devices:
        if device.address is not None:
            for address in _FORBIDDEN:
                yield partial(_with_device, network, device.name, address=address)


def _many_loads(network: Network) -> Iterator[Way]:
    """Some receivers are heavy ones: as few as it takes, all of one load."""
    names = [device.name for device in network.devices if not device.master]
    for load in _HEAVY:
        for first in range(len(names)):
            changed = network
            for name in (*names[first:], *names[:first]):
                changed = _with_device(changed, name, unit_loads=load)
                result = check_loads(changed)
                if result.value >= result.limit * _CLEARLY:
                    yield partial(_itself, changed)
                    break


def _itself(network: Network) -> Network:
    return network


def _with_device(network: Network, name: str, **changes: object) -> Network:
    def changed(device: Device) -> Device:
        return replace(device, **changes) if device.name == name else device  # type: ignore[arg-type]

    def of(derivation: Derivation) -> Derivation:
        return replace(derivation, devices=tuple(map(changed, derivation.devices)))

    return _with_derivations(network, of)


def _with_derivations(network: Network, of: Callable[[Derivation], Derivation]) -> Network:
    taps = tuple(replace(tap, derivations=tuple(map(of, tap.derivations))) for tap in network.taps)
    return replace(network, taps=taps)


PLANTERS: Final[Mapping[str, Planter]] = MappingProxyType(
    {
        "terminator on a derivation": Planter(TERMINATORS, _terminator_on_stub),
        "three terminators": Planter(TERMINATORS, _third_terminator),
        "two biases": Planter(BIAS, _second_bias),
        "derivation too long": Planter(DERIVATION, _long_derivation),
        "two earths": Planter(EARTH, _second_earth),
        "address twice": Planter(ADDRESS_TWICE, _address_twice),
        "address not allowed": Planter(ADDRESS_RANGE, _forbidden_address),
        "too many unit loads": Planter(LOADS, _many_loads),
    }
)
"""The errors by name, in the order in which they are planted."""
