"""The notebook that a trainee works in: prose, the network's picture, one widget an exercise.

Cells are plain dicts after the notebook format 4.5 (nbformat's schema); building them through
nbformat's own constructors validates each cell by JSON Schema, which costs seven times as much.
`tests/workbook` validates what is built here against that schema.
"""

from __future__ import annotations

from typing import Any, Final

from labkit.exchange.formats import WORKBOOK_METADATA
from labkit.exchange.task_file import Task
from labkit.lab.definition import Exercise, Lab, Picture
from labkit.lab.draw import Scenario
from labkit.language.markdown import harmless, plain

_OPENING: Final = """\
# {title}

{summary}

**{trainee}** · {class_title} · about {minutes} minutes · {marks} marks

{mode}"""

_PRACTICE: Final = "*Practice*: every answer is checked at once, and hints are there when you ask."
_ASSESSED: Final = "*Assessed*: your answers are recorded; they are marked after you hand in."

_SET_UP: Final = """\
# This sets the questions up. There is nothing to change here.
try:
    from labkit.station import open_workbook
except ImportError:
    raise SystemExit("labkit is not installed here: ask your instructor to set this laptop up.")
workbook = open_workbook({task_file!r})
workbook.welcome()"""


def notebook_data(scenario: Scenario, task: Task, *, task_file: str) -> dict[str, Any]:
    """The notebook of one workbook, ready to be written as JSON. `task` is its task's data."""
    lab = scenario.lab
    cells = [
        _markdown("opening", _opening(lab, task)),
        _code("set-up", _SET_UP.format(task_file=task_file)),
    ]
    for index, part in enumerate(lab.body):
        if isinstance(part, Picture):
            cells.append(_code(f"picture-{index}", "# Your network.\nworkbook.picture()"))
        elif isinstance(part, Exercise):
            source = f"# Question '{part.id}'.\nworkbook.exercise({part.id!r})"
            cells.append(_code(f"exercise-{index}", source))
        else:
            cells.append(_markdown(f"text-{index}", harmless(part.render(scenario.names))))
    cells.append(_code("hand-in", "# Hand in.\nworkbook.hand_in_panel()"))
    return {
        "cells": cells,
        "metadata": {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
            WORKBOOK_METADATA: {"workbook": task["workbook"], "start": True},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }


def _opening(lab: Lab, task: Task) -> str:
    return _OPENING.format(
        title=harmless(lab.title) + _attempt(task),
        summary=harmless(lab.summary.strip()),
        trainee=plain(task["trainee"]["name"]),
        class_title=plain(task["class"]["title"]),
        minutes=lab.minutes,
        marks=f"{lab.marks:g}",
        mode=_PRACTICE if task["practice"] else _ASSESSED,
    )


def _attempt(task: Task) -> str:
    attempt = task.get("attempt", 1)
    return f", attempt {attempt}" if attempt > 1 else ""


def _markdown(name: str, source: str) -> dict[str, Any]:
    return {
        "cell_type": "markdown",
        "id": name,
        "metadata": {"editable": False, "deletable": False},
        "source": source,
    }


def _code(name: str, source: str) -> dict[str, Any]:
    return {
        "cell_type": "code",
        "id": name,
        "metadata": {
            "editable": False,
            "deletable": False,
            "jupyter": {"source_hidden": True},
        },
        "execution_count": None,
        "outputs": [],
        "source": source,
    }
