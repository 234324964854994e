"""Topics that no other lab has: misspelt ones, and an author's own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from labkit.lab.definition import Lab
from labkit.lab.topics import shared_topics
from labkit.language.near import near
from labkit.proofing.findings import Finding, Severity


@dataclass(frozen=True, kw_only=True)
class TopicUnknown(Finding):
    """An exercise's topic is none that labs share."""

    id: ClassVar[str] = "topic-unknown"
    usual: ClassVar[Severity] = Severity.LOOK
    """Practice of a misspelt topic counts apart from all other practice of it."""
    topic: str
    meant: str

    @property
    def of(self) -> str:
        """The topic."""
        return self.topic

    @property
    def sentence(self) -> str:
        """What is not known."""
        return f"'{self.topic}' is none of the topics that labs share."

    @property
    def mend(self) -> str:
        """The topic that is meant, or how one's own may stand."""
        if self.meant:
            return f"Did you mean '{self.meant}'?"
        return (
            f"Known here: {'; '.join(shared_topics())}. A topic of your own may stand: say so "
            "under 'accepted'."
        )


def topic_findings(lab: Lab) -> list[Finding]:
    """A finding for each exercise whose topic is not shared."""
    known = shared_topics()
    return [
        TopicUnknown(
            place=exercise.place_of("topic"),
            exercise=exercise.id,
            topic=exercise.topic,
            meant=near(exercise.topic, known),
        )
        for exercise in lab.exercises
        if exercise.topic and exercise.topic not in known
    ]
