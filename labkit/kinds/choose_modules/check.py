"""Modules for a list of signals: chosen, placed and added up; rule by rule."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from labkit.doors.check import BlindGuess
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.choose_modules.data import CAUTION, Answer, ChooseModulesAsk, ChooseModulesKey
from labkit.kinds.choose_modules.paper import by_field, form, task
from labkit.kinds.choose_modules.plan import (
    RAILS,
    Plan,
    points_of,
    read_plan,
    unread_load,
    with_loads,
)
from labkit.kinds.choose_modules.rules import Outcome, not_needed, outcomes
from labkit.kinds.choose_modules.spoilt import spoilt_plans
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake

_UNREAD = "This plan cannot be read: open the page anew."
_NOTHING = "No module is chosen yet."


A_RULE: Final = 0.25
"""The share of the marks that each rule takes away that does not hold."""


class ChooseModulesCheck:
    """Nobody signs for half a chassis: a few broken rules take all marks.

    Before every signal has a point there are none.
    """

    def unreadable(self, ask: ChooseModulesAsk, answer: Any) -> str:
        """Nothing chosen, or something that is not there to choose."""
        if not isinstance(answer, dict):
            return _NOTHING
        plan = read_plan(ask, answer)
        if plan is None:
            return _UNREAD
        return "" if plan.placed else _NOTHING

    def asks_back(self, ask: ChooseModulesAsk, answer: Any) -> list[str]:
        """Each load that cannot be read, and why."""
        plan = read_plan(ask, answer)
        if plan is None or not ask["loads"]:
            return []
        problems = {rail: unread_load(plan.loads[rail]) for rail in RAILS}
        return [f"Load at {RAILS[rail]}: {told}" for rail, told in problems.items() if told]

    def check(self, ask: ChooseModulesAsk, key: ChooseModulesKey, answer: Any) -> Verdict:
        """Rule by rule: it holds, or where it does not and why."""
        plan = read_plan(ask, answer)
        if plan is None or not plan.placed:
            return unreadable(self.unreadable(ask, answer))
        tried = outcomes(ask, key, plan)
        wrong = [outcome for outcome in tried if not outcome.ok]
        if not wrong:
            return Verdict(1.0, _right(ask, plan, len(tried)))
        broken = [outcome for outcome in wrong if outcome.judged]
        holding = [outcome for outcome in tried if outcome.ok]
        message = "\n".join([*map(str, broken), *_waiting(wrong), *map(str, holding)])
        share = max(0.0, 1 - A_RULE * len(broken)) if tried[0].ok else 0.0
        return Verdict(share, message, broken[0].slip)

    def shown(self, ask: ChooseModulesAsk, answer: Any) -> str:
        """The chassis and its supply, slot by slot the modules, then the sums."""
        plan = read_plan(ask, answer)
        if plan is None or not plan.placed:
            return ""
        slots = (f"{slot}: {ask['modules'][at]['type']}" for slot, at in plan.placed.items())
        size = f"{plan.chassis} slots" if plan.chassis else "no chassis"
        supply = next((e["text"] for e in ask["supplies"] if e["id"] == plan.supply), "no supply")
        sums = [f"{RAILS[rail]}: {plan.loads[rail] or '–'}" for rail in RAILS if ask["loads"]]
        return "; ".join([size, supply, *slots, *sums])

    def right_answer(self, ask: ChooseModulesAsk, key: ChooseModulesKey) -> Answer:  # noqa: ARG002
        """The plan of our own search."""
        return key["example"]

    def slip_answers(self, ask: ChooseModulesAsk, key: ChooseModulesKey) -> dict[str, Answer]:
        """Plans to which one of the rules was not known, and a right one spoilt."""
        answers: dict[str, Answer] = {}
        for answer in spoilt_plans(ask, key):
            verdict = self.check(ask, key, answer)
            if verdict.slip and not verdict.right:
                answers.setdefault(verdict.slip, answer)
        return answers

    def guesses(self, ask: ChooseModulesAsk) -> list[BlindGuess]:
        """One of each kind, the one with the most points, in the largest of all."""
        largest = {
            each["point"]: each["id"] for each in sorted(ask["modules"], key=lambda e: e["count"])
        }
        slots = {
            str(slot): module for slot, module in enumerate(largest.values(), len(ask["fixed"]))
        }
        answer: Answer = {
            "chassis": str(max(ask["chassis"])),
            "supply": ask["supplies"][-1]["id"],
            "slots": slots,
            "at_5": "",
            "at_24": "",
        }
        way = "one module of each kind, with the most points, in the largest chassis"
        return [BlindGuess(way, with_loads(ask, answer) if ask["loads"] else answer)]

    def caution(self, ask: ChooseModulesAsk) -> str:
        """The usual one, where a point may carry mains voltage."""
        return CAUTION if any(each["mains"] for each in ask["points"]) else ""

    def solved(self, ask: ChooseModulesAsk, key: ChooseModulesKey) -> str:
        """The own plan as Markdown."""
        example = key["example"]
        modules = {each["id"]: each for each in ask["modules"]}
        slots = [
            f"- Slot {slot}: {modules[name]['type']}, {points_of(modules[name], ask)}"
            for slot, name in example["slots"].items()
        ]
        supply = next(e["text"] for e in ask["supplies"] if e["id"] == example["supply"])
        sums = [f"- {RAILS[rail]}: {example[rail]}" for rail in RAILS if ask["loads"]]
        return "\n".join([f"- {example['chassis']} slots, {supply}", *slots, *sums])

    def paper(self, ask: ChooseModulesAsk) -> str:
        """The list, the catalogue, and the slots to write into."""
        return paper.caution(self.caution(ask)) + task(ask) + form(ask, None)

    def paper_right(self, ask: ChooseModulesAsk, key: ChooseModulesKey) -> str:
        """The own plan on that form."""
        return form(ask, key["example"])

    def paper_slips(self, ask: ChooseModulesAsk, key: ChooseModulesKey) -> list[Mistake]:
        """Each broken rule, with as much of a plan that breaks it as differs from ours."""
        right = by_field(ask, key["example"])
        found = []
        for slip, answer in self.slip_answers(ask, key).items():
            given = by_field(ask, answer)
            changed = [f"{name}: {given[name]}" for name in given if given[name] != right[name]]
            told = "\n".join(map(str, _broken(ask, key, answer)))
            found.append(Mistake(slip, paper.some_of(changed), told))
        return found

    def paper_for_marking(self, ask: ChooseModulesAsk, key: ChooseModulesKey, marks: float) -> str:
        """The rules, and what each takes away."""
        first, *others = (outcome.rule for outcome in _tried(ask, key, key["example"]))
        return paper.note(
            f"Many plans are right. “{first}” does not hold: no marks. Each other rule that does "
            f"not hold takes away {paper.marks_in_words(A_RULE * marks)}, down to none: "
            f"{', '.join(others)}."
        )


def _tried(ask: ChooseModulesAsk, key: ChooseModulesKey, answer: Answer) -> list[Outcome]:
    plan = read_plan(ask, answer)
    return outcomes(ask, key, plan) if plan else []


def _broken(ask: ChooseModulesAsk, key: ChooseModulesKey, answer: Answer) -> list[Outcome]:
    return [each for each in _tried(ask, key, answer) if not each.ok and each.judged]


def _waiting(wrong: Iterable[Outcome]) -> list[str]:
    """A line for each reason why rules are not looked at yet."""
    rules: dict[str, list[str]] = {}
    for each in wrong:
        if not each.judged:
            rules.setdefault(each.sentence, []).append(each.rule)
    return [f"– **{', '.join(names)}:** {why}" for why, names in rules.items()]


def _right(ask: ChooseModulesAsk, plan: Plan, rules: int) -> str:
    """All rules hold; what does not serve is advice."""
    told = f"Right: all {rules} rules hold."
    spare = [f"slot {slot}" for slot in not_needed(ask, plan)]
    if spare:
        each = "it" if len(spare) == 1 else "one of these"
        told += f" Advice: without {each}, every rule would hold as well: {', '.join(spare)}."
    return told
