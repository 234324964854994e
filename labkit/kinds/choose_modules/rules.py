"""The rules of a chassis for a list of signals, each tried on what a trainee chose.

Reserve by line and rounded up, no common for two supplies, mains voltage not beside small signals:
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from labkit.fieldbus.chassis_modules import (
    ModuleType,
    Rails,
    SignalLine,
    all_of_one_supply,
    can_serve,
    drawn_by,
    in_reserve,
    of_kind,
    with_reserve,
    without_loads,
)
from labkit.kinds.choose_modules.data import ChooseModulesAsk, ChooseModulesKey
from labkit.kinds.choose_modules.plan import (
    RAILS,
    Plan,
    Rail,
    catalogue,
    drawn_by_fixed,
    given_by,
    kept_apart,
    kind_text,
    of_rail,
    read_load,
    signal_lines,
    unread_load,
)

_NEAR_MA: Final = 0.5
_NOT_YET: Final = "looked at once every signal has a point."


@dataclass(frozen=True, slots=True)
class Outcome:
    """One rule on one plan: whether it holds, where and why not, and the slip that it shows."""

    rule: str
    sentence: str
    slip: str = ""
    judged: bool = True

    @property
    def ok(self) -> bool:
        return self.judged and not self.slip

    def __str__(self) -> str:
        return f"{'✓' if self.ok else '✗'} **{self.rule}:** {self.sentence}"


def outcomes(ask: ChooseModulesAsk, key: ChooseModulesKey, plan: Plan) -> list[Outcome]:
    """Every rule, in the order in which a plan is worked through.

    Before every signal has a point, an empty chassis would keep most of them: they wait.
    """
    points = _points(ask, plan)
    others = [*_of_signals(ask, plan), *_of_chassis(ask, key, plan), *_of_supply(ask, plan)]
    if not points.ok:
        others = [Outcome(each.rule, _NOT_YET, judged=False) for each in others]
    loads = [_load(ask, plan, rail) for rail in RAILS] if ask["loads"] else []
    return [points, *others, *loads]


def not_needed(ask: ChooseModulesAsk, plan: Plan) -> list[int]:
    """The slots of a right plan whose module could be left out alone."""
    lines = with_reserve(signal_lines(ask), ask["reserve"])
    modules = plan.modules(ask)
    return [
        slot
        for at, slot in enumerate(plan.placed)
        if can_serve([*modules[:at], *modules[at + 1 :]], lines)
    ]


def _points(ask: ChooseModulesAsk, plan: Plan) -> Outcome:
    rule = "A point for every signal"
    lines, modules = signal_lines(ask), plan.modules(ask)
    short = [kind for kind in _kinds(lines) if _has(modules, kind) < _wants(lines, kind)]
    if not short:
        return Outcome(rule, "there is one of its kind for each.")
    told = "; ".join(
        f"{kind_text(ask, kind)}: {_has(modules, kind)} points for {_wants(lines, kind)} signals"
        for kind in short
    )
    if sum(module.points for module in modules) < sum(line.count for line in lines):
        return Outcome(rule, f"{told}.", "points-missing")
    told += ". All points together would do: count them kind by kind."
    return Outcome(rule, told, "points-not-by-kind")


def _of_signals(ask: ChooseModulesAsk, plan: Plan) -> Iterator[Outcome]:
    modules, bare = plan.modules(ask), signal_lines(ask)
    full = with_reserve(bare, ask["reserve"])
    if ask["reserve"]:
        yield _reserve(ask, bare, full, modules)
    # What the reserve lacks is told once: of a kind without it, the signals alone are looked at.
    lines = [
        line
        for kind in _kinds(bare)
        for line in of_kind(kind, full if _has(modules, kind) >= _wants(full, kind) else bare)
    ]
    carried = True
    if any(line.load_ma for line in lines):
        current = _current(ask, lines, modules)
        carried = current.ok
        yield current
    if any(len(_fed_by(lines, kind)) > 1 for kind in _kinds(lines)):
        yield _commons(ask, lines if carried else without_loads(lines), modules)


def _reserve(
    ask: ChooseModulesAsk,
    bare: Sequence[SignalLine],
    full: Sequence[SignalLine],
    modules: Sequence[ModuleType],
) -> Outcome:
    rule = "Reserve"
    short = [kind for kind in _kinds(full) if _has(modules, kind) < _wants(full, kind)]
    if not short:
        return Outcome(rule, f"{ask['reserve']} % of each line, rounded up, stay free.")
    told = "; ".join(
        f"{kind_text(ask, kind)}: {_sum_in_words(bare, kind, ask['reserve'])}, and there are "
        f"{_has(modules, kind)}"
        for kind in short
    )
    down = [replace(line, count=line.count + line.count * ask["reserve"] // 100) for line in bare]
    rounded = all(_has(modules, kind) >= _wants(down, kind) for kind in short)
    if rounded and any(_wants(down, kind) > _wants(bare, kind) for kind in short):
        told += ". A reserve is rounded up, line by line"
        return Outcome(rule, f"{told}.", "reserve-rounded-down")
    return Outcome(rule, f"{told}.", "reserve-forgotten")


def _sum_in_words(bare: Sequence[SignalLine], kind: str, percent: int) -> str:
    lines = of_kind(kind, bare)
    parts = [f"{each.count} + {in_reserve(each.count, percent)}" for each in lines]
    total = _wants(with_reserve(lines, percent), kind)
    return f"{' + '.join(parts)} = {total} points are wanted"


def _current(
    ask: ChooseModulesAsk, lines: Sequence[SignalLine], modules: Sequence[ModuleType]
) -> Outcome:
    rule = "Currents"
    lines = all_of_one_supply(lines)
    over = [
        kind for kind in _kinds(lines) if not can_serve(_with(kind, modules), of_kind(kind, lines))
    ]
    if not over:
        return Outcome(rule, "no point and no module carries more than it may.")
    for kind in over:
        if told := _point_over(ask, kind, of_kind(kind, lines), modules):
            return Outcome(rule, told, "point-overloaded")
    return Outcome(rule, _module_over(ask, over[0], lines, modules), "module-overloaded")


def _point_over(
    ask: ChooseModulesAsk,
    kind: str,
    lines: Sequence[SignalLine],
    modules: Sequence[ModuleType],
) -> str:
    """Of the loads from the heaviest on, the first for which there are points too few."""
    for load in sorted({line.load_ma for line in lines if line.load_ma}, reverse=True):
        wanted = sum(line.count for line in lines if line.load_ma >= load)
        able = sum(
            module.points
            for module in _with(kind, modules)
            if module.point_ma is None or module.point_ma >= load
        )
        if able < wanted:
            return (
                f"{kind_text(ask, kind)}: {wanted} points are to carry {load} mA or more, "
                f"and {able} may."
            )
    return ""


def _module_over(
    ask: ChooseModulesAsk,
    kind: str,
    lines: Sequence[SignalLine],
    modules: Sequence[ModuleType],
) -> str:
    own = of_kind(kind, lines)
    total = sum(line.count * line.load_ma for line in own)
    limits = [str(module.module_ma) for module in _with(kind, modules) if module.module_ma]
    return (
        f"{kind_text(ask, kind)}: the points carry {total} mA in all, and all points of your "
        f"modules may carry {' + '.join(limits)} mA. However they are shared out, a point or a "
        "module carries more than it may."
    )


def _commons(
    ask: ChooseModulesAsk, lines: Sequence[SignalLine], modules: Sequence[ModuleType]
) -> Outcome:
    rule = "Commons"
    mixed = next(
        (
            kind
            for kind in _kinds(lines)
            if not can_serve(_with(kind, modules), of_kind(kind, lines))
        ),
        None,
    )
    if mixed is None:
        return Outcome(rule, "each common has one supply alone.")
    fed = "; ".join(
        f"{sum(line.count for line in lines if (line.kind, line.fed_by) == (mixed, by))} points "
        f"are fed by {by}"
        for by in _fed_by(lines, mixed)
    )
    have = ", ".join(
        f"{module.commons} of {module.a_common} points" for module in _with(mixed, modules)
    )
    told = (
        f"{kind_text(ask, mixed)}: {fed}. Your modules have these commons: {have}. "
        "However the points are shared out, a common gets two supplies"
    )
    if not can_serve(_with(mixed, modules), without_loads(of_kind(mixed, lines))):
        return Outcome(rule, f"{told}.", "common-for-two-supplies")
    told += ", or a point or a module carries more than it may"
    return Outcome(rule, f"{told}.", "commons-or-currents")


def _of_chassis(ask: ChooseModulesAsk, key: ChooseModulesKey, plan: Plan) -> Iterator[Outcome]:
    if ask["apart"]:
        yield _side_by_side(ask, plan)
    slots = _slots(ask, plan)
    yield slots
    if ask["smallest"]:
        yield _smallest(key, plan, slots)


def _slots(ask: ChooseModulesAsk, plan: Plan) -> Outcome:
    rule = "Slots"
    if not plan.chassis:
        return Outcome(rule, "no chassis is chosen yet.", "chassis-missing")
    types, free = catalogue(ask), len(ask["fixed"])
    for slot, number in plan.placed.items():
        named = f"slot {slot} ({ask['modules'][number]['type']})"
        end = slot + types[number].slots
        if slot < free:
            told = f"{named} has the {ask['fixed'][slot]['text']} already."
            return Outcome(rule, told, "slot-taken")
        if end > plan.chassis:
            told = f"{named} is beyond the chassis, whose slots are 0 to {plan.chassis - 1}."
            if types[number].slots > 1 and slot < plan.chassis:
                told = f"{named} covers slot {slot + 1} too, and {plan.chassis - 1} is the last."
            return Outcome(rule, told, "beyond-the-chassis")
        if end - 1 > slot and end - 1 in plan.placed:
            told = f"{named} covers slot {slot + 1} too, in which another module stands."
            return Outcome(rule, told, "slot-taken")
    return Outcome(rule, f"all modules stand within the {plan.chassis} slots.")


def _smallest(key: ChooseModulesKey, plan: Plan, slots: Outcome) -> Outcome:
    rule = "Smallest chassis"
    if not slots.ok:
        return Outcome(rule, "looked at once the modules stand in the chassis.", judged=False)
    if plan.chassis <= int(key["example"]["chassis"]):
        return Outcome(rule, "a smaller one does not do.")
    return Outcome(rule, f"it can be done in fewer than {plan.chassis} slots.", "chassis-too-large")


def _side_by_side(ask: ChooseModulesAsk, plan: Plan) -> Outcome:
    rule = "Side by side"
    types, apart = catalogue(ask), kept_apart(ask)
    for (slot, one), (later, other) in pairwise(plan.placed.items()):
        touch = slot + types[one].slots >= later
        if touch and frozenset((types[one].kind, types[other].kind)) in apart:
            told = (
                f"slots {slot} and {later} have {kind_text(ask, types[one].kind)} and "
                f"{kind_text(ask, types[other].kind)} side by side."
            )
            return Outcome(rule, told, "side-by-side")
    return Outcome(rule, "what belongs apart stands apart.")


def _of_supply(ask: ChooseModulesAsk, plan: Plan) -> list[Outcome]:
    rails = list(_rails(ask, plan))
    if not ask["smallest"]:
        return rails
    return [*rails, _smallest_supply(ask, plan, feeds=all(each.ok for each in rails))]


def _smallest_supply(ask: ChooseModulesAsk, plan: Plan, *, feeds: bool) -> Outcome:
    rule = "Smallest supply"
    if not feeds:
        return Outcome(rule, "looked at once the supply feeds all modules.", judged=False)
    total = drawn_by(plan.modules(ask)) + drawn_by_fixed(ask)
    supplies = {each["id"]: each["text"] for each in ask["supplies"]}
    does = next(each for each in supplies if total.within(given_by(ask, each) or Rails()))
    if does == plan.supply:
        return Outcome(rule, "no smaller one feeds your modules.")
    told = f"{supplies[does]} feeds your modules as well."
    return Outcome(rule, told, "supply-too-large")


def _rails(ask: ChooseModulesAsk, plan: Plan) -> Iterator[Outcome]:
    given = given_by(ask, plan.supply)
    total = drawn_by(plan.modules(ask)) + drawn_by_fixed(ask)
    for rail, volts in RAILS.items():
        rule = f"Supply at {volts}"
        if given is None:
            yield Outcome(rule, "no supply of the chassis is chosen yet.", "supply-missing")
            continue
        drawn, most = of_rail(total, rail), of_rail(given, rail)
        told = f"your modules and what stands there already take {drawn} mA of {most} mA."
        if ask["loads"] and not _load(ask, plan, rail).ok:
            # The sum is the trainee's to make, so that it is not told before.
            told = f"the supply gives {most} mA, which is {'enough' if drawn <= most else 'less'}."
        if drawn <= most:
            yield Outcome(rule, told)
            continue
        if all(of_rail(total, each) <= of_rail(given, each) for each in RAILS if each != rail):
            yield Outcome(rule, f"{told} The other rail holds: look at both.", "one-rail-checked")
        else:
            yield Outcome(rule, told, "supply-too-small")


def _load(ask: ChooseModulesAsk, plan: Plan, rail: Rail) -> Outcome:
    rule = f"Load at {RAILS[rail]}"
    typed = plan.loads[rail]
    if not typed:
        return Outcome(rule, "not filled in yet.", "load-missing")
    if problem := unread_load(typed):
        return Outcome(rule, problem, "load-unreadable")
    own, fixed = drawn_by(plan.modules(ask)), drawn_by_fixed(ask)
    given = read_load(typed)

    def near(right: int) -> bool:
        return abs(given - right) <= _NEAR_MA

    if near(of_rail(own + fixed, rail)):
        return Outcome(rule, f"{typed}, as your modules and those that stand there draw.")
    if near(of_rail(own, rail)):
        told = f"{typed} are your modules alone; what stands there already draws, too."
        return Outcome(rule, told, "fixed-forgotten")
    if any(near(of_rail(own + fixed, other)) for other in RAILS if other != rail):
        return Outcome(rule, f"{typed} is the sum of the other rail.", "rails-exchanged")
    told = f"{typed} is not what your modules and those that stand there draw from this rail."
    return Outcome(rule, told, "wrong-sum")


def _kinds(lines: Sequence[SignalLine]) -> list[str]:
    return list(dict.fromkeys(line.kind for line in lines))


def _with(kind: str, modules: Sequence[ModuleType]) -> list[ModuleType]:
    return [module for module in modules if module.kind == kind]


def _has(modules: Sequence[ModuleType], kind: str) -> int:
    return sum(module.points for module in _with(kind, modules))


def _wants(lines: Sequence[SignalLine], kind: str) -> int:
    return sum(line.count for line in of_kind(kind, lines))


def _fed_by(lines: Sequence[SignalLine], kind: str) -> list[str]:
    return list(dict.fromkeys(line.fed_by for line in of_kind(kind, lines)))
