"""A quick proof-reading in a process of its own: it never keeps the page waiting.

Each line that it prints is JSON: how many draws are done, then the report.
"""

from __future__ import annotations

import asyncio
import json
import os
import subprocess
import sys
from asyncio.subprocess import PIPE, Process
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import Any, Final

DRAWS: Final = 50
_TELL_EVERY: Final = 5
_NICE: Final = 10
_LONGEST_LINE: Final = 64 * 2**20
_BEGIN: Final = "from labkit.preview.quick_proof import run; run()"
_APART: Final[dict[str, Any]] = (
    {"start_new_session": True}
    if os.name == "posix"
    else {
        "creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
        | getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
    }
)


async def proved(file: Path, told: Callable[[dict[str, Any]], None]) -> None:
    """Proof-read a lab; `told` is called with each line. Who cancels this ends the process."""
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-P", "-c", _BEGIN, str(file)),
        stdin=PIPE,
        stdout=PIPE,
        stderr=asyncio.subprocess.DEVNULL,
        limit=_LONGEST_LINE,
        **_APART,
    )
    try:
        assert process.stdout
        async for line in process.stdout:
            told(json.loads(line))
    finally:
        await _ended(process)


async def _ended(process: Process) -> None:
    with suppress(ProcessLookupError):
        process.kill()
    await process.wait()


def run() -> None:
    """Proof-read the lab that is named, until its reader is there no more."""
    Thread(target=_end_with_the_reader, daemon=True).start()
    with suppress(AttributeError, OSError):
        os.nice(_NICE)
    from labkit.lab.reading import read_lab
    from labkit.language.problems import DefinitionError
    from labkit.proofing import proof

    try:
        lab = read_lab(Path(sys.argv[1]))
        report = proof(lab, DRAWS, _progress).to_json()
    except DefinitionError:
        return  # it was changed meanwhile, and is proof-read anew
    _tell({"report": {name: report[name] for name in ("digest", "findings", "accepted")}})


def _progress(done: int, draws: int) -> None:
    if done % _TELL_EVERY == 0 or done == draws:
        _tell({"done": done})


def _tell(said: dict[str, Any]) -> None:
    print(json.dumps(said), flush=True)


def _end_with_the_reader() -> None:
    sys.stdin.read()
    os._exit(0)
