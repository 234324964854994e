"""Several classes read one after the other, and what they say together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from labkit.classroom.across.persons import Due, Person, due, persons
from labkit.classroom.across.seen import ClassSeen, LabSeen
from labkit.classroom.progress import Progress
from labkit.errors import LabkitError, sentences


@dataclass(frozen=True, slots=True)
class Year:
    """The people of several classes, the certificates that end, the labs class by class.

    `wrong` has the sentences of each class that could not be read, by its name.
    """

    people: tuple[Person, ...]
    due: tuple[Due, ...]
    labs: tuple[LabSeen, ...]
    wrong: dict[str, list[str]]


def read_year(
    names: Sequence[str], read: Callable[[str], ClassSeen], today: date, progress: Progress
) -> Year:
    """What the classes of these names say, each as `read` tells it; one that cannot be is told."""
    found: list[ClassSeen] = []
    wrong: dict[str, list[str]] = {}
    for number, name in enumerate(names, 1):
        try:
            found.append(read(name))
        except (LabkitError, OSError) as error:
            wrong[name] = sentences(error)
        progress(number, len(names))
    people = persons(one for each in found for one in each.people)
    labs = tuple(lab for each in found for lab in each.labs)
    return Year(tuple(people), tuple(due(people, today)), labs, wrong)
