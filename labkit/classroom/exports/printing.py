"""Workbooks on paper: a handout for every trainee of a class, or a sample of one lab.

handouts/               a file a trainee, to give out
all-handouts.html       the same in one file, to print in one go
instructors-copy.html   solutions; outside `handouts/`, so that it is not given out with them
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import require_same_secret
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.editions import lab_as_dealt
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.records.handed_on import remember
from labkit.classroom.unlinked import LinkError, open_unlinked
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.workbook.handout import PageSize, Sheet, handouts, instructors_copy

_ENDINGS: Final = (".html", ".pdf")
PAPERS: Final = {"cards": ("cards",), "handouts": ("all-handouts", "instructors-copy")}
"""What is printed of a whole class, without the endings."""
_OF_ALL: Final = [stem for stems in PAPERS.values() for stem in stems]
_NAMES: Final = frozenset(f"{stem}{ending}" for stem in _OF_ALL for ending in _ENDINGS)


@dataclass(frozen=True, slots=True)
class Printed:
    """The files that were written: a handout each, all of them in one, the instructor's copy."""

    each: tuple[Path, ...]
    together: Path
    instructor: Path

    @property
    def files(self) -> tuple[Path, ...]:
        """Every file, the handouts first; a single handout is in no second file."""
        return tuple(dict.fromkeys((*self.each, self.together, self.instructor)))


def print_class(
    folder: ClassFolder,
    to: Path | None = None,
    size: PageSize = PageSize.a4,
    progress: Progress | None = None,
) -> Printed:
    """Write the handouts of a dealt class. `progress` is called with (done, all).

    They go into the class's folder `print/` unless `to` names another. Raises `ClassError` when the
    class was not dealt yet.
    """
    sheets = _dealt_sheets(folder)
    target = to or folder.path / "print"
    place = Place.of(folder.path, target)
    remember(folder, "print", target)
    each = []
    for done, (trainee, own) in enumerate(sheets.items(), 1):
        for sheet in own:
            sheet.work_out()
        each.append(place.write(handouts(own, size), "handouts", f"{trainee}.html"))
        if progress:
            progress(done, len(sheets))
    every = [sheet for own in sheets.values() for sheet in own]
    return Printed(
        tuple(each),
        place.write(handouts(every, size), "all-handouts.html"),
        place.write(instructors_copy(every, size), "instructors-copy.html"),
    )


def print_lab(file: Path, seed: str, to: Path, size: PageSize = PageSize.a4) -> Printed:
    """Write one sample of the lab in `file`, drawn from `seed`. Raises `DefinitionError`."""
    lab = read_lab(file)
    sheet = [Sheet(draw(lab, seed))]
    place = Place(to, private=False)
    handout = place.write(handouts(sheet, size), f"{lab.id}.html")
    copy = place.write(instructors_copy(sheet, size), f"{lab.id}-instructors-copy.html")
    return Printed((handout,), handout, copy)


@dataclass(frozen=True, slots=True)
class OnPaper:
    """A page in the class's folder `print/`, by its name there, and when it was written (UTC).

    `pdf` is the name of the PDF beside it, "" where there is none that was made from it.
    """

    name: str
    written: datetime
    pdf: str = ""


def on_paper(folder: ClassFolder) -> list[OnPaper]:
    """What was printed of the whole class, the cards first, as far as it is there."""
    found = []
    for stem in _OF_ALL:
        page, pdf = (folder.path / "print" / f"{stem}.{ending}" for ending in ("html", "pdf"))
        if not page.is_file():
            continue
        written = page.stat().st_mtime
        made = pdf.is_file() and pdf.stat().st_mtime >= written
        found.append(
            OnPaper(page.name, datetime.fromtimestamp(written, UTC), pdf.name if made else "")
        )
    return found


def own_handouts(folder: ClassFolder) -> set[str]:
    """The names of the handouts, a person's each, in the class's folder `print/`."""
    with suppress(OSError):
        names = os.listdir(folder.path / "print" / "handouts")
        return {f"handouts/{name}" for name in names if name.endswith(_ENDINGS)}
    return set()


def paper_bytes(folder: ClassFolder, name: str) -> bytes:
    """A page or PDF of the class's folder `print/`, by its name there.

    Raises `ClassError` for what printing did not put there.
    """
    if name in _NAMES or name in own_handouts(folder):
        with suppress(LinkError, OSError):
            top = folder.path / "print"
            with open_unlinked(top.joinpath(*name.split("/")), top) as file:
                return file.read()
    raise ClassError("That was not printed, or is gone: print it again.")


def lab_file(path: Path, library: Path) -> Path:
    """The definition that `path` means: the file, its folder, or the id of a lab of `library`."""
    for file in (path, path / LAB_FILE, library / path / LAB_FILE):
        if file.is_file():
            return file
    raise ClassError(
        f"{path} is neither a class nor a lab: a class folder holds class.yaml, a lab's folder "
        f"{LAB_FILE}. 'labkit labs' lists the labs that come with labkit."
    )


def _dealt_sheets(folder: ClassFolder) -> dict[str, list[Sheet]]:
    """The sheets of each trainee in the order of the deal; of retakes the last alone."""
    deal = read_deal(folder)
    if not deal.dealt:
        raise ClassError(f"{folder.path} was not dealt yet: run 'labkit deal' first.")
    secret = folder.secret()
    require_same_secret(folder, secret, deal)
    labs = {name: lab_as_dealt(folder, name, deal) for name in deal.labs}
    sheets: dict[str, list[Sheet]] = {}
    for *_, item in deal.dealt.together():
        scenario = scenario_of(secret, folder.fields.id, labs[item.lab], item)
        sheet = Sheet(scenario, item.name, item.trainee, folder.fields.title)
        sheets.setdefault(item.trainee, []).append(sheet)
    return sheets
