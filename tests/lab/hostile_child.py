"""Does with each lab of a folder what an instructor would, with little memory: see its test.

Each line that it prints is JSON: the lab, the seconds of the processor that it took, what was said
and what was made of it, and what it did that no lab may make it do.
"""

from __future__ import annotations

import io
import json
import os
import resource
import signal
import sys
import tempfile
import time
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

ROOM = 700 * 2**20
LONGEST_S = 90
"""By the clock: what waits for ever takes no time of the processor."""
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT
NEVER = (
    *("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork"),
    *("socket.connect", "socket.getaddrinfo"),
)
did: list[str] = []
base = Path(sys.argv[1]).resolve()
kept = Path(sys.argv[2]).resolve()
at = [base]


def watch(event: str, args: tuple[Any, ...]) -> None:
    """What no lab may make it do."""
    if event in NEVER:
        did.append(f"{event} {args[:1]}")
    if event == "open" and isinstance(args[0], str):
        flags = args[2] if isinstance(args[2], int) else 0
        path = os.path.realpath(args[0])
        within = path.startswith(f"{at[0]}{os.sep}")
        if path.startswith(str(base.parent)) and not within:
            did.append(f"read {path}")
        if path.startswith(("/etc/", "/proc/", "/dev/")) and path != "/dev/null":
            did.append(f"read {path}")
        if flags & WRITES and not path.startswith(str(kept)) and path != "/dev/null":
            did.append(f"wrote {path}")


def previewed(file: Path, folder: Path) -> list[str]:
    from labkit.preview.previewed import NothingShownError, Previewed

    shown = Previewed(file, "one", folder, practice=True)
    desk = shown.desk
    opened = desk.opened()
    json.dumps([shown.told(), opened, *[desk.shown(name) for name in opened["exercises"]]])
    made = [opened["sheet"]["summary"]]
    for step in opened["sheet"]["steps"]:
        made += [step["question"], *step["cautions"], *[text["html"] for text in step["texts"]]]
    made += [text["html"] for text in opened["sheet"]["after"]]
    for solved in (False, True):
        try:
            made.append(shown.paper(solved=solved).decode())
        except NothingShownError as error:
            made.append(str(error))
    return made


def proved(file: Path) -> tuple[str, list[str]]:
    """The report, and the texts of its notebook."""
    from labkit.lab.draw import draw
    from labkit.lab.reading import read_lab
    from labkit.language.problems import DefinitionError
    from labkit.proofing import proof
    from labkit.proofing.report_page import report_page, texts_of, unreadable_page
    from labkit.workbook.notebook import notebook_data
    from labkit.workbook.preview import preview_task

    try:
        lab = read_lab(file)
        page = report_page(proof(lab, 2), texts_of(file))
        scenario = draw(lab, "one")
        task = preview_task(scenario, workbook="w", practice=True)
        cells = notebook_data(scenario, task, task_file="w.json")["cells"]
        return page, [cell["source"] for cell in cells if cell["cell_type"] == "markdown"]
    except DefinitionError as error:
        return unreadable_page(error, file), []


def commanded(words: list[str]) -> str:
    """What a command prints, as in a terminal."""
    from labkit.cli import app, screen

    told = io.StringIO()
    with redirect_stdout(told), redirect_stderr(told):
        try:
            app(words, standalone_mode=False)
        except SystemExit:
            pass
        except Exception as error:  # as `main` does
            screen.tell(error)
    return told.getvalue()


def done(folder: Path) -> dict[str, Any]:
    at[0] = folder
    did.clear()
    began = time.process_time()
    signal.alarm(LONGEST_S)
    said: list[str] = []
    made: list[str] = []
    cells: list[str] = []
    try:
        with tempfile.TemporaryDirectory(dir=kept) as room:
            made += previewed(folder / "lab.md", Path(room))
            page, cells = proved(folder / "lab.md")
            made.append(page)
            said.append(commanded(["proof", str(folder), "--draws", "2", "--jobs", "1"]))
    except BaseException as error:
        did.append(f"broke with {type(error).__name__}: {str(error)[:300]}")
    signal.alarm(0)
    seconds = time.process_time() - began
    came = {"said": said, "made": made, "cells": cells, "did": [*did]}
    return {"lab": folder.name, "seconds": seconds, **came}


class LateError(BaseException):
    """It takes too long."""


def late(*_: object) -> None:
    raise LateError


def main() -> None:
    os.environ["XDG_CACHE_HOME"] = str(kept)
    import labkit.cli
    import labkit.preview.app  # noqa: F401

    done(kept / "sound")
    mapped = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (mapped + ROOM, mapped + ROOM))
    signal.signal(signal.SIGALRM, late)
    sys.addaudithook(watch)
    for folder in sorted(base.iterdir()):
        print(json.dumps(done(folder)), flush=True)


main()
