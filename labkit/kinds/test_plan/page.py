"""The page of the kind `test_plan`: steps, in each of which outputs, or inputs, are ticked."""

from __future__ import annotations

from typing import Any, ClassVar

from labkit.doors.page import ExercisePage
from labkit.kinds.test_plan.data import TestPlanAsk
from labkit.kinds.test_plan.judging import rules_in_words
from labkit.kinds.test_plan.words import words_of
from labkit.language.markdown import to_html


class TestPlanPage(ExercisePage):
    """A test to plan."""

    script: ClassVar[str] = "test_plan.js"
    ask: TestPlanAsk

    def view(self) -> dict[str, Any]:
        """The caution as HTML, what the machine asks, and what is to be ticked."""
        words = words_of(self.ask)
        return {
            "caution": to_html(words.caution),
            "rules": rules_in_words(self.ask),
            "caption": f"{words.caption} Steps without a tick count for nothing.",
        }
