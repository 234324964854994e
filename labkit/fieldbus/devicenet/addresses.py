"""Node addresses of a DeviceNet network: what is wrong with a plan of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS

AS_DELIVERED: Final = 63
"""The address new devices usually come with (common practice, no source)."""

Kind = Literal["missing", "out of range", "duplicate", "reserved", "keep free"]


@dataclass(frozen=True, slots=True)
class AddressProblem:
    """One thing wrong: its kind, the devices it names, the address, and a sentence."""

    kind: Kind
    devices: tuple[str, ...]
    address: object
    sentence: str


def check_addresses(
    pairs: Iterable[tuple[str, object]],
    *,
    limit: int = HIGHEST_ADDRESS,
    reserved: Sequence[int] = (),
    keep_free: Sequence[int] = (),
) -> tuple[AddressProblem, ...]:
    """Problems of a plan given as (device name, address) pairs; an empty tuple when it is sound.

    An address is a whole number from 0 to `limit` (63, IEC 62026-3), no two alike. `reserved`
    addresses belong to something else (the scanner's 0); `keep_free` ones are left for a new
    device to come up on (63, as delivered; common practice, no source). An address that is None
    is missing; one of another kind is out of range.
    """
    plan = tuple(pairs)
    problems: list[AddressProblem] = []
    holders: dict[int, list[str]] = {}
    for device, address in plan:
        if address is None:
            sentence = f"{device} has no address; give it one from 0 to {limit}."
            problems.append(AddressProblem("missing", (device,), None, sentence))
        elif not _in_range(address, limit):
            sentence = f"{device} has address {address}; it must be a whole number 0 to {limit}."
            problems.append(AddressProblem("out of range", (device,), address, sentence))
        else:
            assert isinstance(address, int)
            holders.setdefault(address, []).append(device)
    for address, devices in sorted(holders.items()):
        problems.extend(_clashes(address, tuple(devices), reserved, keep_free))
    return tuple(problems)


def _in_range(address: object, limit: int) -> bool:
    return isinstance(address, int) and not isinstance(address, bool) and 0 <= address <= limit


def _clashes(
    address: int, devices: tuple[str, ...], reserved: Sequence[int], keep_free: Sequence[int]
) -> Iterable[AddressProblem]:
    who = _listed(devices)
    have = "has" if len(devices) == 1 else "have"
    if len(devices) > 1:
        sentence = f"{who} have the same address {address}; no two nodes may."
        yield AddressProblem("duplicate", devices, address, sentence)
    if address in reserved:
        sentence = f"{who} {have} address {address}, which is reserved; choose another."
        yield AddressProblem("reserved", devices, address, sentence)
    if address in keep_free:
        sentence = (
            f"{who} {have} address {address}, which is to be kept free for a new device; "
            "choose another."
        )
        yield AddressProblem("keep free", devices, address, sentence)


def _listed(names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"
