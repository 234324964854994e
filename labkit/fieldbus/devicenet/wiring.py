"""Terminators, supplies and drop currents of a plan: the rules beside lengths and voltages."""

import math
from collections.abc import Iterator

from labkit.fieldbus.devicenet.cable import MANUAL, cable_type
from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS, TERMINATOR_RESISTANCE, Supply
from labkit.fieldbus.devicenet.sections import sections_of
from labkit.fieldbus.devicenet.solution import DropCurrent, drop_current_result
from labkit.fieldbus.result import RuleResult

TERMINATOR_TOLERANCE = 0.01
"""A terminator is 121 ohm, 1 % (ODVA PUB00027R1)."""
COMMON_PRACTICE = "common practice, no source"


def check_terminators(network: Network) -> tuple[RuleResult, ...]:
    """A terminator of 121 ohm, 1 %, at both ends of the trunk and nowhere else."""
    terminators = network.terminators or ()
    ends = (0.0, network.trunk_length)
    results = []
    for end, side in zip(ends, ("left", "right"), strict=True):
        count = sum(abs(t.position - end) <= TOLERANCE for t in terminators)
        for at_least in (True, False):
            rule = "terminator missing at the end" if at_least else "terminators doubled at the end"
            where = f"{side} end of the trunk, {end:g} m"
            results.append(RuleResult(rule, count, 1, "pcs", where, MANUAL, at_least))
    astray = [t for t in terminators if all(abs(t.position - end) > TOLERANCE for end in ends)]
    where = ", ".join(f"{t.position:g} m" for t in astray) or "between the ends"
    results.append(RuleResult("terminators elsewhere", len(astray), 0, "pcs", where, MANUAL))
    for terminator in terminators:
        results.append(
            RuleResult(
                "terminator's resistance off 121 Ω",
                abs(terminator.resistance - TERMINATOR_RESISTANCE),
                TERMINATOR_TOLERANCE * TERMINATOR_RESISTANCE,
                "Ω",
                f"terminator at {terminator.position:g} m",
                MANUAL,
            )
        )
    return tuple(results)


def check_drop_currents(network: Network) -> tuple[RuleResult, ...]:
    """Each single drop's current at 24 V against 4.57 / L and 3 A, in trunk order."""
    return tuple(
        drop_current_result(DropCurrent(tap.name, drop.reach, drop.nominal_current))
        for tap in network.taps
        for drop in tap.cable_drops
    )


def check_supplies(network: Network) -> tuple[RuleResult, ...]:
    """Every loaded section has a supply; polarity; diodes where several feed one section; fuses.

    A power tap's fuse may not be larger than the trunk cable beside it carries. Many national
    rules limit a Class 2 circuit to 4 A: the local code goes before this check.
    """
    return tuple(_supply_rules(network))


def check_supply_rating(network: Network) -> tuple[RuleResult, ...]:
    """The rating of the only supply, where it is said, against the currents of all devices."""
    rating = network.supply.rating
    if rating is None:
        return ()
    drawn = round(math.fsum(device.nominal_current for device in network.devices), 9)
    return (
        RuleResult("supply rating", rating, drawn, "A", "supply", "rating plate", at_least=True),
    )


def check_node_count(network: Network) -> RuleResult:
    """Nodes against the 64 addresses that exist (IEC 62026-3)."""
    return RuleResult(
        "number of nodes",
        len(network.devices),
        HIGHEST_ADDRESS + 1,
        "nodes",
        "the whole network",
        "IEC 62026-3",
    )


def _supply_rules(network: Network) -> Iterator[RuleResult]:
    for section in sections_of(network):
        if any(tap.drop.all_devices for tap in section.taps):
            count, where = len(section.supplies), section.words
            yield RuleResult("supply of the section", count, 1, "pcs", where, MANUAL, True)
        if len(section.supplies) > 1:
            bare = [s for s in section.supplies if not s.diode]
            where = ", ".join(_named(s) for s in bare) or section.words
            rule = "supplies in parallel without a diode"
            yield RuleResult(rule, len(bare), 0, "pcs", where, COMMON_PRACTICE)
    swapped = [supply for supply in network.supplies if supply.reversed_polarity]
    where = ", ".join(_named(s) for s in swapped) or "all power taps"
    yield RuleResult("V+ and V− swapped", len(swapped), 0, "pcs", where, MANUAL)
    for supply in network.supplies:
        yield from _fuse_rules(network, supply)


def _fuse_rules(network: Network, supply: Supply) -> Iterator[RuleResult]:
    beside = network.segments_at(supply.position)
    for side, fuse, segment in (
        ("left", supply.fuse_left, beside[0]),
        ("right", supply.fuse_right, beside[-1]),
    ):
        cable = cable_type(segment.cable)
        if fuse and cable.max_trunk_current is not None:
            yield RuleResult(
                "fuse for the cable behind it",
                fuse,
                cable.max_trunk_current,
                "A",
                f"{side} fuse of {_named(supply)}, {cable.name} cable",
                cable.source_of("max_trunk_current"),
            )


def _named(supply: Supply) -> str:
    return f"{f'supply {supply.name}'.strip()} at {supply.position:g} m"
