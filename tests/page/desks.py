"""Desks of the labs that we ship, and messages as pages send them."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

from labkit.exchange.journal import Journal
from labkit.exchange.task_file import Task
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.page.desk import Desk
from labkit.page.sheet import sheet_of
from labkit.workbook import task_data

LABS = {file.parent.name: file for file in (Path(__file__).parents[2] / "labs").glob("*/lab.md")}
SIGNING_KEY = "5ec12e7" * 9 + "5"


@lru_cache
def lab(name: str) -> Lab:
    return read_lab(LABS[name])


@lru_cache
def scenario(name: str) -> Scenario:
    return draw(lab(name), "a desk")


def task(drawn: Scenario, *, practice: bool = True) -> Task:
    """A task as a host holds it."""
    return task_data(
        drawn,
        workbook="w1",
        class_id="c",
        class_title="Autumn class",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=practice,
        deadline=None,
        signing_key=SIGNING_KEY,
        hosted=True,
    )


def desk_of(
    drawn: Scenario,
    folder: Path,
    *,
    practice: bool = True,
    drills: bool = True,
    why_shut: Callable[[], str] = str,
    why_waits: Callable[[], str] = str,
) -> Desk:
    """A new desk, or the same after a restart."""
    made = task(drawn, practice=practice)
    known = drawn.lab if drills else None
    place = folder / "w.task.json"
    return Desk(made, place, sheet_of(drawn), why_shut=why_shut, why_waits=why_waits, lab=known)


def entries(folder: Path) -> list[dict[str, Any]]:
    """What the journal of the desk in a folder holds."""
    return list(Journal(folder / "w.answers.jsonl").read().entries)


def said(exercise: str, do: str, token: str, **more: Any) -> dict[str, Any]:
    """A page's message."""
    return {"exercise": exercise, "message": {"do": do, "token": token, **more}}


def as_json(value: Any) -> str:
    """As it is sent."""
    return json.dumps(value, ensure_ascii=False)


def reply(desk: Desk, message: dict[str, Any], **more: Any) -> Any:
    """What the page hears of it."""
    heard = desk.hear(message, **more)
    assert heard
    return heard["reply"]
