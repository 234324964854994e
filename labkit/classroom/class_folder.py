"""A class is a folder: who, which labs, when, practice or assessed.

class.yaml        what the instructor writes
roster.csv        who
class-secret.txt  decides every draw and signs every workbook; never give it away
labs/             the definitions as they were dealt
deal.json         what was dealt to whom (deal-unfinished.jsonl: by a run that was cut short)
workbooks/        a folder a trainee, to give out
hand-ins/         where the trainees' files come in
scores/           the score sheet and a page a trainee
"""

from __future__ import annotations

import os
import re
import secrets
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field, field_validator

from labkit.classroom.errors import ClassError
from labkit.classroom.roster import Trainee, read_roster
from labkit.lab.definition import Lab
from labkit.lab.problems import DefinitionError
from labkit.lab.reading import read_lab
from labkit.lab.reading.fields import Id, Strict, Text, check_fields
from labkit.lab.reading.source import read_fields
from labkit.station.handin import write_whole

CLASS_FILE: Final = "class.yaml"
ROSTER_FILE: Final = "roster.csv"
SECRET_FILE: Final = "class-secret.txt"
LAB_FILE: Final = "lab.md"


class ClassFields(Strict):
    """What `class.yaml` holds."""

    id: Id
    title: Text
    labs: list[Id] = Field(min_length=1)
    mode: Literal["practice", "assessed"]
    deadline: str | None = None
    late: Literal["count", "refuse"] = "count"
    pass_percent: float | None = Field(default=None, gt=0, le=100, allow_inf_nan=False)

    @field_validator("deadline")
    @classmethod
    def _is_a_time(cls, value: str | None) -> str | None:
        if value is None or not value.strip():
            return None
        try:
            time = datetime.fromisoformat(value.strip())
            if len(value.strip()) <= len("2026-11-25"):
                # A day without a time means until its end.
                time = time.replace(hour=23, minute=59, second=59)
            # Without an offset the instructor's own clock is meant.
            return time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        except (ValueError, OverflowError):
            raise ValueError(
                f"'{value}' is not a time; write for example 2026-11-25 16:30+00:00"
            ) from None

    @field_validator("labs")
    @classmethod
    def _are_different(cls, labs: list[str]) -> list[str]:
        twice = {lab for lab in labs if labs.count(lab) > 1}
        if twice:
            raise ValueError(f"the lab '{min(twice)}' is there twice")
        return labs


@dataclass(frozen=True)
class ClassFolder:
    """An existing class folder with a readable `class.yaml`."""

    path: Path
    fields: ClassFields

    @classmethod
    def open(cls, path: Path) -> ClassFolder:
        """Open the class at `path`. Raises `ClassError` or `DefinitionError` with sentences."""
        file = path / CLASS_FILE
        try:
            text = file.read_text(encoding="utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise ClassError(
                f"{path} is not a class folder: {CLASS_FILE} is missing or cannot be read. "
                "'labkit demo' makes a class to look at."
            ) from error
        return cls(path, check_fields(ClassFields, read_fields(text, CLASS_FILE, 1)))

    @property
    def practice(self) -> bool:
        """Whether answers are checked at once."""
        return self.fields.mode == "practice"

    @cached_property
    def trainees(self) -> tuple[Trainee, ...]:
        """Everybody in the roster."""
        return read_roster(self.path / ROSTER_FILE)

    @property
    def deal_file(self) -> Path:
        """The record of what was dealt."""
        return self.path / "deal.json"

    @property
    def deal_log(self) -> Path:
        """What a run of dealing has dealt so far; only there while it runs or when it was cut."""
        return self.path / "deal-unfinished.jsonl"

    @property
    def workbooks(self) -> Path:
        """Where workbooks are dealt to."""
        return self.path / "workbooks"

    @property
    def hand_ins(self) -> Path:
        """Where hand-ins come in."""
        return self.path / "hand-ins"

    @property
    def scores(self) -> Path:
        """Where the score sheet and the trainees' pages go."""
        return self.path / "scores"

    def lab(self, name: str, library: Path | None = None) -> Lab:
        """A lab of the class: its own copy, or (before the first deal) that of the library."""
        own = self.path / "labs" / name / LAB_FILE
        if own.exists():
            return read_lab(own)
        source = library / name / LAB_FILE if library else None
        if source is None or not source.exists():
            raise ClassError(
                f"The lab '{name}' is not there. 'labkit labs' lists the labs; put another one in "
                f"{own}."
            )
        return read_lab(source)

    def keep_lab(self, lab_id: str, library: Path) -> None:
        """Copy a definition into the class, so that later changes do not change this class."""
        own = self.path / "labs" / lab_id / LAB_FILE
        if own.exists():
            return
        own.parent.mkdir(parents=True, exist_ok=True)
        write_whole(own, (library / lab_id / LAB_FILE).read_bytes())

    def secret(self, *, make: bool = False) -> str:
        """The class's secret; made once, when dealing. Raises `ClassError` when it is gone."""
        file = self.path / SECRET_FILE
        if not file.exists():
            if not make or self.deal_file.exists():
                raise ClassError(
                    f"{file} is missing. Without it the numbers that were dealt cannot be drawn "
                    "again: bring it back from a copy of the class folder."
                )
            _write_private(file, secrets.token_hex(32) + "\n")
        text = file.read_text(encoding="utf-8", errors="replace").strip()
        if not re.fullmatch(r"[0-9a-f]{64}", text):
            raise ClassError(f"{file} is damaged: bring it back from a copy of the class folder.")
        return text


def _write_private(file: Path, text: str) -> None:
    """Write a file, whole or not at all, that only its owner may read where there are owners."""
    part = file.with_name(file.name + ".part")
    part.unlink(missing_ok=True)
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    part.replace(file)


def lab_library() -> Path:
    """Where the labs that come with labkit lie: beside the package in a clone, else installed."""
    in_clone = Path(__file__).resolve().parents[2] / "labs"
    return in_clone if in_clone.is_dir() else Path(sys.prefix) / "share" / "labkit" / "labs"


def library_labs(library: Path) -> dict[str, Lab | DefinitionError]:
    """Every lab of a library by its folder's name; an unreadable one comes with its errors."""
    found: dict[str, Any] = {}
    for file in sorted(library.glob(f"*/{LAB_FILE}")):
        try:
            found[file.parent.name] = read_lab(file)
        except DefinitionError as error:
            found[file.parent.name] = error
    return found
