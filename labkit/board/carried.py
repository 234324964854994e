"""A folder that brings its own Python, and starts the board by a double click.

For a machine on which nothing may be installed: of the same system and the same kind of processor
as the one on which the folder was made. It holds a copy of the Python that runs this, the packages
that labkit needs there, and a file to double-click; classes lie in its folder `classes`.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import Distribution, distribution
from importlib.resources import files
from pathlib import Path
from typing import Final

from packaging.requirements import Requirement

from labkit.classroom.errors import ClassError
from labkit.classroom.progress import Progress
from labkit.lab.library import instructors_notebooks, lab_library

_WINDOWS: Final = os.name == "nt"
_LEFT_OUT: Final = shutil.ignore_patterns(
    *("__pycache__", "site-packages", "test", "tests", "idlelib", "ensurepip", "turtledemo"),
    *("config-*", "*.a", "share", "Doc", "include", "tcl", "Scripts"),
)
"""Of a Python: what the board never asks for."""
_NEEDED: Final = "trainer"
"""The extra of labkit that the board needs."""
_START: Final = """\
#!/bin/sh
here=$(cd "$(dirname "$0")" && pwd)
export LD_LIBRARY_PATH="$here/python/lib"
exec "$here/python/bin/python3" -I -m labkit board "$here/classes" "$@"
"""
_START_WINDOWS: Final = """\
@echo off\r
"%~dp0python\\python.exe" -I -m labkit board "%~dp0classes" %*\r
pause\r
"""
_TRIED: Final = """\
import sys, labkit.board.app
print(sys.prefix, labkit.board.app.__file__, sep="\\n")
"""


def carry(to: Path, progress: Progress | None = None) -> Path:
    """Make the folder `to`, which is not there yet; the file in it that starts the board.

    Before it is told, the copy is tried. Raises `ClassError` where this Python cannot be carried.
    """
    base = Path(sys.base_prefix).resolve()
    _require_own(base)
    if to.exists():
        raise ClassError(f"{to} is there already. Name a folder that is not there yet.")
    half_done = to.with_name(f"{to.name}.unfinished")
    shutil.rmtree(half_done, ignore_errors=True)
    try:
        start = _made(half_done, base, progress or (lambda *_: None))
        _try(half_done)
    except (OSError, shutil.Error) as error:
        shutil.rmtree(half_done, ignore_errors=True)
        raise ClassError(f"The folder cannot be made: {error}. Is there room for 1 GB?") from error
    half_done.rename(to)
    return to / start


def _require_own(base: Path) -> None:
    """Raise `ClassError` for a Python that belongs to the system: it runs from its place alone."""
    if base in {Path("/usr"), Path("/usr/local")} or "Python.framework" in base.parts:
        raise ClassError(
            f"The Python in {base} belongs to this system and cannot be carried. Take one that "
            "lies in a folder of its own ('uv python install 3.12'), and make labkit's environment "
            "with that ('uv venv --python 3.12')."
        )


def _made(to: Path, base: Path, progress: Progress) -> str:
    packages = list(_closure("labkit", _NEEDED))
    whole = len(packages) + 1
    home = to / "python"
    shutil.copytree(base, home, ignore=_LEFT_OUT, symlinks=True)
    progress(1, whole)
    # As this Python has it beneath its own folder.
    there = home / ("Lib" if _WINDOWS else f"lib/python3.{sys.version_info.minor}")
    there /= "site-packages"
    for number, package in enumerate(packages, 2):
        _copied(package, there)
        progress(number, whole)
    _own_package(there)
    (to / "classes").mkdir()
    start = "start-labkit.cmd" if _WINDOWS else "start-labkit.command"
    (to / start).write_bytes((_START_WINDOWS if _WINDOWS else _START).encode())
    (to / start).chmod(0o755)
    return start


def _closure(name: str, *extras: str) -> Iterator[Distribution]:
    """A package and all that it needs on this machine, each once."""
    told: set[str] = set()
    asked: set[tuple[str, str]] = set()
    waits = [(name, extra) for extra in ("", *extras)]
    while waits:
        name, extra = waits.pop()
        found = distribution(name)
        plain = found.metadata["Name"].lower()
        if plain not in told:
            told.add(plain)
            yield found
        if (plain, extra) not in asked:
            asked.add((plain, extra))
            for needed in map(Requirement, found.requires or []):
                if needed.marker is None or needed.marker.evaluate({"extra": extra}):
                    waits += [(needed.name, more) for more in ("", *needed.extras)]


def _copied(package: Distribution, there: Path) -> None:
    """The files of a package that lie beside the others; commands and shared data are not asked."""
    for file in package.files or []:
        source = Path(str(file.locate()))
        if ".." in file.parts or "__pycache__" in file.parts or not source.is_file():
            continue
        target = there.joinpath(*file.parts)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)


def _own_package(there: Path) -> None:
    """labkit itself, with its course, also where it runs from a clone."""
    for link in there.glob("*labkit*.pth"):
        link.unlink()
    own = there / "labkit"
    shutil.copytree(
        str(files("labkit")), own, ignore=shutil.ignore_patterns("__pycache__"), dirs_exist_ok=True
    )
    for folder in (lab_library(), instructors_notebooks()):
        shutil.copytree(folder, own / "course" / folder.name, dirs_exist_ok=True)


def _try(to: Path) -> None:
    """Ask the copy which labkit it is, from elsewhere and without any settings of this one."""
    python = to / "python" / ("python.exe" if _WINDOWS else "bin/python3")
    clean = {name: os.environ[name] for name in ("SYSTEMROOT", "PATH") if name in os.environ}
    clean["LD_LIBRARY_PATH"] = str(to / "python" / "lib")
    done = subprocess.run(
        [python, "-I", "-c", _TRIED], env=clean, cwd=to, capture_output=True, text=True
    )
    places = done.stdout.splitlines()
    if len(places) != 2 or not all(place.startswith(str(to.resolve())) for place in places):
        raise OSError(f"the copied Python does not run from there ({done.stderr.strip()[-300:]})")
