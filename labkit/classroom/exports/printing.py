"""Workbooks on paper: a handout for every trainee of a class, or a sample of one lab.

handouts/               a file a trainee, to give out
all-handouts.html       the same in one file, to print in one go
instructors-copy.html   solutions; outside `handouts/`, so that it is not given out with them
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import require_same_secret
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.editions import lab_as_dealt
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.records.handed_on import remember
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.workbook.handout import PageSize, Sheet, handouts, instructors_copy


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
