"""Sites and plans for them by chance, from a seed: each plan a right one that is spoilt."""

import random
from collections.abc import Callable, Mapping
from dataclasses import replace

from labkit.doors.plans import (
    LEFT_END,
    RIGHT_END,
    Site,
    SiteDevice,
    SitePiece,
    WholePlan,
)
from labkit.families.devicenet.whole_plan.plans import DeviceNetPlans
from labkit.fieldbus.errors import PlanError

NAMES = ("sensors", "valves", "drive", "labeller", "gate")
DROPS = (1.0, 2.0, 4.0, 6.0, 8.0, 10.0)
Spoil = Callable[[random.Random, Site, WholePlan], WholePlan]


def with_device(plan: WholePlan, name: str, **changes: object) -> WholePlan:
    changed = replace(plan.devices[name], **changes)  # type: ignore[arg-type]
    return replace(plan, devices={**plan.devices, name: changed})


def with_all(plan: WholePlan, **changes: object) -> WholePlan:
    for name in plan.devices:
        plan = with_device(plan, name, **changes)
    return plan


def site_by_chance(rng: random.Random) -> tuple[Site, WholePlan]:
    while True:
        length = rng.choice([40, 60, 90, 90, 140, 220])
        first = round(rng.uniform(0.3, 0.7) * length)
        count = rng.randint(4, 6)
        places = sorted(rng.sample(range(2, length - 1), count))
        names = ("scanner", *NAMES[: count - 1])
        devices, byte, read = [], 0, 0
        for name, at in zip(names, places, strict=True):
            inputs, outputs = (
                (0, 0) if name == "scanner" else (rng.randint(1, 2), rng.randint(0, 2))
            )
            current = rng.choice([0.1, 0.2, 0.4, 0.6, 0.9])
            way = rng.choice([0.5, 1.5, 3.0, 3.5])
            devices.append(SiteDevice(name, at, way, current, inputs, outputs, byte, read))
            byte += outputs
            read += inputs
        site = Site(
            (
                SitePiece(first, ("thick", "thin")),
                SitePiece(length - first, ("thin", "thick")),
            ),
            tuple(devices),
            "scanner",
            (125, 250, 500),
            DROPS,
            (1.0, 2.0, 4.0, 8.0),
            (63,),
        )
        try:
            return site, DeviceNetPlans().good_plan(site)
        except PlanError:
            continue


def _asked(rng: random.Random, site: Site) -> str:
    return rng.choice([each.name for each in site.devices if each.name != site.scanner])


def _rate(rng: random.Random, site: Site, plan: WholePlan) -> WholePlan:
    name = _asked(rng, site)
    others = [rate for rate in site.rates if rate != plan.devices[name].rate]
    return with_device(plan, name, rate=rng.choice(others))


def _doubled(rng: random.Random, site: Site, plan: WholePlan) -> WholePlan:
    one, other = rng.sample([each.name for each in site.devices], 2)
    return with_device(plan, one, address=plan.devices[other].address)


def _crossed(rng: random.Random, site: Site, plan: WholePlan) -> WholePlan:
    moving = [each.name for each in site.devices if each.output_bytes]
    if len(moving) < 2:
        return with_device(plan, _asked(rng, site), outputs_at=7)
    one, other = rng.sample(moving, 2)
    a, b = plan.devices[one].outputs_at, plan.devices[other].outputs_at
    return with_device(with_device(plan, one, outputs_at=b), other, outputs_at=a)


def _crossed_inputs(rng: random.Random, site: Site, plan: WholePlan) -> WholePlan:
    one, other = rng.sample([each.name for each in site.devices if each.input_bytes], 2)
    a, b = plan.devices[one].inputs_at, plan.devices[other].inputs_at
    return with_device(with_device(plan, one, inputs_at=b), other, inputs_at=a)


def _size(rng: random.Random, site: Site, plan: WholePlan) -> WholePlan:
    name = _asked(rng, site)
    return with_device(plan, name, input_bytes=plan.devices[name].input_bytes + 1)


def _one_end(rng: random.Random, _site: Site, plan: WholePlan) -> WholePlan:
    return replace(plan, terminators=plan.terminators - {rng.choice([LEFT_END, RIGHT_END])})


SPOILS: Mapping[str, Spoil] = {
    "rate": _rate,
    "doubled address": _doubled,
    "address kept free": lambda rng, site, plan: with_device(plan, _asked(rng, site), address=63),
    "crossed outputs": _crossed,
    "outputs elsewhere": lambda rng, site, plan: with_device(
        plan, _asked(rng, site), outputs_at=rng.randint(0, 8)
    ),
    "crossed inputs": _crossed_inputs,
    "inputs elsewhere": lambda rng, site, plan: with_device(
        plan, _asked(rng, site), inputs_at=rng.randint(0, 10)
    ),
    "not listed": lambda rng, site, plan: with_device(plan, _asked(rng, site), listed=False),
    "size": _size,
    "short drop": lambda rng, site, plan: with_device(plan, _asked(rng, site), drop=0.25),
    "supply left": lambda _rng, _site, plan: replace(plan, supply_at=0.0),
    "supply right": lambda _rng, site, plan: replace(plan, supply_at=float(site.length)),
    "weak supply": lambda rng, _site, plan: replace(plan, rating=rng.choice([1.0, 2.0])),
}
LINE_SPOILS: Mapping[str, Spoil] = {
    "long drop": lambda rng, site, plan: with_device(
        plan, _asked(rng, site), drop=rng.choice([8.0, 10.0])
    ),
    "long drops": lambda rng, _site, plan: with_all(plan, drop=rng.choice([6.0, 10.0])),
    "faster": lambda _rng, _site, plan: with_all(plan, rate=500),
    "all thin": lambda _rng, _site, plan: replace(plan, cables=("thin", "thin")),
    "one end": _one_end,
    "no ends": lambda _rng, _site, plan: replace(plan, terminators=frozenset()),
    "terminator on a drop": lambda rng, site, plan: replace(
        plan, terminators=plan.terminators | {_asked(rng, site)}
    ),
}
"""What makes waves: the bench takes seconds over a line that is not as the rules want it."""


def wrong_plan(seed: int, *, line: bool = True) -> tuple[Site, WholePlan]:
    """A plan that breaks at least one rule; without `line` none of those that make waves."""
    rng = random.Random(f"whole plan {seed}")
    spoils = {**SPOILS, **(LINE_SPOILS if line else {})}
    while True:
        site, plan = site_by_chance(rng)
        for name in rng.sample(sorted(spoils), rng.choice([1, 1, 2, 2, 3])):
            plan = spoils[name](rng, site, plan)
        if DeviceNetPlans().broken(site, plan):
            return site, plan
