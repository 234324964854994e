"""An exercise that is taken from another lab: what is said of it here, and what it is there."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from labkit.lab.definition import NETWORK, Exercise, Lab, Taken
from labkit.lab.needs import Needs, needs_of
from labkit.lab.reading.cautions import cautions_in, flat, quoted, stated
from labkit.lab.reading.growing_header import Origins
from labkit.lab.reading.sections import Section, heading_level, is_exercise, sections_of
from labkit.lab.reading.source import BlockPart, ProsePart, Source
from labkit.lab.reading.taken_line import FROM, GIVEN, TakenLine, place_of, taken_line
from labkit.language.expression import Formula, Prose
from labkit.language.problems import definition_error, nearest

_CAUTION: Final = "caution"


@dataclass(frozen=True, slots=True)
class BankLab:
    """A lab that exercises are taken from: its parts put together, and itself; or why neither."""

    source: Source | None = None
    lab: Lab | None = None
    why_not: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Wanted:
    """An exercise that is taken: `block` and `line` here, `theirs` in the `source` of its lab.

    `cautions` are those that hold at it there.
    """

    block: BlockPart
    line: TakenLine
    source: Source
    lab: Lab
    theirs: BlockPart
    exercise: Exercise
    cautions: tuple[ProsePart, ...]

    @property
    def name(self) -> str:
        """Its id in the other lab."""
        return self.theirs.name

    @property
    def own(self) -> dict[str, Any]:
        """The fields that are written anew here."""
        data = self.block.fields.data
        return {name: value for name, value in data.items() if name not in (FROM, GIVEN)}

    def needs(self, *, but: Collection[str] = (), also: Collection[str] = ()) -> Needs:
        """What must come; of the fields that are written anew here, what is still said."""
        own, texts = self.own, self.exercise.texts
        kept = [text for text in texts if _field_of(text, self.name) not in own]
        said = set(re.findall(r"[a-z]\w*", str([*own.values()])))
        still = said & _names(needs_of(self.lab, texts))
        return needs_of(self.lab, [*kept, *self._warned()], but=but, also={*still, *also})

    def known(self) -> frozenset[str]:
        """All names that it needs, the network's among them."""
        return _names(self.needs())

    def fixed(self) -> set[str]:
        """Names that a draw of the other lab hangs on."""
        drawn = self.needs(but=self.line.given).drawn
        return {
            name
            for parameter in self.lab.parameters
            if parameter.name in drawn
            for name in parameter.names
        }

    def changed(self) -> BlockPart:
        """The other lab's block with what this lab's says instead."""
        theirs, own, header = self.theirs.fields, self.own, self.source.header
        data = {**theirs.data, **own}
        origins: Origins = {(name,): (theirs, (name,)) for name in theirs.data if name not in own}
        accepted = data.get("accepted", [])
        if "accepted" not in own and isinstance(accepted, list):
            items = [*accepted]
            for number, item in enumerate(header.data.get("accepted", [])):
                if item.get("exercise") == self.name:
                    origins["accepted", len(items)] = (header, ("accepted", number))
                    items.append({key: said for key, said in item.items() if key != "exercise"})
            if items:
                data["accepted"] = items
        fields = replace(self.block.fields, data=data, origins=origins)
        taken = Taken(self.lab.id, self.lab.version, self.name)
        return replace(self.block, fields=fields, taken=taken)

    def replaced_cautions(self, block: BlockPart) -> Iterator[ProsePart]:
        """The cautions in fields that this lab writes anew, and that it does not repeat."""
        label = f"exercise '{self.name}': "
        for name, old in self.theirs.fields.data.items():
            new = block.fields.data[name]
            if new == old or not isinstance(old, str):
                continue
            place = self.theirs.fields.place((name,), label)
            if name == _CAUTION and flat(stated(block)) != flat(stated(self.theirs)):
                yield quoted(self.theirs, place)
                continue
            said = {flat(part.text) for part in cautions_in([ProsePart(str(new), place)])}
            for part in cautions_in([ProsePart(old, place)]):
                if flat(part.text) not in said:
                    yield part

    def _warned(self) -> list[Prose]:
        """The texts of the cautions."""
        lab = self.lab
        known = {*(each.name for each in lab.parameters), *lab.derived, *lab.constants, *lab.tables}
        known |= {NETWORK} if lab.network else set()
        return [lab.language.prose(part.text, part.place, known) for part in self.cautions]


def wanted_by(block: BlockPart, bank: Mapping[str, BankLab]) -> Wanted:
    """What is meant by the block's lines. Raises `DefinitionError`."""
    line = taken_line(block)
    found = bank[line.lab]
    if found.source is None or found.lab is None:
        raise definition_error(place_of(block), *found.why_not)
    blocks = [part for part in found.source.parts if is_exercise(part)]
    theirs = next((part for part in blocks if part.name == line.exercise), None)
    if theirs is None:
        raise definition_error(
            place_of(block),
            f"'{line.lab}' has no exercise '{line.exercise}'.",
            nearest(line.exercise, {part.name for part in blocks}),
        )
    [exercise] = [each for each in found.lab.exercises if each.id == line.exercise]
    kind = block.fields.data.get("kind", exercise.kind)
    if kind != exercise.kind:
        raise definition_error(
            block.fields.place(("kind",), f"exercise '{block.name}': "),
            f"'{line.exercise}' of '{line.lab}' is of the kind '{exercise.kind}'.",
            "Take this line out: the kind comes with the exercise.",
        )
    cautions = tuple(_cautions_over(found.source, theirs))
    return Wanted(block, line, found.source, found.lab, theirs, exercise, cautions)


def _cautions_over(source: Source, exercise: BlockPart) -> list[ProsePart]:
    """The cautions that hold at an exercise.

    They stand above all headings, in its own section, and in those that its section is a part of.
    """
    beginning, *sections = sections_of(source, alike=True)
    over: list[Section] = []
    for section in sections:
        if any(part is exercise for part in beginning.parts):
            break
        over = [one for one in over if _level(one) < _level(section)] + [section]
        if any(part is exercise for part in section.parts):
            break
    return cautions_in(part for section in (beginning, *over) for part in section.parts)


def _level(section: Section) -> int:
    first = section.parts[0] if section.parts else None
    return heading_level(first.text) if isinstance(first, ProsePart) else 0


def _field_of(text: Formula | Prose, exercise: str) -> str:
    """The field of an exercise that a text stands in."""
    return text.place.field.removeprefix(f"exercise '{exercise}': ").partition(" → ")[0]


def _names(needs: Needs) -> frozenset[str]:
    return needs.names | ({NETWORK} if needs.network else set())
