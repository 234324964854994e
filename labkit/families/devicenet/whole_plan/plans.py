"""Whole plans of a DeviceNet network, as its family offers them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product
from typing import Final

from labkit.doors.plans import (
    LEFT_END,
    RIGHT_END,
    BrokenRule,
    DevicePlan,
    Site,
    SiteDevice,
    SwitchedOn,
    WholePlan,
)
from labkit.families.devicenet.whole_plan.made import made_of
from labkit.families.devicenet.whole_plan.rules import PARTS, broken_in
from labkit.families.devicenet.whole_plan.switching_on import switched_on
from labkit.fieldbus.devicenet.cable import CABLES, DATA_RATES
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS
from labkit.fieldbus.devicenet.power import acceptable_supply_positions
from labkit.fieldbus.errors import PlanError


class DeviceNetPlans:
    """See `labkit.doors.plans.FamilyPlans`."""

    addresses: Final = range(HIGHEST_ADDRESS + 1)
    rates: Sequence[int] = DATA_RATES
    cables: Sequence[str] = tuple(
        name for name, cable in CABLES.items() if cable.power_resistance is not None
    )
    parts: Final = PARTS

    def broken(self, site: Site, plan: WholePlan) -> list[BrokenRule]:
        """The rules that a plan breaks. Raises `PlanError` for what nobody could build."""
        return [found.rule for found in broken_in(made_of(site, plan))]

    def switched_on(self, site: Site, plan: WholePlan) -> SwitchedOn:
        """The plan built as it stands, and switched on. Raises `PlanError` likewise."""
        return switched_on(site, plan)

    def good_plan(self, site: Site) -> WholePlan:
        """The fastest that keeps every rule, its supply in the middle of where it may stand."""
        for plan in _candidates(site):
            network = made_of(site, plan).network
            for low, high in acceptable_supply_positions(network):
                placed = replace(plan, supply_at=_between(low, high))
                if not self.broken(site, placed):
                    return placed
        raise PlanError("No plan for this site keeps every rule.")


def _between(low: float, high: float) -> float:
    middle = (low + high) / 2
    tenth = round(middle, 1)
    return tenth if low <= tenth <= high else middle


def _candidates(site: Site) -> Iterator[WholePlan]:
    drops = {
        each.name: min((m for m in site.drops if m >= each.way), default=max(site.drops))
        for each in site.devices
    }
    free = iter(at for at in range(HIGHEST_ADDRESS + 1) if at not in site.keep_free)
    addresses = {each.name: next(free) for each in site.devices}
    total = sum(each.current for each in site.devices)
    rating = min((a for a in site.ratings if a >= total - 1e-9), default=max(site.ratings))
    for rate in sorted(site.rates, reverse=True):
        for cables in product(*(piece.cables for piece in site.pieces)):
            yield WholePlan(
                cables,
                0.0,
                rating,
                frozenset({LEFT_END, RIGHT_END}),
                {
                    each.name: _as_it_is(each, addresses[each.name], rate, drops[each.name])
                    for each in site.devices
                },
            )


def _as_it_is(device: SiteDevice, address: int, rate: int, drop: float) -> DevicePlan:
    return DevicePlan(
        address,
        rate,
        drop,
        True,
        device.input_bytes,
        device.output_bytes,
        device.program_at,
        device.reads_at,
    )
