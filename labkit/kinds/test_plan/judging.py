"""What a test plan finds: whether each output follows, and whether two of them are crossed.

Crossed means that each moves what the other should. A step shows it where one of the two is
commanded on and the other is not: then the wrong thing moves. Two that are on together or not at
all in every step move the same, crossed or not. So a plan finds every exchange, of more than two
as well, where no two outputs are commanded alike. Of inputs the same is true: crossed ones show in
a step in which one of the two is on, because the program then gets the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from labkit.fieldbus.errors import PlanError
from labkit.kinds.test_plan.data import Answer, Point, TestPlanAsk
from labkit.kinds.test_plan.words import words_of


def names_of(ask: TestPlanAsk) -> dict[str, str]:
    """What each output is called."""
    return {point["id"]: point["text"] for point in ask["points"]}


def rules_in_words(ask: TestPlanAsk) -> list[str]:
    """What the machine asks, a sentence each."""
    names = names_of(ask)
    found = []
    for point in ask["points"]:
        if point["only_with"]:
            other = names[point["only_with"]]
            found.append(f"The {point['text']} may be on only while the {other} is on.")
        if point["after"]:
            other = names[point["after"]]
            found.append(
                f"The {point['text']} may be on only once the {other} was on in an earlier step."
            )
    found += [
        f"The {names[a]} and the {names[b]} may never be on together." for a, b in ask["apart"]
    ]
    return found


def not_allowed(ask: TestPlanAsk, plan: Answer) -> str:
    """The first thing that the machine does not allow, as a sentence; "" where all is allowed."""
    seen: set[str] = set()
    for number, step in enumerate(plan, 1):
        for told in _broken_in(ask, set(step), seen):
            return f"Step {number} {told}"
        seen.update(step)
    return ""


def never_on(ask: TestPlanAsk, plan: Answer) -> list[str]:
    """The outputs that no step commands on: whether they follow at all is not seen."""
    on = {each for step in plan for each in step}
    return [point["id"] for point in ask["points"] if point["id"] not in on]


def unseen_pairs(ask: TestPlanAsk, plan: Answer) -> list[tuple[str, str]]:
    """The pairs that may be crossed without any step showing it."""
    pairs = combinations([point["id"] for point in ask["points"]], 2)
    return [(a, b) for a, b in pairs if all((a in step) == (b in step) for step in plan)]


def each_as_alone_as_allowed(ask: TestPlanAsk) -> Answer:
    """Each output with no more than it needs, in an order that is allowed. Raises `PlanError`."""
    left = {point["id"]: _needed(ask, point["id"]) for point in ask["points"]}
    plan: Answer = []
    while left:
        seen = {each for step in plan for each in step}
        ready = [one for one, step in left.items() if not [*_broken_in(ask, set(step), seen)]]
        if not ready:
            names = ", ".join(names_of(ask)[one] for one in left)
            raise PlanError(f"no step is allowed in which these are on: {names}.")
        plan.append(left.pop(ready[0]))
    return plan


def _broken_in(ask: TestPlanAsk, on: set[str], seen: set[str]) -> Iterator[str]:
    names, verb = names_of(ask), words_of(ask).verb
    for point in _on(ask, on):
        if point["only_with"] and point["only_with"] not in on:
            yield f"{verb} the {point['text']} on without the {names[point['only_with']]}."
        if point["after"] and point["after"] not in seen:
            yield (
                f"{verb} the {point['text']} on, but no earlier step had the "
                f"{names[point['after']]} on."
            )
    for a, b in ask["apart"]:
        if a in on and b in on:
            yield f"{verb} the {names[a]} and the {names[b]} on together."


def _on(ask: TestPlanAsk, on: Iterable[str]) -> list[Point]:
    return [point for point in ask["points"] if point["id"] in on]


def _needed(ask: TestPlanAsk, one: str) -> list[str]:
    """An output, and all that must be on with it."""
    with_it = {point["id"]: point["only_with"] for point in ask["points"]}
    chain: list[str] = []
    while one and one not in chain:
        chain.append(one)
        one = with_it[one]
    return in_order(ask, chain)


def in_order(ask: TestPlanAsk, step: Sequence[str]) -> list[str]:
    """A step's outputs as the exercise lists them."""
    return [point["id"] for point in _on(ask, step)]
