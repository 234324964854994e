"""The page of the kind `whole_plan`: a plan to fill in and, in practice, to build and switch on.

Beyond an answer the page sends {"do": "try", "token", "plan"} in practice. What is seen of that
plan on the bench comes back as {"token", "tried"}; it leaves no trace in the journal. The bench is
built from the plan and from what it is made for alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, ClassVar

from labkit.doors.page import NotPlayedError, PlayedPage
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.of_family import family_of
from labkit.kinds.whole_plan.check import WholePlanCheck, family_plans, site_of
from labkit.kinds.whole_plan.data import WholePlanAsk
from labkit.kinds.whole_plan.typed_plan import read_plan, terminator_places


class WholePlanPage(PlayedPage):
    """A whole small network."""

    script: ClassVar[str] = "whole_plan.js"
    ask: WholePlanAsk

    def view(self) -> dict[str, Any]:
        """Where terminators may be put, and the length of the trunk."""
        site = site_of(self.ask)
        return {"terminators": terminator_places(site), "length": site.length}

    @staticmethod
    def played(
        asked: Mapping[str, Any],
        known: Mapping[str, Any] | None = None,  # noqa: ARG004
    ) -> dict[str, Any]:
        """What is seen of a plan: {"problem"}, or all of `labkit.doors.plans.SwitchedOn`."""
        ask: WholePlanAsk = asked["ask"]
        if problem := WholePlanCheck().unreadable(ask, asked["plan"]):
            return {"problem": problem}
        site, plans = site_of(ask), family_plans(family_of(ask))
        plan = read_plan(site, plans, asked["plan"]).plan
        if plan is None:
            return {"problem": "The plan cannot be read."}
        try:
            return {"problem": "", **asdict(plans.switched_on(site, plan))}
        except PlanError as error:
            return {"problem": f"This plan cannot be built: {error}"}

    def try_out(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """The plan of a message, built and switched on."""
        asked = {"ask": self.ask, "plan": message.get("plan")}
        if self.play is None:
            return self.played(asked)
        try:
            return self.play(asked, rarely=True)
        except NotPlayedError as error:
            return {"problem": str(error)}
