"""Names and versions of the files that pass between rooms."""

from __future__ import annotations

from typing import Final

TASK_FORMAT: Final = "labkit task"
TASK_VERSION: Final = 1
TASK_ENDING: Final = ".task.json"

HAND_IN_FORMAT: Final = "labkit hand-in"
HAND_IN_VERSION: Final = 1
HAND_IN_ENDING: Final = ".handin.json"

JOURNAL_ENDING: Final = ".answers.jsonl"
