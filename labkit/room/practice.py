"""What everybody practised in the room: how a topic stands, and the warm-up of the morning.

Worked out of the journals, and kept as long as these do not grow. Nothing of it counts in marks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

from labkit.answering.answering import has_drills
from labkit.answering.topics import Tried, in_words, standings
from labkit.answering.warm_up import Question, WarmUpShown, warm_up, warm_up_shown
from labkit.classroom.class_file import ClassFields
from labkit.classroom.dealt import Dealt
from labkit.classroom.first_answers import FirstAnswers
from labkit.exchange.clock import CLOCK, read_moment
from labkit.lab.needs import needs_of

if TYPE_CHECKING:
    from labkit.room.workbooks import Workbooks


@dataclass(slots=True)
class _OfOne:
    """What is known of one person: by workbook how long its journal was, and what it held."""

    lock: Lock = field(default_factory=Lock)
    tried: dict[str, tuple[int, list[Tried]]] = field(default_factory=dict)


class Practice:
    """What people practised in the workbooks of a room. Several threads may ask."""

    def __init__(self, workbooks: Workbooks, fields: ClassFields) -> None:
        self._workbooks, self._fields = workbooks, fields
        self._first = FirstAnswers(workbooks.scenario_known)
        self._of: defaultdict[str, _OfOne] = defaultdict(_OfOne)

    def line(self, item: Dealt, exercise: str) -> str:
        """How the owner of a workbook stands in the topic of an exercise; "" where it has none."""
        lab = self._workbooks.lab(item.lab)
        topic = next((each.topic for each in lab.exercises if each.id == exercise), "")
        if not topic:
            return ""
        # A trainee waits for it: labs about other things are not looked at.
        of_each = self._tried(item.trainee, about=topic)
        tried = [one for some in of_each.values() for one in some]
        now = standings(tried, self._fields.zone).get(topic)
        return in_words(topic, now) if now else ""

    def warm_up(self, trainee: str, is_open: Callable[[Dealt], bool]) -> WarmUpShown | None:
        """The morning's warm-up of somebody, of the labs that are open to them now.

        None where there was no earlier day, no mistake on it, or none that can be asked again.
        """
        items = [item for item in self._practice(trainee) if is_open(item)]
        if not any(map(self._worked_before_today, items)):
            return None
        of_each = self._tried(trainee)
        tried = {
            item.lab: [
                one
                for one in of_each.get(item.workbook, ())
                if one.right or self._can_be_asked(item, one)
            ]
            for item in items
        }
        now, zone = CLOCK.moment(), self._fields.zone
        found = warm_up(tried, now, zone)
        if found is None:
            return None
        by_lab = {item.lab: item for item in items}
        return warm_up_shown(found, now, zone, lambda one: self._titles(by_lab[one.lab], one))

    def _practice(self, trainee: str) -> list[Dealt]:
        """What somebody works at in practice labs."""
        items = (self._workbooks.items.get((trainee, lab)) for lab in self._fields.labs)
        return [item for item in items if item and self._fields.practice(item.lab)]

    def _worked_before_today(self, item: Dealt) -> bool:
        entries = self._workbooks.entries(item)
        first = read_moment(entries[0].get("at")) if entries else None
        zone, now = self._fields.zone, CLOCK.moment()
        return first is not None and first.astimezone(zone).date() < now.astimezone(zone).date()

    def _tried(self, trainee: str, about: str = "") -> dict[str, list[Tried]]:
        """The first answers in a person's practice workbooks that were begun, by their numbers.

        Of those `about` a topic alone, where one is given.
        """
        items = [item for item in self._workbooks.of(trainee) if self._counts(item, about)]
        one = self._of[trainee]
        with one.lock:
            for item in items:
                self._read(one, item)
            return {item.workbook: one.tried[item.workbook][1] for item in items}

    def _counts(self, item: Dealt, about: str) -> bool:
        if not self._fields.practice(item.lab) or not self._workbooks.size(item):
            return False
        exercises = self._workbooks.lab(item.lab).exercises
        return not about or any(each.topic == about for each in exercises)

    def _read(self, one: _OfOne, item: Dealt) -> None:
        # The size first: what is added meanwhile is read again.
        size = self._workbooks.size(item)
        if one.tried.get(item.workbook, (-1, []))[0] == size:
            return
        entries = self._workbooks.entries(item)
        found = self._first.of(item, self._workbooks.lab(item.lab), entries)
        one.tried[item.workbook] = size, found

    def _can_be_asked(self, item: Dealt, one: Tried) -> bool:
        """Whether an exercise has other numbers.

        A kind may read the network without a name for it, so where there is one it is let pass.
        """
        lab = self._workbooks.lab(item.lab)
        [exercise] = [each for each in lab.exercises if each.id == one.exercise]
        drawn = lab.network is not None or needs_of(lab, exercise.texts).drawn
        return bool(drawn) and has_drills(exercise.kind)

    def _titles(self, item: Dealt, one: Question) -> tuple[str, str]:
        lab, names = self._workbooks.lab(item.lab), self._workbooks.scenario_known(item).names
        [exercise] = [each for each in lab.exercises if each.id == one.exercise]
        return lab.title, exercise.title.render(names)
