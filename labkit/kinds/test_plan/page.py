"""The page of the kind `test_plan`: steps, in each of which outputs are ticked."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.test_plan.data import CAUTION, TestPlanAsk
from labkit.kinds.test_plan.judging import rules_in_words
from labkit.language.markdown import to_html


class TestPlanPage(ExercisePage):
    """A test to plan."""

    script: ClassVar[str] = "test_plan.js"
    ask: TestPlanAsk

    def view(self) -> dict[str, Any]:
        """The caution as HTML, and what the machine asks."""
        return {"caution": to_html(CAUTION), "rules": rules_in_words(self.ask)}
