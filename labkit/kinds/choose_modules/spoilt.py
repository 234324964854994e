"""Plans that somebody makes who overlooks one thing: found as a right one is, by looser rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from labkit.fieldbus.chassis_modules import (
    ModuleType,
    SignalLine,
    all_of_one_supply,
    of_kind,
    with_reserve,
)
from labkit.fieldbus.chassis_search import best_choices, gaps_between
from labkit.kinds.choose_modules.data import Answer, ChooseModulesAsk, ChooseModulesKey
from labkit.kinds.choose_modules.plan import (
    catalogue,
    drawn_by_fixed,
    given_by,
    kept_apart,
    signal_lines,
    with_loads,
    written,
)

_MOST_TRIED: Final = 4


def right_plan(ask: ChooseModulesAsk) -> Answer | None:
    """A plan that keeps every rule, in the smallest chassis that does; None where there is none."""
    types = catalogue(ask)
    lines = with_reserve(signal_lines(ask), ask["reserve"])
    kinds = list(dict.fromkeys(line.kind for line in lines))
    _, gaps = gaps_between(kinds, kept_apart(ask))
    taken = len(ask["fixed"]) + gaps
    for choice in best_choices(types, lines, max(ask["chassis"]) - taken):
        total = choice.rails + drawn_by_fixed(ask)
        for supply in ask["supplies"]:
            given = given_by(ask, supply["id"])
            if given and total.within(given):
                size = min(size for size in ask["chassis"] if size >= taken + choice.slots)
                return written(ask, choice.modules, size, supply["id"])
    return None


def spoilt_plans(ask: ChooseModulesAsk, key: ChooseModulesKey) -> Iterator[Answer]:
    """A right plan with one thing wrong, and plans to which one of the rules was not known."""
    right = key["example"]
    yield from _in_other_places(ask, right)
    yield from _with_other_sums(ask, right)
    yield from _with_less(ask, right)
    yield from _by_points_alone(ask, right)
    for size in ask["chassis"]:
        yield {**right, "chassis": str(size)}
    for supply in ask["supplies"]:
        yield {**right, "supply": supply["id"]}
    yield from _without_a_rule(ask)


def _in_other_places(ask: ChooseModulesAsk, right: Answer) -> Iterator[Answer]:
    """The same modules elsewhere: at the end, where a wide one reaches to, in another order."""
    slots = {int(slot): module for slot, module in right["slots"].items()}
    kinds = {each["id"]: each["point"] for each in ask["modules"]}
    first, last, most = min(slots), max(slots), max(ask["chassis"])
    others = {slot: module for slot, module in slots.items() if slot != last}
    yield {**right, "slots": _texts({**others, most - 1: slots[last]})}
    for wide in (each["id"] for each in ask["modules"] if each["slots"] > 1):
        alike = [slot for slot, module in slots.items() if kinds[module] == kinds[wide]]
        if alike and last + 3 < most:
            # Beside a gap, so that nothing stands side by side but the two.
            left = {slot: module for slot, module in slots.items() if slot != alike[0]}
            crowded = {**left, last + 2: wide, last + 3: slots[alike[0]]}
            yield {**right, "chassis": str(most), "slots": _texts(crowded)}
    for pair in ask["apart"]:
        touching = [module for module in slots.values() if kinds[module] in pair]
        rest = [module for module in slots.values() if kinds[module] not in pair]
        yield {**right, "slots": _texts(dict(enumerate([*touching, *rest], first)))}


def _with_other_sums(ask: ChooseModulesAsk, right: Answer) -> Iterator[Answer]:
    if not ask["loads"]:
        return
    own = with_loads({**ask, "fixed": []}, right)
    yield {**right, "at_5": own["at_5"], "at_24": own["at_24"]}
    yield {**right, "at_5": right["at_24"], "at_24": right["at_5"]}
    yield {**right, "at_5": "1 mA"}
    yield {**right, "at_5": ""}
    yield {**right, "at_5": "much"}


def _with_less(ask: ChooseModulesAsk, right: Answer) -> Iterator[Answer]:
    """Without one module; and with all alike, so that the points are enough but of one kind."""
    yield {**right, "chassis": ""}
    yield {**right, "supply": ""}
    for slot in right["slots"]:
        less = {at: module for at, module in right["slots"].items() if at != slot}
        yield _summed(ask, {**right, "slots": less})
    for module in dict.fromkeys(right["slots"].values()):
        yield _summed(ask, {**right, "slots": dict.fromkeys(right["slots"], module)})


def _by_points_alone(ask: ChooseModulesAsk, right: Answer) -> Iterator[Answer]:
    """One kind with modules of one type, as many as its points need, as if nothing else counted."""
    types = catalogue(ask)
    lines = with_reserve(signal_lines(ask), ask["reserve"])
    numbers = {each["id"]: number for number, each in enumerate(ask["modules"])}
    chosen = [numbers[module] for module in right["slots"].values()]
    for number, module in enumerate(types):
        wants = sum(line.count for line in of_kind(module.kind, lines))
        others = [each for each in chosen if types[each].kind != module.kind]
        alike = [number] * -(-wants // module.points)
        answer = written(ask, [*others, *alike], max(ask["chassis"]), ask["supplies"][-1]["id"])
        if max(map(int, answer["slots"]), default=0) < max(ask["chassis"]):
            yield answer


def _without_a_rule(ask: ChooseModulesAsk) -> Iterator[Answer]:
    types, bare = catalogue(ask), signal_lines(ask)
    full = with_reserve(bare, ask["reserve"])
    down = [replace(line, count=line.count + line.count * ask["reserve"] // 100) for line in bare]
    unlimited = [replace(each, point_ma=None) for each in types]
    loose = [replace(each, module_ma=None) for each in types]
    ways: list[tuple[Sequence[ModuleType], list[SignalLine]]] = [
        (types, bare),
        (types, down),
        (types, all_of_one_supply(full)),
        (unlimited, full),
        (loose, full),
        (types, full),
    ]
    for known, lines in ways:
        yield from _found(ask, known, lines)


def _found(
    ask: ChooseModulesAsk, types: Sequence[ModuleType], lines: Sequence[SignalLine]
) -> Iterator[Answer]:
    """The first plans, in the smallest chassis that takes them, each with every supply."""
    sizes = sorted(ask["chassis"])
    for choice in best_choices(types, lines, sizes[-1] - len(ask["fixed"]))[:_MOST_TRIED]:
        for supply in ask["supplies"]:
            answer = written(ask, choice.modules, sizes[-1], supply["id"])
            need = max(map(int, answer["slots"])) + 2
            size = next((size for size in sizes if size >= need), sizes[-1])
            yield {**answer, "chassis": str(size)}


def _summed(ask: ChooseModulesAsk, answer: Answer) -> Answer:
    return with_loads(ask, answer) if ask["loads"] else answer


def _texts(slots: dict[int, str]) -> dict[str, str]:
    return {str(slot): slots[slot] for slot in sorted(slots)}
