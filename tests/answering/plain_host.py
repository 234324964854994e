"""A host without a notebook: exercises of a task file, with messages that are JSON texts."""

from __future__ import annotations

import json
from pathlib import Path

from labkit.answering.answering import Answering
from labkit.answering.own_topics import OwnTopics
from labkit.exchange.journal import OPENED, ExerciseRecord, Journal, records
from labkit.exchange.task_file import journal_path, read_task


class PlainHost:
    """What a host must do, and no more: show, carry messages, keep the records in between."""

    def __init__(self, file: Path) -> None:
        self.task = read_task(file)
        self.journal = Journal(journal_path(file))
        self.journal.append(OPENED, lab=self.task["lab"]["id"])
        self.records = records(self.journal.read().entries)
        self.topics = OwnTopics(self.task, lambda: self.journal.read().entries)

    def exercise(self, name: str) -> Answering:
        """One exercise of the task, as the journal has it."""
        task = next(each for each in self.task["exercises"] if each["id"] == name)
        practice = task.get("practice")
        example = practice.get("example") if practice else None
        draw = str(example["draw"]) if example else ""
        return Answering(
            task,
            journal=self.journal,
            record=self.records.get(name, ExerciseRecord()),
            when_saved=self.records.__setitem__,
            example_picture=self.task.get("example_pictures", {}).get(draw, ""),
            topic=lambda: self.topics.line(name),
        )


def sent(answering: Answering, text: str) -> str:
    """A message of the page and what it hears, both as they travel."""
    return json.dumps(answering.hear(json.loads(text)))
