"""The command line in this process: what a command prints and how it ends.

No start of Python for each; `test_cli.py` has real processes.
"""

from __future__ import annotations

import os
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import BytesIO, TextIOWrapper
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from labkit.cli import main

BY_A_CLONE = {"UV_RUN_RECURSION_DEPTH", "LABKIT_CALLED"}
"""The tests themselves are run in a clone; what they run is to think itself installed."""


@dataclass(frozen=True)
class Done:
    """What a finished command left."""

    returncode: int
    stdout: str
    stderr: str


def labkit(*words: object, cwd: Path, columns: int = 120) -> Done:
    """Run `labkit WORDS` in the folder, with a pipe at both of its outputs."""
    out, err = (TextIOWrapper(BytesIO(), "utf-8", write_through=True) for _ in range(2))
    with pytest.MonkeyPatch.context() as patch, chdir(cwd):
        patch.setattr(sys, "argv", ["labkit", *(str(word) for word in words)])
        patch.setenv("COLUMNS", str(columns))
        for name in BY_A_CLONE & os.environ.keys():
            patch.delenv(name)
        with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as end:
            main()
    done = Done(_status(end.value.code), *(_text(pipe) for pipe in (out, err)))
    assert "Traceback" not in done.stdout + done.stderr
    return done


def fails(*words: object, cwd: Path) -> str:
    """The sentence of a command that fails with 1 and says why on stderr alone."""
    return why(labkit(*words, cwd=cwd))


def why(done: Done | CompletedProcess[str]) -> str:
    """The sentence of one that has failed so, here or as a process of its own."""
    assert done.returncode == 1, done
    assert done.stderr.startswith("✗ ")
    return done.stderr


def _status(code: object) -> int:
    assert code is None or isinstance(code, int)
    return code or 0


def _text(pipe: TextIOWrapper[BytesIO]) -> str:
    return pipe.buffer.getvalue().decode("utf-8")
