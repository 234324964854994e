"""The published rules of a whole DeviceNet plan, and what mends each that is broken.

Lengths, power and terminators after ODVA PUB00027R1 and IEC 62026-3, by `labkit.fieldbus`; that an
address stays free for a new device is common practice, without a source. Each broken rule brings
the mend that takes away it alone: shorter cable, less current. That need not be at hand; it serves
to see what this rule does on the bench, and what the others do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.doors.plans import BrokenRule
from labkit.families.devicenet.whole_plan.made import ENDS, Made, MadeDevice
from labkit.fieldbus.devicenet.addresses import check_addresses
from labkit.fieldbus.devicenet.fullmethod import FullSide, full_calculation
from labkit.fieldbus.devicenet.lengths import (
    MIXED_TRUNK,
    cumulative_drops,
    single_drops,
    trunk_rules,
)
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS, TERMINATOR_RESISTANCE
from labkit.fieldbus.devicenet.reading import joined
from labkit.fieldbus.devicenet.wiring import check_drop_currents, check_supply_rating
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

ADDRESSES: Final = "addresses"
RATE: Final = "rate"
DROPS: Final = "drops"
TRUNK: Final = "trunk"
SUPPLY: Final = "supply"
ENDS_PART: Final = "terminators"
LIST: Final = "scan-list"
INPUTS: Final = "inputs"
OUTPUTS: Final = "outputs"
PARTS: Final = {
    ADDRESSES: "Every device has an address of its own, and none that is to stay free.",
    RATE: "Every device is set to the scanner's data rate.",
    DROPS: "Every drop reaches its device, and none is too long or carries too much.",
    TRUNK: "The trunk is not too long for its cable and the data rate.",
    SUPPLY: "The supply is strong enough, and neither side of it is overloaded.",
    ENDS_PART: "A terminator stands at each end of the trunk and nowhere else.",
    LIST: "The scan list holds every device with its own sizes.",
    INPUTS: "The program reads the bytes of each device where the scanner puts them.",
    OUTPUTS: "Each device gets the bytes that the program writes for it.",
}
"""The parts of a plan, each with its rule: credit counts them."""

_SHORTER: Final = 0.999
"""So that rounding leaves nothing of what was mended."""
_TURNS: Final = 400


@dataclass(frozen=True)
class Broken:
    """A broken rule, why no plan may rely on it where it shows nothing, and its mend.

    `of_line`: it shows only in who hears whom.
    """

    rule: BrokenRule
    margin: str
    mend: Callable[[Made], Made]
    of_line: bool = False

    @property
    def name(self) -> tuple[str, str]:
        """The rule and its place: what stays the same while others are mended."""
        return self.rule.rule, self.rule.place


def broken_in(made: Made) -> list[Broken]:
    """Every rule that is broken, part by part."""
    finders = (
        _addresses, _rates, _drops, _trunk, _supply, _terminators, _scan_list, _inputs, _outputs,
    )  # fmt: skip
    return [found for finder in finders for found in finder(made)]


def mended(made: Made, keep: tuple[str, str] | None = None) -> Made:
    """The same with every broken rule mended, but for `keep`."""
    for _ in range(_TURNS):
        left = [found for found in broken_in(made) if found.name != keep]
        if not left:
            return made
        made = left[0].mend(made)
    raise PlanError("This plan cannot be mended rule by rule.")


def _addresses(made: Made) -> Iterator[Broken]:
    given = [(each.name, each.address) for each in made.devices]
    for problem in check_addresses(given, keep_free=made.keep_free):
        address, names = problem.address, list(problem.devices)
        if problem.kind == "duplicate":
            sentence = (
                f"Node address {address} is given twice: {joined(names)}. Give each device an "
                "address of its own."
            )
            yield Broken(
                BrokenRule(ADDRESSES, "an address of its own", joined(names), sentence),
                "Nobody answered to the second of them here. That is luck of the start.",
                lambda m, names=names: _readdressed(m, names[1:]),  # type: ignore[misc]
            )
        else:
            sentence = (
                f"Node address {address} is to stay free, and {joined(names)} has it. Choose "
                "another: new devices usually come set to it."
            )
            yield Broken(
                BrokenRule(ADDRESSES, "an address that stays free", joined(names), sentence),
                "It shows only when the next new device is plugged in: it comes set to "
                f"{address} too, and one of the two stays off the network.",
                lambda m, names=names: _moved_together(m, names),  # type: ignore[misc]
            )


def _readdressed(made: Made, names: list[str]) -> Made:
    taken = {each.address for each in made.devices} | set(made.keep_free)
    for name in names:
        free = next(at for at in range(HIGHEST_ADDRESS, -1, -1) if at not in taken)
        taken.add(free)
        made = made.with_device(name, address=free)
    return made


def _moved_together(made: Made, names: list[str]) -> Made:
    """To one other address: whether two share it is another rule."""
    to = _readdressed(made, names[:1]).device(names[0]).address
    for name in names:
        made = made.with_device(name, address=to)
    return made


def _rates(made: Made) -> Iterator[Broken]:
    for each in made.asked:
        if each.rate != made.rate:
            sentence = (
                f"{each.name} is set to {each.rate} kbit/s, the scanner to {made.rate} kbit/s. Set "
                "both alike: a bus has one data rate."
            )
            yield Broken(
                BrokenRule(RATE, "one data rate", each.name, sentence),
                "Nothing was heard of it here. On the line it disturbs the others.",
                lambda m, name=each.name: m.with_device(name, rate=m.rate),  # type: ignore[misc]
            )


def _drops(made: Made) -> Iterator[Broken]:
    for each in made.devices:
        if not each.reaches:
            sentence = (
                f"The drop of {each.name} is too short: {each.drop:g} m do not reach it. Take a "
                "longer cable."
            )
            yield Broken(
                BrokenRule(DROPS, "a drop that reaches", each.name, sentence),
                "A device that is not plugged in is missing, whatever else is seen.",
                lambda m, name=each.name: m.with_device(name, reaches=True),  # type: ignore[misc]
            )
    network = made.network
    singles = zip(made.devices, single_drops(network), strict=True)
    long = {each.name: result for each, result in singles if not result.ok}
    if long:
        metres = joined([f"{name} ({result.value:g} m)" for name, result in long.items()])
        most = next(iter(long.values())).limit
        sentence = (
            f"Too long a drop: {metres}. A single drop has at most {most:g} m. Take a shorter "
            "cable, or lead the trunk past the device."
        )
        yield Broken(
            BrokenRule(DROPS, "single drop", joined([*long]), sentence),
            "The signal runs into a drop and back from its open end. How much that disturbs "
            "hangs on all other drops and on the devices: the rule holds for those too that "
            "nobody tried together.",
            lambda m: _with_drops(m, dict.fromkeys(long, most)),
            of_line=True,
        )
    whole = cumulative_drops(network)
    if not whole.ok:
        sentence = (
            f"All drops together are {whole.value:g} m long; at {made.rate} kbit/s at most "
            f"{whole.limit:g} m. Shorten drops, or take a lower data rate."
        )
        yield Broken(
            BrokenRule(DROPS, "all drops together", "all drops", sentence),
            "Every metre of drop loads the line and rounds the edges of its bits. The bench's "
            "cable and devices leave room; the rule keeps that for older and slower ones.",
            lambda m: _with_drops(
                m, {e.name: e.drop * whole.limit / whole.value * _SHORTER for e in m.devices}
            ),
            of_line=True,
        )
    currents = zip(made.devices, check_drop_currents(network), strict=True)
    heavy = {each: result for each, result in currents if not result.ok}
    if heavy:
        figures = [
            f"{each.name} ({result.value:.2f} A, and {each.drop:g} m carry {result.limit:.2f} A)"
            for each, result in heavy.items()
        ]
        shorter = {
            each.name: each.drop * result.limit / result.value * _SHORTER
            for each, result in heavy.items()
        }
        yield Broken(
            BrokenRule(
                DROPS,
                "current of a drop",
                joined([each.name for each in heavy]),
                f"Too much current for the length of a drop: {joined(figures)}. Take a shorter "
                "drop.",
            ),
            "Of the 5.00 V that a conductor may lose, 0.35 V are kept for the drops. This plan "
            "takes more, and here the trunk had it left. The bench works out no heat.",
            lambda m: _with_drops(m, shorter),
        )


def _with_drops(made: Made, metres: Mapping[str, float]) -> Made:
    for name, drop in metres.items():
        made = made.with_device(name, drop=drop)
    return made


def _trunk(made: Made) -> Iterator[Broken]:
    worst = min(trunk_rules(made.network), key=lambda result: result.margin / result.limit)
    if worst.ok:
        return
    weighed = ", thin cable weighed" if worst.rule == MIXED_TRUNK else ""
    sentence = (
        f"The cable system is {worst.value:g} m long {worst.where}{weighed}; at {made.rate} kbit/s "
        f"at most {worst.limit:g} m. Take a lower data rate, or thick cable instead of thin."
    )
    yield Broken(
        BrokenRule(TRUNK, "length of the trunk", "the trunk", sentence),
        "An acknowledge must be back within the same bit. The devices of the bench answer in "
        "400 ns; slower ones, and the tolerance of their clocks, need what this plan used up.",
        lambda m: _shorter_trunk(m, worst.limit / worst.value * _SHORTER),
        of_line=True,
    )


def _shorter_trunk(made: Made, factor: float) -> Made:
    return replace(
        made,
        pieces=tuple((cable, length * factor) for cable, length in made.pieces),
        devices=tuple(replace(each, at=each.at * factor) for each in made.devices),
        supply_at=made.supply_at * factor,
    )


def _supply(made: Made) -> Iterator[Broken]:
    network = made.network
    if any(not result.ok for result in check_supply_rating(network)):
        sentence = (
            f"The devices draw {_drawn(made):.2f} A together, and the supply gives "
            f"{made.rating:g} A. Take a stronger supply."
        )
        yield Broken(
            BrokenRule(SUPPLY, "strong enough", "the supply", sentence),
            "A device may draw less than its plate says. At switching on, and when valves come "
            "on together, it draws that and more.",
            lambda m: replace(m, rating=_drawn(m) + 0.001),
        )
    for side in full_calculation(network).sides:
        failing = [result for result in side.results if not result.ok]
        if failing:
            yield _overloaded(side, failing)


def _drawn(made: Made) -> float:
    """A of all devices together."""
    return math.fsum(each.current for each in made.devices)


def _overloaded(side: FullSide, failing: list[RuleResult]) -> Broken:
    told = joined([_figure(result) for result in failing])
    sentence = (
        f"The trunk to the {side.side} of the supply is overloaded: {told}. Move the supply to the "
        f"{side.side}, or take thick cable there."
    )
    factor = min(result.limit / result.value for result in failing) * _SHORTER
    places = frozenset(row.position for row in side.rows)
    return Broken(
        BrokenRule(SUPPLY, f"load on the {side.side}", f"{side.side} of the supply", sentence),
        "The rule counts with more resistance than new cable has at 20 °C, and leaves 0.35 V for "
        "the drops: warm cable, aged contacts and a lower supply use that up. The bench works out "
        "no heat: an overloaded cable gets hot and can burn.",
        lambda m: replace(
            m,
            devices=tuple(
                replace(e, current=e.current * factor) if e.at in places else e for e in m.devices
            ),
        ),
    )


def _figure(result: RuleResult) -> str:
    if result.unit == "V":
        return f"it loses {result.value:.2f} V a conductor, {result.limit:.2f} V at most"
    return f"it carries {result.value:.2f} A, {result.limit:g} A at most"


def _terminators(made: Made) -> Iterator[Broken]:
    sides = {LEFT_END: "left", RIGHT_END: "right"}
    for end in ENDS:
        if end not in made.terminators:
            yield Broken(
                BrokenRule(
                    ENDS_PART,
                    "a terminator at each end",
                    end,
                    f"No terminator stands at the {sides[end]} end of the trunk. Put one of "
                    f"{TERMINATOR_RESISTANCE:g} Ω there.",
                ),
                "On so short a line, at this data rate, what comes back from the open end is gone "
                "before a bit is read. With more cable, or at a higher rate, it is not.",
                lambda m, end=end: replace(m, terminators=m.terminators | {end}),  # type: ignore[misc]
                of_line=True,
            )
    astray = sorted(made.terminators.difference(ENDS))
    if astray:
        yield Broken(
            BrokenRule(
                ENDS_PART,
                "no terminator elsewhere",
                joined(astray),
                f"A terminator stands on the drop of {joined(astray)}. Take it off: one belongs "
                "at each end of the trunk and nowhere else.",
            ),
            "Every driver works against one resistor more, so that the levels are lower. Here "
            "they still suffice; with more nodes and cable they do not.",
            lambda m: replace(m, terminators=m.terminators.difference(astray)),
            of_line=True,
        )


def _scan_list(made: Made) -> Iterator[Broken]:
    for each in made.asked:
        if not each.listed:
            sentence = (
                f"{each.name} is not in the scan list, so that nobody asks for it. Put it in, with "
                f"{each.produces} input and {each.consumes} output bytes."
            )
            yield Broken(
                BrokenRule(LIST, "in the scan list", each.name, sentence),
                "It is not asked here, whatever else is seen.",
                lambda m, name=each.name: m.with_device(name, listed=True),  # type: ignore[misc]
            )
        elif (each.input_bytes, each.output_bytes) != (each.produces, each.consumes):
            sentence = (
                f"The scan list gives {each.name} {each.input_bytes} input and "
                f"{each.output_bytes} output bytes; the device has {each.produces} and "
                f"{each.consumes}. Write its own sizes."
            )
            yield Broken(
                BrokenRule(LIST, "its own sizes", each.name, sentence),
                "Nobody got so far as to compare the sizes here.",
                _own_sizes(each),
            )


def _own_sizes(device: MadeDevice) -> Callable[[Made], Made]:
    return lambda made: made.with_device(
        device.name, input_bytes=device.produces, output_bytes=device.consumes
    )


def _inputs(made: Made) -> Iterator[Broken]:
    for each in made.asked:
        if each.produces and each.listed and each.inputs_at != each.reads_at:
            others = _overlapped(each, made)
            over = f", over those of {joined(others)}" if others else ""
            sentence = (
                f"The program reads the inputs of {each.name} from byte {each.reads_at} on, and "
                f"the scan list puts them from byte {each.inputs_at} on{over}. Make both alike."
            )
            yield Broken(
                BrokenRule(INPUTS, "its own input bytes", each.name, sentence),
                "Nothing came in from it here, right or wrong.",
                lambda m, name=each.name, at=each.reads_at: m.with_device(name, inputs_at=at),  # type: ignore[misc]
            )


def _overlapped(device: MadeDevice, made: Made) -> list[str]:
    """The others whose inputs lie in the same bytes of the scanner's table."""
    own = _input_bytes(device)
    others = [each for each in made.asked if each.listed and each is not device]
    return [each.name for each in others if own & _input_bytes(each)]


def _input_bytes(device: MadeDevice) -> set[int]:
    return set(range(device.inputs_at, device.inputs_at + device.input_bytes))


def _outputs(made: Made) -> Iterator[Broken]:
    for each in made.asked:
        if each.consumes and each.listed and each.outputs_at != each.program_at:
            sentence = (
                f"The program writes for {each.name} from byte {each.program_at} on, and the scan "
                f"list takes its outputs from byte {each.outputs_at} on. Make both alike."
            )
            yield Broken(
                BrokenRule(OUTPUTS, "its own bytes", each.name, sentence),
                "Nothing came through to it here, right or wrong.",
                lambda m, name=each.name, at=each.program_at: m.with_device(name, outputs_at=at),  # type: ignore[misc]
            )
