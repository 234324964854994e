"""What a lab announces of itself in its text: its aim, and the labs that come before and after it.

The course's labs say so in paragraphs that begin with `**Aim.**` and `**Before this lab:**`, for
trainees to read; here they are read for whoever chooses labs. A lab without them announces nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import Final

from labkit.lab.definition import Exercise, Lab
from labkit.language.expression import Prose

_UNTIL_BOLD: Final = r"\s*(.*?)(?=\n\s*\n|\*\*|\Z)"
_AIM: Final = re.compile(r"\*\*Aim\.\*\*\s*(.*?)(?=\n\s*\n|\Z)", re.DOTALL)
_BEFORE: Final = re.compile(r"\*\*Before\s+this\s+lab:\*\*" + _UNTIL_BOLD, re.DOTALL)
_AFTER: Final = re.compile(r"\*\*After\s+it:\*\*" + _UNTIL_BOLD, re.DOTALL)
_LAB: Final = re.compile(r"`([a-z0-9][a-z0-9-]*)`")
_BESIDE_A_TITLE: Final = re.compile(r"(?<=\*)\s+\(`[a-z0-9-]+`\)")
_MARKS: Final = re.compile(r"[*`]")


@dataclass(frozen=True, slots=True)
class Announced:
    """The aim and what comes before, as plain words; "" where the text says nothing.

    `earlier` and `later` are the labs that it names there, by their ids.
    """

    aim: str = ""
    before: str = ""
    earlier: tuple[str, ...] = ()
    later: tuple[str, ...] = ()


def announced(lab: Lab) -> Announced:
    """What a lab says of itself; its summary is its aim where no paragraph says so."""
    text = "\n\n".join(part.text for part in _opening(lab))
    aim, before, after = (_found(part, text) for part in (_AIM, _BEFORE, _AFTER))
    return Announced(
        _words(aim) or " ".join(lab.summary.split()),
        _words(before),
        tuple(_LAB.findall(before)),
        tuple(_LAB.findall(after)),
    )


def in_order(labs: Iterable[Lab]) -> list[Lab]:
    """Labs in the order that they name themselves; those that name none by their ids."""
    found = {lab.id: lab for lab in sorted(labs, key=lambda lab: lab.id)}
    order: TopologicalSorter[str] = TopologicalSorter(dict.fromkeys(found, ()))
    for lab in found.values():
        said = announced(lab)
        order.add(lab.id, *(name for name in said.earlier if name in found))
        for name in said.later:
            if name in found:
                order.add(name, lab.id)
    try:
        return [found[name] for name in order.static_order()]
    except CycleError:
        return list(found.values())


def _opening(lab: Lab) -> Iterable[Prose]:
    """The prose before the first exercise."""
    for part in lab.body:
        if isinstance(part, Exercise):
            return
        if isinstance(part, Prose):
            yield part


def _found(part: re.Pattern[str], text: str) -> str:
    found = part.search(text)
    # Drawn numbers say nothing yet.
    return found[1] if found and "{{" not in found[1] else ""


def _words(text: str) -> str:
    return " ".join(_MARKS.sub("", _BESIDE_A_TITLE.sub("", text)).split())
