"""The editions that a lab of a class is marked by: as dealt, and each correction since.

An edition is a text, the rules that marked by it, and what decided each workbook's marks. Marks are
given by an edition only where all three are as they were: a later labkit changes no mark of an
older class by itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Final

import orjson
from pydantic import TypeAdapter

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Deal, Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.lab.definition import Lab
from labkit.lab.marking_rules import rules_of
from labkit.lab.reading import read_lab

if TYPE_CHECKING:
    from labkit.classroom.records.store import Records

_FIRST_RULES: Final = "1"
"""What marked the classes whose deal does not say by which rules."""
_MEND: Final = (
    "Nothing was marked or dealt by it, and no mark has changed. Use the labkit that dealt, or go "
    "over to this one's rules for everybody ('--dry-run' shows first whose marks change): labkit "
    "rescore CLASS --rules --reason …"
)


@dataclass(frozen=True, slots=True)
class _Stated:
    text: str
    rules: str
    keys: dict[str, str]


_STATED: Final = TypeAdapter(_Stated)


@dataclass(frozen=True, slots=True)
class Edition:
    """A lab's text and how answers to it are judged. `id` is what the records know it by.

    `keys` are the digests of what decides, by workbook; one that is not there was dealt by a labkit
    that did not write it down.
    """

    id: str
    lab: Lab = field(compare=False)
    rules: str
    keys: Mapping[str, str] = field(default_factory=dict, compare=False)

    @classmethod
    def made(cls, lab: Lab, keys: Mapping[str, str]) -> Edition:
        """A new edition by this labkit's rules; `keys` is what decides each workbook's marks.

        The same makes the same edition.
        """
        stated = _Stated(lab.digest, rules_of(lab), dict(sorted(keys.items())))
        return cls(sha256(_written(stated)).hexdigest(), lab, stated.rules, stated.keys)

    def keep(self, folder: ClassFolder, text: bytes | None) -> None:
        """Put it into the class, with its corrected text where it has one of its own."""
        place = Place(folder.path / "labs")
        if text is not None:
            corrected = _corrected_file(folder, self.lab.id, self.lab.digest)
            place.write(text, self.lab.id, corrected.name)
        stated = _Stated(self.lab.digest, self.rules, dict(self.keys))
        name = _edition_file(folder, self.lab.id, self.id).name
        place.write(_written(stated), self.lab.id, name)

    @property
    def of_other_rules(self) -> bool:
        """Whether this labkit marks by other rules."""
        return self.rules != rules_of(self.lab)

    def require_rules(self) -> None:
        """Raise `ClassError` when this labkit marks by other rules."""
        if self.of_other_rules:
            raise ClassError(
                f"'{self.lab.id}' of this class is marked by the rules '{self.rules}', and this "
                f"labkit has the rules '{rules_of(self.lab)}': it might judge an answer otherwise. "
                f"{_MEND}"
            )

    def keys_of(self, item: Dealt) -> str:
        """What decided the marks of `item`; "" where nobody wrote it down."""
        return self.keys.get(item.workbook) or item.keys

    def require_keys(self, item: Dealt, found: str) -> None:
        """Raise `ClassError` when what decides the marks of `item` comes out otherwise."""
        if self.keys_of(item) not in ("", found):
            raise ClassError(
                f"What decides the marks of {item.name} ({item.trainee}) in '{item.lab}' comes out "
                f"otherwise than before: a calculation of labkit has changed since. {_MEND}"
            )


def edition_of(
    folder: ClassFolder,
    name: str,
    deal: Deal,
    id_: str | None = None,
    *,
    as_read: Lab | None = None,
) -> Edition:
    """The edition `id_` of a lab of the class; None: as dealt.

    `as_read` is the lab as dealt, where it was read already. Raises `ClassError` when its files
    are not there as they were.
    """
    dealt = deal.labs[name]
    lab = as_read or lab_as_dealt(folder, name, deal)
    as_dealt = Edition(dealt["digest"], lab, rules_of_deal(deal, name))
    if id_ in (None, as_dealt.id):
        return as_dealt
    file = _edition_file(folder, name, str(id_))
    if not file.exists():
        # Earlier corrections are known by the digest of their text alone.
        lab = _corrected(folder, name, str(id_))
        return Edition(lab.digest, lab, _FIRST_RULES)
    data = file.read_bytes()
    if sha256(data).hexdigest() != id_:
        raise ClassError(f"{file} was changed: bring it back from a copy of the class folder.")
    stated = _STATED.validate_json(data)
    same = stated.text == as_dealt.id
    lab = as_dealt.lab if same else _corrected(folder, name, stated.text)
    return Edition(id_, lab, stated.rules, stated.keys)


def rules_of_deal(deal: Deal, name: str) -> str:
    """By which rules a lab was dealt."""
    return deal.labs[name].get("rules", _FIRST_RULES)


def editions_now(records: Records) -> dict[str, str]:
    """By which edition each lab is marked: lab → id."""
    # A class that was only dealt has no records, and SQLAlchemy takes long to load.
    from labkit.classroom.records.schema import editions

    return {row["lab"]: row["lab_digest"] for row in records.latest(editions, "lab")}


def _corrected_file(folder: ClassFolder, lab: str, digest: str) -> Path:
    """Where a corrected text of a lab lies, once it was dealt otherwise."""
    return folder.path / "labs" / lab / f"corrected-{digest[:16]}.md"


def _written(stated: _Stated) -> bytes:
    return orjson.dumps(stated, option=orjson.OPT_INDENT_2)


def _edition_file(folder: ClassFolder, lab: str, id_: str) -> Path:
    return folder.path / "labs" / lab / f"edition-{id_[:16]}.json"


def lab_as_dealt(folder: ClassFolder, name: str, deal: Deal) -> Lab:
    """A lab of the class by the text that was dealt. Raises `ClassError` when that is gone."""
    lab = folder.lab(name, dealt=True)
    if lab.digest != deal.labs[name]["digest"]:
        raise ClassError(
            f"The definition of '{name}' in this class, or a picture of it, was changed after it "
            "was dealt, so the numbers that the trainees have cannot be drawn again: bring the old "
            "file back. "
            "(To mark by a corrected text: 'labkit rescore'.)"
        )
    return lab


def _corrected(folder: ClassFolder, name: str, digest: str) -> Lab:
    file = _corrected_file(folder, name, digest)
    if not file.exists():
        raise ClassError(f"{file} is missing: bring it back from a copy of the class folder.")
    lab = read_lab(file, dealt=True).known_by(digest)
    if lab is None:
        raise ClassError(f"{file} was changed: bring it back from a copy of the class folder.")
    return lab
