"""A class is a folder: who, which labs, when, practice or assessed.

class.yaml        what the instructor writes
roster.csv        who (or roster.xlsx)
class-secret.txt  decides every draw and signs every workbook; never give it away
labs/             the definitions as they were dealt
deal.json         what was dealt to whom (deal-unfinished.jsonl: by a run that was cut short)
workbooks/        a folder a trainee, to give out
hand-ins/         where the trainees' files come in
records.sqlite    what came in, how it was marked, and why; entries are only ever added
scores/           the score sheet, and a page a trainee with its data beside it
print/            workbooks on paper, and the instructor's copy
room/             what trainees do in a class held from this machine, and the log of that
"""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

from labkit.classroom.class_file import ClassFields, read_class_file
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.classroom.roster import Trainee, read_roster, remarks_on
from labkit.lab.definition import Lab
from labkit.lab.reading import read_lab
from labkit.lab.reading.lineage import LAB_FILE, files_of, has_digest

CLASS_FILE: Final = "class.yaml"
ROSTER_FILE: Final = "roster.csv"
ROSTER_SHEET: Final = "roster.xlsx"
SECRET_FILE: Final = "class-secret.txt"
RECORDS_FILE: Final = "records.sqlite"


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
        return cls(path, read_class_file(text, CLASS_FILE))

    @cached_property
    def trainees(self) -> tuple[Trainee, ...]:
        """Everybody in the roster."""
        return read_roster(self.roster_file, self.fields.roster_encoding)

    @property
    def roster_remarks(self) -> list[str]:
        """What the instructor should know of the roster: a guessed encoding, seats made dates."""
        return remarks_on(self.roster_file, self.fields.roster_encoding)

    @property
    def roster_file(self) -> Path:
        """The roster: `roster.csv` or `roster.xlsx`. Raises `ClassError` when both are there."""
        csv, xlsx = self.path / ROSTER_FILE, self.path / ROSTER_SHEET
        if csv.exists() and xlsx.exists():
            raise ClassError(
                f"{self.path} holds two rosters, {ROSTER_FILE} and {ROSTER_SHEET}. Keep the one "
                "that is right and move the other away."
            )
        return xlsx if xlsx.exists() else csv

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
    def room(self) -> Path:
        """Where a class that is held from this machine has its journals and its log."""
        return self.path / "room"

    @property
    def room_log(self) -> Path:
        """What happened in the room, an entry a line; not there where none was held."""
        return self.room / "room.jsonl"

    @property
    def journals(self) -> Path:
        """What each trainee did in the room, a folder a trainee."""
        return self.room / "journals"

    @property
    def played(self) -> Path:
        """What was played at benches in the room, a folder a trainee; it can be made again."""
        return self.room / "played"

    def open_for_hand_ins(self) -> None:
        """Make the folder where hand-ins come in, where it is not there yet."""
        Place(self.hand_ins).made()

    @property
    def has_records(self) -> bool:
        """Whether there may be records already: looking makes none."""
        return self.fields.records is not None or (self.path / RECORDS_FILE).exists()

    @property
    def scores(self) -> Path:
        """Where the score sheet and the trainees' pages go."""
        return self.path / "scores"

    def lab(self, name: str, library: Path | None = None, *, dealt: bool = False) -> Lab:
        """A lab of the class: its own copy, or (before the first deal) that of the library.

        `dealt` says that trainees have it already: it is then read as it was, see `read_lab`.
        """
        lab = read_lab(self.lab_file(name, library), dealt=dealt)
        return self._as_dealt(lab) if dealt else lab

    def _as_dealt(self, lab: Lab) -> Lab:
        """A lab by the digest that the deal knows: one from before pictures has that of its texts.

        The deal is long, and hardly any lab has pictures: it is read for those alone.
        """
        if lab.text_digest == lab.digest or not self.deal_file.exists():
            return lab
        dealt = self.deal_file.read_text(encoding="utf-8")
        earlier = lab.text_digest in dealt and lab.digest not in dealt
        return lab.known_by(lab.text_digest) or lab if earlier else lab

    def has_lab(self, name: str, digest: str, library: Path | None = None) -> bool:
        """Whether a lab of the class has this digest; quicker than reading it."""
        return has_digest(self.lab_file(name, library), digest)

    def lab_file(self, name: str, library: Path | None) -> Path:
        """Where a lab's text lies: the class's own, or the library's. Raises `ClassError`."""
        own = self.path / "labs" / name / LAB_FILE
        if own.exists():
            return own
        source = library / name / LAB_FILE if library else None
        if source is None or not source.exists():
            raise ClassError(
                f"The lab '{name}' is not there. 'labkit labs' lists the labs; put another one in "
                f"{own}."
            )
        return source

    def keep_lab(self, lab_id: str, library: Path) -> None:
        """Copy a definition, those that it extends and their pictures into the class.

        So later changes do not change this class. Raises `ClassError` when it is nowhere, and when
        the class already holds another edition of a lab that is extended: the copy would be another
        lab.
        """
        own = self.path / "labs" / lab_id / LAB_FILE
        if own.exists():
            return
        files = files_of(self.lab_file(lab_id, library))
        for steps, data in files.items():
            copy = self.path.joinpath("labs", *steps)
            if copy.exists() and copy.read_bytes() != data:
                raise ClassError(
                    f"'{lab_id}' takes over {'/'.join(steps)}, and {copy} is another edition of "
                    "it. Make a new class for it, so that what was dealt stays."
                )
        # The lab itself last: once it is there, all that it needs is there too.
        for steps, data in reversed(files.items()):
            Place(self.path / "labs").write(data, *steps)

    def secret(self, *, make: bool = False) -> str:
        """The class's secret; made once, when dealing. Raises `ClassError` when it is gone."""
        file = self.path / SECRET_FILE
        if not file.exists():
            if not make or self.deal_file.exists():
                raise ClassError(
                    f"{file} is missing. Without it the numbers that were dealt cannot be drawn "
                    "again: bring it back from a copy of the class folder."
                )
            Place(self.path).write(secrets.token_hex(32) + "\n", SECRET_FILE)
        text = file.read_text(encoding="utf-8", errors="replace").strip()
        if not re.fullmatch(r"[0-9a-f]{64}", text):
            raise ClassError(f"{file} is damaged: bring it back from a copy of the class folder.")
        return text
