"""The page on which a trainee chooses one of several workbooks of a folder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from labkit.errors import OF_THE_SYSTEM, LabkitError, sentences
from labkit.exchange.clock import read_moment
from labkit.exchange.journal import ANSWER, HANDED_IN, Journal, records
from labkit.exchange.task_file import (
    Task,
    journal_path,
    read_task,
    task_file_of,
    workbooks_in,
)
from labkit.front_end.page_modules import TOKENS

_SHEET: Final = Path(__file__).with_suffix(".css")
_PAGE: Final = """\
<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Your labs</title>
<link rel="icon" href="data:,">
<style>{sheet}</style>
</head>
<body>
<main>
<h1>Your labs</h1>
<p>Choose one. Your answers are saved on this laptop as you give them.</p>
<ul>
{entries}
</ul>
</main>
</body>
</html>
"""
_ENTRY: Final = """\
<li><a href="{address}"><strong>{title}</strong>
<span>{facts}</span>
<span class="state">{state}</span></a></li>"""
_TROUBLE: Final = '<li class="trouble"><strong>{name}</strong> <span>{sentence}</span></li>'


def page_of(folder: Path, base_url: str) -> str:
    """The page as HTML. What is wrong with one workbook is said at its place.

    `base_url` is where JupyterLab's own pages begin: a path that ends with a slash.
    """
    sheet = "".join(file.read_text(encoding="utf-8") for file in (TOKENS, _SHEET))
    entries = "\n".join(_entry(notebook, base_url) for notebook in workbooks_in(folder))
    return _PAGE.format(sheet=sheet, entries=entries)


def _entry(notebook: Path, base_url: str) -> str:
    file = task_file_of(notebook)
    try:
        task = read_task(file)
        entries = Journal(journal_path(file)).read().entries
    except (LabkitError, *OF_THE_SYSTEM) as error:
        sentence = escape(" ".join(sentences(error)))
        return _TROUBLE.format(name=escape(notebook.name), sentence=sentence)
    attempt = task.get("attempt", 1)
    return _ENTRY.format(
        address=escape(f"{base_url}doc/tree/{quote(notebook.name)}"),
        title=escape(task["lab"]["title"] + (f", attempt {attempt}" if attempt > 1 else "")),
        facts=escape(" · ".join(_facts(task))),
        state=escape(_state(task, entries)),
    )


def _facts(task: Task) -> Iterable[str]:
    yield task["trainee"]["name"]
    yield "practice" if task["practice"] else "assessed"
    if minutes := task["lab"].get("minutes"):
        yield f"about {minutes} minutes"
    if opens := read_moment(task.get("opens")):
        yield f"opens {opens.astimezone():%d %B %Y, %H:%M}"
    if deadline := read_moment(task.get("deadline")):
        yield f"hand in by {deadline.astimezone():%d %B %Y, %H:%M}"


def _state(task: Task, entries: Iterable[Mapping[str, Any]]) -> str:
    total = len(task["exercises"])
    saved = sum(record.answered for record in records(entries).values())
    if saved == 0:
        return "not begun"
    last = [each["event"] for each in entries if each["event"] in (ANSWER, HANDED_IN)][-1]
    return f"{saved} of {total} saved" + (" · hand-in file made" if last == HANDED_IN else "")
