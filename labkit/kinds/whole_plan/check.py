"""A whole small plan: checked by the rules, whatever it looks like."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

from labkit.doors.installed import plans_for
from labkit.doors.plans import FamilyPlans, Site
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.of_family import family_of
from labkit.kinds.common.paper import Mistake
from labkit.kinds.whole_plan.data import Answer, WholePlanAsk, WholePlanKey
from labkit.kinds.whole_plan.paper import plan_form, site_table
from labkit.kinds.whole_plan.spoilt import spoilt_plans
from labkit.kinds.whole_plan.typed_plan import is_empty, read_plan, typed

MOST_TOLD: Final = 4
"""Fields that are told of at once, where many are empty."""


@lru_cache(maxsize=8)
def family_plans(family: str) -> FamilyPlans:
    """How a family judges whole plans."""
    return plans_for(family)


class WholePlanCheck:
    """Credit is the share of the plan's parts that keep every rule."""

    def unreadable(self, ask: WholePlanAsk, answer: Any) -> str:
        """A plan that is not whole yet."""
        if is_empty(answer):
            return "The plan is still empty."
        problems = read_plan(site_of(ask), family_plans(family_of(ask)), answer).problems
        more = len(problems) - MOST_TOLD
        rest = [f"And {more} more."] if more > 0 else []
        return "\n".join([*problems[:MOST_TOLD], *rest])

    def check(self, ask: WholePlanAsk, key: WholePlanKey, answer: Any) -> Verdict:  # noqa: ARG002
        """Each broken rule: which, where, and how it is mended."""
        if sentence := self.unreadable(ask, answer):
            return unreadable(sentence)
        site, plans = site_of(ask), family_plans(family_of(ask))
        plan = read_plan(site, plans, answer).plan
        if plan is None:
            return unreadable("The plan cannot be read.")
        broken = plans.broken(site, plan)
        if not broken:
            return Verdict(1.0, "Right: the plan keeps every rule.")
        failing = {each.part for each in broken}
        held = [sentence for part, sentence in plans.parts.items() if part not in failing]
        lines = [each.sentence for each in broken]
        lines += [f"Kept: {' '.join(held)}"] if held else []
        return Verdict(1 - len(failing) / len(plans.parts), "\n".join(lines), broken[0].part)

    def shown(self, ask: WholePlanAsk, answer: Any) -> str:
        """The trunk, the supply, then device by device."""
        plan = read_plan(site_of(ask), family_plans(family_of(ask)), answer).plan
        if plan is None:
            return "" if is_empty(answer) else "a plan that is not whole"
        ends = ", ".join(sorted(plan.terminators)) or "none"
        devices = "; ".join(
            f"{name}: node {each.address}, {each.rate} kbit/s, {each.drop:g} m"
            + (f", {each.input_bytes}/{each.output_bytes} bytes" if each.listed else "")
            for name, each in plan.devices.items()
        )
        return (
            f"{', '.join(plan.cables)}; {plan.rating:g} A at {plan.supply_at:g} m; "
            f"terminators: {ends}; {devices}"
        )

    def right_answer(self, ask: WholePlanAsk, key: WholePlanKey) -> Answer:  # noqa: ARG002
        """The fastest plan that keeps every rule."""
        site = site_of(ask)
        return typed(site, family_plans(family_of(ask)).good_plan(site))

    def slip_answers(self, ask: WholePlanAsk, key: WholePlanKey) -> dict[str, Answer]:
        """A right plan spoilt in each of its parts."""
        answers: dict[str, Answer] = {}
        for answer in spoilt_plans(site_of(ask), self.right_answer(ask, key)):
            verdict = self.check(ask, key, answer)
            if verdict.slip and not verdict.right:
                answers.setdefault(verdict.slip, answer)
        return answers

    def paper(self, ask: WholePlanAsk) -> str:
        """What is there, and a form for the plan."""
        site = site_of(ask)
        return site_table(site) + plan_form(site, None)

    def paper_right(self, ask: WholePlanAsk, key: WholePlanKey) -> str:
        """A right plan in the form."""
        site = site_of(ask)
        return plan_form(site, self.right_answer(ask, key))

    def paper_slips(self, ask: WholePlanAsk, key: WholePlanKey) -> list[Mistake]:
        """Each part with what alone differs."""
        right = _lines(self.right_answer(ask, key))
        found = []
        for slip, answer in self.slip_answers(ask, key).items():
            given = _lines(answer)
            changed = [f"{name}: {text}" for name, text in given.items() if right[name] != text]
            message = self.check(ask, key, answer).message.split("\nKept:")[0]
            found.append(Mistake(slip, paper.some_of(changed), message))
        return found

    def paper_for_marking(self, ask: WholePlanAsk, key: WholePlanKey, marks: float) -> str:  # noqa: ARG002
        """Each part with its share of the marks."""
        parts = family_plans(family_of(ask)).parts
        share = 1 / len(parts)
        return paper.note(
            "Many plans are right; a part keeps all its rules or not:"
        ) + paper.rubric(({"text": text, "marks_share": share} for text in parts.values()), marks)


def site_of(ask: WholePlanAsk) -> Site:
    """What the plan is made for."""
    return Site.from_json(ask["site"])


def _lines(answer: Answer) -> dict[str, str]:
    found = {
        "cables": ", ".join(answer["cables"]),
        "supply": f"{answer['rating']} A at {answer['supply']}",
        "terminators": ", ".join(answer["terminators"]) or "none",
    }
    for name, row in answer["devices"].items():
        listed = f"{row['inputs']}/{row['outputs']} bytes" if row["listed"] else "not listed"
        found[name] = (
            f"node {row['address']}, {row['rate']} kbit/s, drop {row['drop']} m, {listed}, inputs "
            f"from byte {row['first_in']}, outputs from byte {row['first']}"
        )
    return found
