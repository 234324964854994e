"""What becomes of the cautions of a lab that another extends: none goes without a word.

Where text is replaced or a section left out, its cautions stay. They go by `leave out → cautions:`
with a reason, or with the exercise that they are about; both is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from labkit.lab.definition import Noticed, Remark
from labkit.lab.reading.fields import CautionFields, LeaveOutFields
from labkit.lab.reading.sections import Part, Section, cautions_apart
from labkit.lab.reading.source import BlockPart, ProsePart, Source
from labkit.language.problems import DefinitionError, Place, Problem, nearest

_FIELD = "caution"


@dataclass(frozen=True, slots=True)
class Cautions:
    """The cautions that `child` leaves out by name; `remarks` gathers what is to be told."""

    child: Source
    left_out: LeaveOutFields
    remarks: list[Remark] = field(default_factory=list)

    @classmethod
    def of(cls, child: Source, left_out: LeaveOutFields) -> Cautions:
        """With nothing told yet."""
        return cls(child, left_out)

    def left_out_of(self, sections: Sequence[Section]) -> list[Section]:
        """The sections without the cautions that are named. Raises `DefinitionError`."""
        for index, fields in enumerate(self.left_out.cautions):
            place = self.child.header.place(("leave out", "cautions", index))
            if bool(fields.section) == bool(fields.exercise):
                raise _error(
                    place,
                    "must name a section or an exercise, one of them.",
                    "Write 'section:' with its id, or 'exercise:' with its id, and 'because:'.",
                )
            take = self._of_exercise if fields.exercise else self._of_section
            sections = take(list(sections), fields, place)
        return list(sections)

    def kept(self, gone: Iterable[Part], instead: Iterable[Part], place: Place) -> list[Part]:
        """The cautions of the prose in `gone` that `instead` does not repeat."""
        said = {flat(piece.text) for piece in cautions_in(instead)}
        kept = [piece for piece in cautions_in(gone) if flat(piece.text) not in said]
        for piece in kept:
            self._tell_kept(place, piece.place)
        return [*kept]

    def replaced(self, old: BlockPart, new: BlockPart) -> list[Part]:
        """An exercise in the place of another, below the other's caution if it has not that."""
        text = stated(old)
        if not text or flat(stated(new)) == flat(text):
            return [new]
        place = old.fields.place((_FIELD,))
        self._tell_kept(new.place, place)
        return [quoted(old, place), new]

    def gone_with(self, exercise: BlockPart, place: Place) -> None:
        """Tell that an exercise was left out, and with it the caution that is about it."""
        if stated(exercise):
            self._tell_left_out(
                place,
                exercise.fields.place((_FIELD,)),
                f"the exercise '{exercise.name}' is left out",
            )

    def _of_section(
        self, sections: list[Section], fields: CautionFields, place: Place
    ) -> list[Section]:
        known = {name: n for n, item in enumerate(sections) for name in (item.id, item.name)}
        number = known.get(fields.section)
        if number is None:
            message = f"'{fields.section}' is no section of the lab that is extended."
            raise _error(place, message, nearest(fields.section, {*known} - {""}))
        pieces = list(_apart(sections[number].parts))
        gone = [part for warns, part in pieces if warns]
        if not gone:
            raise _error(place, f"the section '{fields.section}' holds no caution.", _TAKE_OUT)
        for part in gone:
            self._tell_left_out(place, part.place, fields.because)
        sections[number] = replace(
            sections[number], parts=[part for warns, part in pieces if not warns]
        )
        return sections

    def _of_exercise(
        self, sections: list[Section], fields: CautionFields, place: Place
    ) -> list[Section]:
        blocks = [part for item in sections for part in item.parts if isinstance(part, BlockPart)]
        block = next((part for part in blocks if part.name == fields.exercise), None)
        if block is None:
            message = f"'{fields.exercise}' is no exercise of the lab that is extended."
            raise _error(place, message, nearest(fields.exercise, {b.name for b in blocks} - {""}))
        if not stated(block):
            raise _error(place, f"the exercise '{fields.exercise}' has no caution.", _TAKE_OUT)
        self._tell_left_out(place, block.fields.place((_FIELD,)), fields.because)
        data = {name: value for name, value in block.fields.data.items() if name != _FIELD}
        without = replace(block, fields=replace(block.fields, data=data))
        return [
            replace(item, parts=[without if part is block else part for part in item.parts])
            for item in sections
        ]

    def _tell_left_out(self, place: Place, caution: Place, because: str) -> None:
        sentence = f"the caution of {caution.file}, line {caution.line}, is left out: {because}"
        mend = "Nothing to mend if that is so; whoever teaches this lab is to know it."
        remark = Remark(Noticed.caution_left_out, place, f"{sentence.rstrip('.')}.", mend)
        self.remarks.append(remark)

    def _tell_kept(self, place: Place, caution: Place) -> None:
        sentence = (
            f"the caution of {caution.file}, line {caution.line}, stays, though what it stood in "
            "is replaced or left out."
        )
        mend = "If it does not apply here, leave it out by name under 'leave out → cautions:'."
        if all(remark.sentence != sentence for remark in self.remarks):
            self.remarks.append(Remark(Noticed.caution_kept, place, sentence, mend))


_TAKE_OUT = "Take these lines out."


def _apart(parts: Iterable[Part]) -> Iterator[tuple[bool, Part]]:
    for part in parts:
        if isinstance(part, BlockPart):
            yield False, part
        else:
            yield from cautions_apart(part)


def cautions_in(parts: Iterable[Part]) -> list[ProsePart]:
    """The cautions among the prose of some parts."""
    return [part for warns, part in _apart(parts) if warns and isinstance(part, ProsePart)]


def stated(exercise: BlockPart) -> str:
    """The caution that an exercise states in a field of its own; "" without one."""
    text: Any = exercise.fields.data.get(_FIELD, "")
    return text.strip() if isinstance(text, str) else ""


def quoted(exercise: BlockPart, place: Place) -> ProsePart:
    """The caution that an exercise states, as one that stands in the text."""
    lines = f"**Caution.** {stated(exercise)}".split("\n")
    return ProsePart("\n".join(f"> {line}".rstrip() for line in lines), place)


def flat(text: str) -> str:
    """Its words, wherever its lines end."""
    return " ".join(text.replace("\n>", "\n").split())


def _error(place: Place, message: str, mend: str) -> DefinitionError:
    return DefinitionError([Problem(place, message, mend)])
