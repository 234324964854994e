"""What somebody measured at one bench, carried over to a bench of another network.

A place has a counterpart where it stands in the same position: at the scanner, half way, last in
line, or by number in between; so do the ports of a joint, supplies and the ends. Whoever
compares what was measured at different networks compares it on one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from labkit.bench.actions import (
    Action,
    FitEarth,
    LiftEarth,
    NotDoneError,
    Plug,
    PowerOff,
    PowerOn,
    Unplug,
)
from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.layout import EARTH, LEFT_END, RIGHT_END, Layout
from labkit.bench.measurements import BusyVolts, Measurement, Ohms, Volts
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal
from labkit.fieldbus.errors import PlanError

Move = dict[str, Any]
"""A measurement as JSON, and how the bench stood:
{"step", "power", "unplugged", "earth_lifted"}."""


def counterparts(own: Setup, other: Setup) -> dict[str, str]:
    """The names of connectors, devices and supplies that are on the other bench, and theirs there.

    Connectors with more to them than a joint and a side (drops that branch) have none.
    """
    one, two = own.layout, other.layout
    found = {LEFT_END: LEFT_END, RIGHT_END: RIGHT_END, EARTH: EARTH}
    found |= _in_line(list(one.devices), list(two.devices), own.scanner, other.scanner)
    supplies = dict(zip(one.supplies, two.supplies, strict=False))
    if len(one.supplies) == len(two.supplies):
        found |= supplies
    ours, theirs = _joints(one), _joints(two)
    joints = _in_line(ours, theirs, *(names[0] if names else "" for names in (ours, theirs)))
    joints |= {f"power tap of {a}": f"power tap of {b}" for a, b in supplies.items() if a in found}
    for connector in one.connectors.values():
        joint = joints.get(connector.socket)
        there = f"{joint}{connector.id.removeprefix(connector.socket)}"
        if joint and there in two.connectors:
            found[connector.id] = there
    return found


def _joints(layout: Layout) -> list[str]:
    """The taps in trunk order."""
    return [tap.name for tap in layout.plan.taps]


def _in_line(ours: list[str], theirs: list[str], first: str, there: str) -> dict[str, str]:
    """Those in the same position: the first, the last, half way, and by number in between."""
    found = {first: there}
    one, two = ([n for n in ours if n != first], [n for n in theirs if n != there])
    if not one or not two:
        return found
    last, other_last = len(one) - 1, len(two) - 1
    for at, name in enumerate(one):
        if at == last:
            found[name] = two[-1]
        elif at == last // 2:
            found[name] = two[other_last // 2]
        elif at < other_last:
            found[name] = two[at]
    return found


def moves_on(bench: Bench, steps: Iterable[object], other: Setup) -> list[Move]:
    """What was measured at a bench, in order until the first repair, as it is on the other bench.

    What has no counterpart there is left out, and so is what was measured again.
    """
    names = counterparts(bench.setup, other)
    faults, found = bench.faults, list[Move]()
    for data in steps:
        try:
            did = bench.setup.catalogue.step_from_json(data)
            if isinstance(did, Action):
                bench = did.do(bench)
        except (NotDoneError, PlanError):
            continue
        if bench.faults != faults:
            break
        if not isinstance(did, Measurement) or _is_refused(did, bench.situation):
            continue
        move = _carried_over(did, bench.situation, names)
        if move and move not in found:
            found.append(move)
    return found


def _is_refused(measurement: Measurement, situation: Situation) -> bool:
    return isinstance(measurement, Ohms) and situation.power


def _carried_over(did: Measurement, now: Situation, names: Mapping[str, str]) -> Move | None:
    try:
        return {
            "step": _renamed(to_json(_in_order(did)), names),
            "power": now.power,
            "unplugged": sorted(names[name] for name in now.unplugged),
            "earth_lifted": now.earth_lifted,
        }
    except KeyError:
        return None


def _in_order(did: Measurement) -> Measurement:
    """The same with the higher terminal against the lower, whichever way the probes were."""
    if not isinstance(did, Ohms | Volts | BusyVolts):
        return did
    return type(did)(*sorted((did.a, did.b), key=lambda at: (-at.number, at.connector, at.socket)))


def _renamed(step: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    """Raises `KeyError` for a place without a counterpart."""
    return {name: _there(name, value, names) for name, value in step.items()}


def _there(field: str, value: Any, names: Mapping[str, str]) -> Any:
    if field == "kind" or not isinstance(value, str):
        return value
    if field in ("a", "b"):
        at = Terminal.from_text(value)
        return Terminal(names[at.connector], at.number, at.socket).text
    return names[value]


def situation_of(move: Move) -> Situation:
    """How the bench stands for a move."""
    return Situation(move["power"], frozenset(move["unplugged"]), move["earth_lifted"])


def switched(before: Situation, now: Situation) -> list[Action]:
    """What is done first for the bench to stand so; plugs with the power off."""
    acts: list[Action] = [Unplug(name) for name in sorted(now.unplugged - before.unplugged)]
    acts += [Plug(name) for name in sorted(before.unplugged - now.unplugged)]
    if before.earth_lifted != now.earth_lifted:
        acts.append(LiftEarth() if now.earth_lifted else FitEarth())
    off: list[Action] = [PowerOff()] if before.power and (acts or not now.power) else []
    on: list[Action] = [PowerOn()] if now.power and (acts or not before.power) else []
    return [*off, *acts, *on]
