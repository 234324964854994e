"""Node addresses of a bus of any family: what is wrong with a plan of them, and how to mend it.

A plan is a list of (device name, address) pairs; None is an address not yet given. Every node has
an address of its own, a whole number of those that its family allows.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from labkit.fieldbus.errors import PlanError

Kind = Literal["missing", "out of range", "duplicate", "reserved", "keep free"]
Reserved = Sequence[int] | Mapping[int, str]
"""Addresses nobody may take, or {address: the one device that may}."""


@dataclass(frozen=True, slots=True)
class AddressProblem:
    """One thing wrong: its kind, the devices it names, the address, and a sentence."""

    kind: Kind
    devices: tuple[str, ...]
    address: object
    sentence: str


@dataclass(frozen=True, slots=True)
class AddressChange:
    """A device that gets another address; `old` as the plan had it."""

    device: str
    old: object
    new: int


@dataclass(frozen=True, slots=True)
class AddressPlan:
    """A sound plan: (device, address) in the order given, and what was changed for it."""

    addresses: tuple[tuple[str, int], ...]
    changes: tuple[AddressChange, ...]


def check_addresses(
    pairs: Iterable[tuple[str, object]],
    allowed: range,
    *,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
) -> tuple[AddressProblem, ...]:
    """Problems of a plan; an empty tuple when it is sound.

    `reserved` addresses belong to something else, or, as a mapping, to the device named there.
    `keep_free` ones are left for a new device to come up on. First come the devices with no usable
    address in plan order, then the clashes by address.
    """
    plan = _plan(pairs)
    problems: list[AddressProblem] = []
    for device, address in plan:
        if address is None:
            sentence = f"No address for {device}; give one {_ends(allowed)}."
            problems.append(AddressProblem("missing", (device,), None, sentence))
        elif not _usable(address, allowed):
            sentence = f"Address {address} of {device} is no whole number {_ends(allowed)}."
            problems.append(AddressProblem("out of range", (device,), address, sentence))
    for address, devices in sorted(_holders(plan, allowed).items()):
        problems.extend(_clashes(address, devices, reserved, keep_free))
    return tuple(problems)


def complete_addresses(
    pairs: Iterable[tuple[str, object]],
    allowed: range,
    *,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
    locked: Collection[str] = (),
) -> AddressPlan:
    """A sound plan with the fewest changes.

    Every device without a usable address must change, and all but one of those who share one; no
    plan has fewer changes, and this one has no more. Of those who share, a `locked` device stays,
    otherwise the first. Free addresses are given from the lowest up, in plan order; a device with
    a reserved address of its own gets that.
    `PlanError` when the free addresses do not suffice or locked devices clash.
    """
    plan = _plan(pairs)
    _require_distinct([device for device, _ in plan])
    staying = _staying(plan, allowed, reserved, keep_free, locked)
    moving = [device for device, _ in plan if device not in staying]
    _require_unlocked(moving, locked)
    given = _given(moving, set(staying.values()), allowed, reserved, keep_free)
    old = dict(plan)
    return AddressPlan(
        addresses=tuple((device, (staying | given)[device]) for device, _ in plan),
        changes=tuple(AddressChange(device, old[device], given[device]) for device in moving),
    )


def _plan(pairs: Iterable[tuple[str, object]]) -> tuple[tuple[str, object], ...]:
    plan = tuple(pairs)
    for pair in plan:
        if not (isinstance(pair, tuple | list) and len(pair) == 2 and isinstance(pair[0], str)):
            raise PlanError(f"An address plan is (device name, address) pairs; found {pair!r}.")
    return plan


def _usable(address: object, allowed: range) -> bool:
    return isinstance(address, int) and not isinstance(address, bool) and address in allowed


def _holders(plan: Sequence[tuple[str, object]], allowed: range) -> dict[int, tuple[str, ...]]:
    """The devices on each usable address, in plan order."""
    holders: dict[int, tuple[str, ...]] = {}
    for device, address in plan:
        if isinstance(address, int) and _usable(address, allowed):
            holders[address] = (*holders.get(address, ()), device)
    return holders


def _clashes(
    address: int, devices: tuple[str, ...], reserved: Reserved, keep_free: Sequence[int]
) -> Iterator[AddressProblem]:
    if len(devices) > 1:
        sentence = f"{_listed(devices)} have the same address {address}; no two nodes may."
        yield AddressProblem("duplicate", devices, address, sentence)
    strangers = tuple(device for device in devices if not _may_take(device, address, reserved))
    if strangers:
        owner = reserved.get(address, "") if isinstance(reserved, Mapping) else ""
        whose = f" for {owner}" if owner else ""
        sentence = f"{_address_of(strangers, address)} is reserved{whose}; choose another."
        yield AddressProblem("reserved", strangers, address, sentence)
    if address in keep_free:
        taken = _address_of(devices, address)
        sentence = f"{taken} is to be kept free; choose another."
        yield AddressProblem("keep free", devices, address, sentence)


def _may_take(device: str, address: int, reserved: Reserved) -> bool:
    if address not in reserved:
        return True
    return isinstance(reserved, Mapping) and reserved[address] == device


def _staying(
    plan: Sequence[tuple[str, object]],
    allowed: range,
    reserved: Reserved,
    keep_free: Sequence[int],
    locked: Collection[str],
) -> dict[str, int]:
    """The device that keeps each address: a locked one, otherwise the first that may."""
    staying: dict[str, int] = {}
    for address, devices in _holders(plan, allowed).items():
        able = [d for d in devices if _may_take(d, address, reserved) and address not in keep_free]
        if able:
            staying[next((d for d in able if d in locked), able[0])] = address
    return staying


def _require_distinct(devices: Sequence[str]) -> None:
    for device in devices:
        if devices.count(device) > 1:
            raise PlanError(f"Two devices are called {device!r}; rename one of them.")


def _require_unlocked(moving: Sequence[str], locked: Collection[str]) -> None:
    stuck = [device for device in moving if device in locked]
    if stuck:
        raise PlanError(
            f"{_listed(stuck)} may not change address but cannot keep what the plan gives; "
            "unlock it, or free its address."
        )


def _given(
    moving: Sequence[str],
    taken: set[int],
    allowed: range,
    reserved: Reserved,
    keep_free: Sequence[int],
) -> dict[str, int]:
    """A free address for each moving device: its own reserved one, otherwise the lowest."""
    own = {who: at for at, who in reserved.items()} if isinstance(reserved, Mapping) else {}
    blocked = taken | set(reserved) | set(keep_free)
    free = iter([address for address in allowed if address not in blocked])
    given: dict[str, int] = {}
    for device in moving:
        at = own.get(device)
        usable = at is not None and _usable(at, allowed) and at not in taken and at not in keep_free
        address = at if usable else next(free, None)
        if address is None:
            raise PlanError(
                f"No address {_ends(allowed)} is left for {device}; "
                "free one or take a node out of the plan."
            )
        given[device] = address
    return given


def _ends(allowed: range) -> str:
    return f"from {allowed[0]} to {allowed[-1]}"


def _address_of(devices: Sequence[str], address: int) -> str:
    """The subject of a sentence that fits "gate" and "gap sensors" alike."""
    return f"Address {address} of {_listed(devices)}"


def _listed(names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"
