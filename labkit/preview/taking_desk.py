"""Exercises of other labs to take into the one that is shown, searched as `labs --find` does.

Labs lie beside the one that is shown, and among those that came with labkit; a folder of the same
name beside it goes first, as where `from:` is read. What was read once is read again only where its
file is another one.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from textwrap import shorten
from threading import Lock
from typing import Any, Final

from labkit.lab.definition import Lab
from labkit.lab.exercise_search import Found, find_exercises, meant
from labkit.lab.library import lab_library
from labkit.lab.reading import read_in_part, read_lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.language.problems import DefinitionError

_MOST_FOUND: Final = 20
_LONGEST_TASK: Final = 240

_Seen = tuple[int, int]
"""When a file was written, and how long it is."""


class TakingDesk:
    """What can be taken into the lab at `path`. May be asked from several threads."""

    def __init__(self, path: Path) -> None:
        self._path, self._folder, self._lock = path, path.absolute().parent, Lock()
        self._read: dict[Path, tuple[_Seen, Lab | None]] = {}

    def find(self, sought: str) -> dict[str, Any]:
        """The exercises that have all words, the best first; what may be meant where none has.

        Those of a lab that this one extends are here already; those about another kind of network
        come last, and cannot be taken.
        """
        with self._lock:
            labs = self._labs()
        own = self._own()
        labs = {name: lab for name, lab in labs.items() if not own or name not in own.extends}
        found = find_exercises(labs, sought) if sought.strip() else []
        found.sort(key=lambda each: _is_of_other_family(each, own))
        shown = [_told(each, own) for each in found[:_MOST_FOUND]]
        return {"found": shown, "more": len(found) - len(shown), "said": _said(labs, sought, found)}

    def kind_of(self, folder: str, exercise: str) -> str | None:
        """The kind of an exercise of another lab; None where there is no such exercise."""
        with self._lock:
            lab = self._labs().get(folder)
        exercises = lab.exercises if lab else ()
        return next((each.kind for each in exercises if each.id == exercise), None)

    def _own(self) -> Lab | None:
        """The lab that is shown, as far as it can be read."""
        with suppress(DefinitionError, OSError):
            return read_in_part(self._path).lab
        return None

    def _labs(self) -> dict[str, Lab]:
        """Every lab that can be read, by its folder; none of them the one that is shown."""
        files: dict[str, Path] = {}
        for library in (self._folder.parent, lab_library()):
            for file in sorted(library.glob(f"*/{LAB_FILE}")):
                files.setdefault(file.parent.name, file)
        files.pop(self._folder.name, None)
        labs = {name: self._lab(file) for name, file in files.items()}
        return {name: lab for name, lab in labs.items() if lab}

    def _lab(self, file: Path) -> Lab | None:
        try:
            stat = file.stat()
            seen = (stat.st_mtime_ns, stat.st_size)
            if file not in self._read or self._read[file][0] != seen:
                self._read[file] = (seen, read_lab(file))
        except DefinitionError:
            self._read[file] = (seen, None)
        except OSError:
            return None
        return self._read[file][1]


def _is_of_other_family(found: Found, own: Lab | None) -> bool:
    """Whether an exercise is about another kind of network than the lab `own`."""
    ours, theirs = own.network if own else None, found.lab.network
    return ours is not None and theirs is not None and type(ours) is not type(theirs)


def _told(found: Found, own: Lab | None) -> dict[str, Any]:
    needs = found.needs
    network = ["a network"] if needs.network else []
    functions = ["functions of a network"] if needs.functions and not needs.network else []
    return {
        "line": found.line.removeprefix("from: "),
        "title": found.title,
        "kind": found.exercise.kind,
        "marks": f"{found.exercise.marks:g}",
        "where": f"{found.lab.title}, {found.heading}" if found.heading else found.lab.title,
        "task": shorten(found.task, _LONGEST_TASK, placeholder=" …"),
        "needs": [*sorted(needs.names), *network, *functions],
        "fits": not _is_of_other_family(found, own),
    }


def _said(labs: dict[str, Lab], sought: str, found: list[Found]) -> str:
    if found or not sought.strip():
        return ""
    near = {word: other for word, other in meant(labs, sought).items() if other}
    offers = [f"Did you mean '{other}' for '{word}'?" for word, other in near.items()]
    return f"No exercise has all of these words. {' '.join(offers) or 'Take fewer words.'}"
