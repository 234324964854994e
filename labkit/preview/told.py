"""What is wrong in a lab, as the page tells it: at which line, and what stands there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from labkit.lab.reading.definition_file import lines_of, shown_name, text_as_it_is
from labkit.language.problems import Place, Problem

_LONGEST_LINE: Final = 300
_OF_A_FIELD: Final = ("is ", "has ", "does ", "must ", "needs ")


class Lines:
    """The lines of a definition's files as they were when they were read; of a sheet none."""

    def __init__(self, files: Iterable[Path]) -> None:
        self._lines: dict[str, list[str]] = {}
        for file in files:
            text = text_as_it_is(file)
            self._lines[shown_name(file)] = [] if "\0" in text else lines_of(text)

    def at(self, file: str, line: int) -> str:
        """What is written there; "" where that is not known."""
        lines = self._lines.get(file, [])
        return lines[line - 1].rstrip()[:_LONGEST_LINE] if 0 < line <= len(lines) else ""

    def problem(self, problem: Problem, exercise: str = "") -> dict[str, Any]:
        """A problem of reading or drawing."""
        place = problem.place
        return {
            **self._place(place),
            "sentence": _sentence(problem.message, place.field),
            "mend": problem.mend,
            "exercise": exercise,
            "severity": "must be mended",
        }

    def finding(self, found: Mapping[str, Any], because: str = "") -> dict[str, Any]:
        """A finding of proof as its JSON tells it; `because` says why it was accepted."""
        place = Place(found["file"], found["line"], found["field"])
        return {
            **self._place(place),
            "sentence": _sentence(found["sentence"], place.field),
            "mend": found["mend"],
            "exercise": found["exercise"],
            "severity": "accepted" if because else found["severity"],
            "id": found["id"],
            "seed": found["seed"],
            "because": because,
        }

    def _place(self, place: Place) -> dict[str, Any]:
        return {
            "where": f"{place.file}, line {place.line}",
            "line": place.line,
            "field": place.field,
            "source": self.at(place.file, place.line),
        }


def _sentence(message: str, field: str) -> str:
    """What is told of a field, as a sentence of its own."""
    if field and message.startswith(_OF_A_FIELD):
        return f"'{field.rpartition(': ')[2]}' {message}"
    return message[:1].upper() + message[1:]
