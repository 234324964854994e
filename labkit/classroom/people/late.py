"""Somebody who comes late: a line more in the roster, and the deal that follows finds them.

Nobody else's workbook changes by it (see `dealing.deal`).
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from threading import Lock
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.roster_changes import changed_id
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.classroom.records.acts import note
from labkit.classroom.roster import PARTS, Trainee, require_safe_ids_in, trainees_in
from labkit.classroom.roster_lines import columns_of, with_person
from labkit.classroom.roster_table import roster_bytes

ROSTER_IS_WRITTEN: Final = Lock()
"""Held by whoever looks at a roster and writes it: two trainers' pages are served by one program.

Against another program the digest alone is held, looked at right before the roster is written.
"""


def roster_seen(folder: ClassFolder) -> str:
    """Tells the roster as it lies there from any other. Raises `ClassError`."""
    return sha256(roster_bytes(folder.roster_file)).hexdigest()


def add_late(
    folder: ClassFolder, cells: Mapping[str, str], seen: str | None = None, *, by: str
) -> Trainee:
    """Add somebody to the roster; their `cells` by the names of its columns.

    `seen` is the `roster_seen` that was looked at before: into another one nothing is written.
    Raises `ClassError`: for an id that is there, was somebody's or is not safe, and for somebody
    who seems to be in the class with another id.
    """
    with ROSTER_IS_WRITTEN:
        file, encoding = folder.roster_file.name, folder.fields.roster_encoding
        data = roster_bytes(folder.roster_file)
        if seen is not None and seen != sha256(data).hexdigest():
            raise ClassError(
                f"Nobody was added: {file} was changed since this was shown. Look at the list "
                "again: they may be in it."
            )
        changed = with_person(file, data, encoding, cells)
        present, deal = trainees_in(file, changed, encoding), read_deal(folder)
        require_safe_ids_in(file, changed, encoding, {item.trainee for item in deal.dealt})
        if hinders := changed_id(present, deal, file):
            raise ClassError(f"Nobody was added. {hinders}")
        Place(folder.path).write(changed, file)
    note(folder, f"Somebody who came late was written into {file}.", by)
    return present[-1]


def cells_of(folder: ClassFolder, trainee: str, name: str) -> dict[str, str]:
    """The cells of a whole name, where a roster may have first and last name apart."""
    data = roster_bytes(folder.roster_file)
    if "name" in columns_of(folder.roster_file.name, data, folder.fields.roster_encoding):
        return {"id": trainee, "name": name}
    first, _, last = name.strip().rpartition(" ")
    return {"id": trainee, PARTS[0]: first, PARTS[1]: last}
