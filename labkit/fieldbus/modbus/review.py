"""Which rules a proposed drawing of a line breaks, where, and how to mend it: by calculation alone.

A finding is one error, though it may show at two places: a terminator on a derivation and the end
that it is missing from; two devices with one address. Sources: MODBUS over Serial Line V1.02, with
its section beside each rule; limits are those of `rules`.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from types import MappingProxyType
from typing import Final

from labkit.fieldbus.modbus.addresses import DEVICE_ADDRESSES, check_addresses
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network
from labkit.fieldbus.modbus.parts import Device, Place, Tap, Terminator
from labkit.fieldbus.modbus.rules import (
    DERIVATION_LIMIT_M,
    LENGTH_LIMIT_M,
    TAP_LIMIT_M,
    check_loads,
)

TERMINATORS: Final = "terminators"
BIAS: Final = "bias"
EARTH: Final = "earth"
DERIVATION: Final = "derivation"
ADDRESS_TWICE: Final = "address-twice"
ADDRESS_RANGE: Final = "address-range"
LOADS: Final = "loads"
TRUNK: Final = "trunk"

LINE: Final = "line"
"""The id of the part that is the whole line."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the drawing that somebody may find fault with: its id, place in m, words.

    A part is a place of the trunk with all that is drawn there, or the whole line, at no place.
    """

    id: str
    position: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One error: the rule, the parts (ids) at which it shows, the figures, and how to mend it."""

    rule: str
    parts: tuple[str, ...]
    told: str
    mend: str


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule in one place.

    `words` may be said of a part; `about` tells where to look for it; `concerns` whether it has
    something to say of a part, `find` what breaks it, and `why` why a part that does not break it
    is right, with its own figures.
    """

    words: str
    about: str
    concerns: Callable[[Network, Part], bool]
    find: Callable[[Network], Iterator[Finding]]
    why: Callable[[Network, Part], str]


def parts_of(network: Network) -> tuple[Part, ...]:
    """The whole line, then every place of it from left to right."""
    line = Part(LINE, None, f"the whole line: {_metres(network.length)} of trunk, all stations")
    return (line, *(_part_at(network, at) for at in _positions(network)))


def findings(network: Network) -> tuple[Finding, ...]:
    """Every error of a drawing, rule by rule."""
    return tuple(found for rule in RULES.values() for found in rule.find(network))


def why_right(network: Network, part: Part, name: str) -> str:
    """Why a part is right by a rule that it does not break: a sentence with its own figures."""
    rule = RULES[name]
    if not rule.concerns(network, part):
        return f"nothing at this place can break the rule that is named: {rule.about}."
    return rule.why(network, part)


def _positions(network: Network) -> list[float]:
    """Where something is drawn: the ends, the taps, and what stands in the trunk between them."""
    marked: list[Place] = [each.at for each in network.terminators]
    marked += [each.at for each in network.polarizations]
    marked += network.earths
    wanted = [0.0, network.length, *(tap.position for tap in network.taps)]
    wanted += [network.spot(at).position for at in marked]
    found: list[float] = []
    for at in sorted(wanted):
        if not found or at - found[-1] >= SAME_PLACE_M:
            found.append(at)
    return found


def _part_id(position: float) -> str:
    return f"at {position:g} m"


def _part_at(network: Network, position: float) -> Part:
    tap = _tap_at(network, position)
    names = [device.name for device in _devices(tap)] if tap else []
    end = " (end of the trunk)" if _is_end(network, position) else ""
    return Part(_part_id(position), position, f"{_metres(position)}{end}, {_listed(names)}")


def _tap_at(network: Network, position: float | None) -> Tap | None:
    if position is None:
        return None
    return next((tap for tap in network.taps if _same(tap.position, position)), None)


def _devices(tap: Tap | None) -> list[Device]:
    return [device for each in tap.derivations for device in each.devices] if tap else []


def _is_end(network: Network, position: float | None) -> bool:
    return position is not None and any(_same(position, at) for at in (0.0, network.length))


def _same(one: float, other: float) -> bool:
    return abs(one - other) < SAME_PLACE_M


def _id_of(network: Network, at: Place) -> str:
    """The part where something stands."""
    position = network.spot(at).position
    return _part_id(next(each for each in _positions(network) if _same(each, position)))


def _is_in(network: Network, at: Place, part: Part) -> bool:
    return _id_of(network, at) == part.id


def _said(at: Place) -> str:
    return f"at the {at}" if isinstance(at, str) else f"at {_metres(at)}"


def _metres(metres: float) -> str:
    return f"{round(metres, 2):.12g} m"


def _listed(words: list[str]) -> str:
    *first, last = words or ["no device"]
    return f"{', '.join(first)} and {last}" if first else last


# Terminators: one at each end of the trunk, none elsewhere (V1.02, 3.4.5).


def _terminators(network: Network) -> Iterator[Finding]:
    """One that strayed is paired with an end that misses one: it is one error."""
    at_ends: dict[float, list[Terminator]] = {0.0: [], network.length: []}
    strays: list[Terminator] = []
    for each in network.terminators:
        spot = network.spot(each.at)
        end = next((at for at in at_ends if spot.in_trunk and _same(at, spot.position)), None)
        if end is None or at_ends[end]:
            strays.append(each)
        else:
            at_ends[end].append(each)
    missing = [at for at, there in at_ends.items() if not there]
    for stray, end in zip_longest(strays, missing):
        yield _terminator_finding(network, stray, end)


def _terminator_finding(network: Network, stray: Terminator | None, end: float | None) -> Finding:
    side = "" if end is None else f"{'left' if end == 0.0 else 'right'} end of the trunk"
    if stray is None and end is not None:
        told = f"the {side} has no terminator."
        return Finding(TERMINATORS, (_id_of(network, end),), told, "fit one there.")
    assert stray is not None
    spot = network.spot(stray.at)
    on = "in the trunk" if spot.in_trunk else "on a derivation"
    here, what = _id_of(network, stray.at), f"stands {on} {_said(stray.at)}"
    if end is None:
        told = f"a terminator too many {what}."
        return Finding(TERMINATORS, (here,), told, "take it off: both ends have theirs.")
    told = f"a terminator {what}, and the {side} has none."
    parts = tuple(dict.fromkeys((here, _id_of(network, end))))
    return Finding(TERMINATORS, parts, told, f"move it to the {side}.")


def _why_terminators(network: Network, part: Part) -> str:
    if _is_end(network, part.position):
        return "one terminator belongs at this end of the trunk, and is there."
    return "no terminator stands here, and none belongs between the ends."


# Bias (polarization): one pair of resistors for the whole line (V1.02, 3.4.6).


def _bias(network: Network) -> Iterator[Finding]:
    pairs = network.polarizations
    if len(pairs) < 2:
        return
    masters = {device.name for device in network.devices if device.master}
    # That at the master is the last to go.
    places = sorted(pairs, key=lambda pair: pair.at in masters)
    told = f"the line is biased {_listed([_said(pair.at) for pair in pairs])}."
    parts = tuple(dict.fromkeys(_id_of(network, pair.at) for pair in places))
    yield Finding(BIAS, parts, told, "keep one, best at the master.")


def _why_bias(network: Network, part: Part) -> str:
    here = any(_is_in(network, pair.at, part) for pair in network.polarizations)
    return "the only bias of the line stands here." if here else "no bias stands here."


# The common is earthed at one point, best at the master (V1.02, 3.4.4).


def _earth(network: Network) -> Iterator[Finding]:
    if not network.earths:
        yield Finding(EARTH, (LINE,), "the common is earthed nowhere.", "earth it at the master.")
        return
    masters = {device.name for device in network.devices if device.master}
    ids = [_id_of(network, at) for at in network.earths if at in masters][:1]
    kept = ids[0] if ids else _id_of(network, network.earths[0])
    strays = [at for at in network.earths if _id_of(network, at) != kept]
    for at in strays:
        told = (
            f"the common is earthed a second time {_said(at)}: a current may flow through it "
            "from one earth to the other."
        )
        yield Finding(EARTH, (_id_of(network, at),), told, "take this earth off.")


def _why_earth(network: Network, part: Part) -> str:
    if part.id == LINE:
        return f"the common is earthed {_said(network.earths[0])}."
    return "the common is earthed here, as it must be at one point."


# Derivations: 20 m, and 40 m shared by those of one tap (V1.02, 3.4.3).


def _derivation(network: Network) -> Iterator[Finding]:
    for tap in network.taps:
        lengths = _stubs(tap)
        if not lengths or max(lengths) <= _stub_limit(lengths):
            continue
        mend = "set the tap nearer to the device, or share the tap with fewer."
        yield Finding(DERIVATION, (_id_of(network, tap.position),), _stub_words(tap), mend)


def _stubs(tap: Tap | None) -> list[float]:
    found = [each.length for each in tap.derivations] if tap else []
    return [length for length in found if length >= SAME_PLACE_M]


def _stub_limit(lengths: list[float]) -> float:
    return min(DERIVATION_LIMIT_M, TAP_LIMIT_M / len(lengths))


def _stub_words(tap: Tap) -> str:
    lengths = _stubs(tap)
    longest, limit = _metres(max(lengths)), _metres(_stub_limit(lengths))
    if len(lengths) == 1:
        return f"its derivation is {longest} long, {limit} are allowed."
    count = f"{len(lengths)} derivations leave this tap"
    return f"{count}; the longest is {longest} long, {limit} are allowed for each."


def _why_derivation(network: Network, part: Part) -> str:
    tap = _tap_at(network, part.position)
    assert tap is not None
    return _stub_words(tap)


# Addresses: each once, 1 to 247 (V1.02, 2.2).


def _address_twice(network: Network) -> Iterator[Finding]:
    for problem in check_addresses(_set_addresses(network)):
        if problem.kind != "duplicate" or problem.address not in DEVICE_ADDRESSES:
            continue
        parts = dict.fromkeys(_id_of(network, device) for device in problem.devices)
        told = f"{_listed([*problem.devices])} have one address, {problem.address}."
        mend = "give each device an address of its own."
        yield Finding(ADDRESS_TWICE, tuple(parts), told, mend)


def _address_range(network: Network) -> Iterator[Finding]:
    for name, address in _set_addresses(network):
        if address in DEVICE_ADDRESSES:
            continue
        why = "speaks to all at once, and nobody answers" if address == 0 else "is reserved"
        told = f"the {name} has address {address}, which {why}."
        mend = "give it one from 1 to 247 that no other has."
        yield Finding(ADDRESS_RANGE, (_id_of(network, name),), told, mend)


def _set_addresses(network: Network) -> list[tuple[str, int]]:
    return [(name, address) for name, address in network.addresses if address is not None]


def _addresses_here(network: Network, part: Part) -> list[str]:
    devices = _devices(_tap_at(network, part.position))
    return [str(device.address) for device in devices if device.address is not None]


def _why_address_twice(network: Network, part: Part) -> str:
    return f"no other device has address {_listed(_addresses_here(network, part))}."


def _why_address_range(network: Network, part: Part) -> str:
    return f"{_listed(_addresses_here(network, part))}: a device may have 1 to 247."


# Of the whole line: unit loads (V1.02, 3.4.1 and 3.4.6), length of the trunk (3.4.3).


def _loads(network: Network) -> Iterator[Finding]:
    if not check_loads(network).ok:
        mend = "take devices of less load, or part the line by a repeater."
        yield Finding(LOADS, (LINE,), _loads_in_words(network), mend)


def _loads_in_words(network: Network) -> str:
    rule = check_loads(network)
    why = " with a bias" if network.polarizations else ""
    return (
        f"all stations, the master too, are {round(rule.value, 3):.12g} unit loads; "
        f"{rule.limit:g} are allowed{why}."
    )


def _why_loads(network: Network, part: Part) -> str:  # noqa: ARG001
    return _loads_in_words(network)


def _trunk(network: Network) -> Iterator[Finding]:
    if network.length > LENGTH_LIMIT_M:
        mend = "shorten it, or part the line by a repeater."
        yield Finding(TRUNK, (LINE,), _trunk_in_words(network), mend)


def _trunk_in_words(network: Network) -> str:
    return f"the trunk is {_metres(network.length)} long, {_metres(LENGTH_LIMIT_M)} are published."


def _why_trunk(network: Network, part: Part) -> str:  # noqa: ARG001
    return _trunk_in_words(network)


def _is_place(network: Network, part: Part) -> bool:  # noqa: ARG001
    return part.position is not None


def _has_bias(network: Network, part: Part) -> bool:
    return any(_is_in(network, pair.at, part) for pair in network.polarizations)


def _has_earth(network: Network, part: Part) -> bool:
    return part.id == LINE or any(_is_in(network, at, part) for at in network.earths)


def _has_stub(network: Network, part: Part) -> bool:
    return bool(_stubs(_tap_at(network, part.position)))


def _has_address(network: Network, part: Part) -> bool:
    return bool(_addresses_here(network, part))


def _is_line(network: Network, part: Part) -> bool:  # noqa: ARG001
    return part.id == LINE


_OF_LINE: Final = "it is about the whole line"
_OF_ADDRESSES: Final = "addresses are set at devices"
RULES: Final[Mapping[str, Rule]] = MappingProxyType(
    {
        TERMINATORS: Rule(
            "terminator where none belongs, or missing",
            "terminators are looked for at the trunk's ends and along it",
            _is_place,
            _terminators,
            _why_terminators,
        ),
        BIAS: Rule(
            "bias (polarization) more than once",
            "it is about where the line is biased",
            _has_bias,
            _bias,
            _why_bias,
        ),
        EARTH: Rule(
            "common earthed a second time, or nowhere",
            "it is about where the common is earthed",
            _has_earth,
            _earth,
            _why_earth,
        ),
        DERIVATION: Rule(
            "derivation too long",
            "it is about derivations",
            _has_stub,
            _derivation,
            _why_derivation,
        ),
        ADDRESS_TWICE: Rule(
            "address there twice", _OF_ADDRESSES, _has_address, _address_twice, _why_address_twice
        ),
        ADDRESS_RANGE: Rule(
            "address that no device may have",
            _OF_ADDRESSES,
            _has_address,
            _address_range,
            _why_address_range,
        ),
        LOADS: Rule("too many unit loads for one line", _OF_LINE, _is_line, _loads, _why_loads),
        TRUNK: Rule("trunk too long", _OF_LINE, _is_line, _trunk, _why_trunk),
    }
)
"""Every rule, in the order in which findings are told."""
