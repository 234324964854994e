"""The sections of a lab on top of another: which of the parent's stay, change, go, or are new."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace

from labkit.lab.definition import Noticed, Remark
from labkit.lab.reading.cautions import Cautions
from labkit.lab.reading.fields import LeaveOutFields
from labkit.lab.reading.sections import (
    BEGINNING,
    Part,
    Section,
    heading_lines,
    is_exercise,
    is_text,
    lower,
    with_id,
)
from labkit.lab.reading.source import ProsePart, Source
from labkit.language.problems import definition_error, nearest


@dataclass(slots=True)
class _Place:
    """A section as the parent has it, None where it has not, and as it is now."""

    known: Section | None
    now: Section


@dataclass(slots=True)
class Sections:
    """Puts the `own` sections of `child` to those that it inherits."""

    child: Source
    own: list[Section]
    inherited: list[Section]
    left_out: LeaveOutFields
    cautions: Cautions

    def put_together(self) -> list[Section]:
        """All sections in their order. Raises `DefinitionError` where one cannot be placed."""
        old = {part.name for item in self.inherited for part in item.parts if is_exercise(part)}
        sections = [_Place(known, self._with_own_exercises(known)) for known in self.inherited]
        written: dict[str, Section] = {}
        at = -1
        for own in self.own:
            parts = [p for p in own.parts if not (is_exercise(p) and p.name in old)]
            own = replace(own, parts=parts)
            if own.id == BEGINNING and not any(map(is_text, parts)):
                # Exercises above the first heading, without text, belong to no section: they come
                # last.
                sections.append(_Place(None, Section("", parts, own.place)))
                continue
            same = self._same(own, sections)
            if own.put:
                at = self._where(own, sections)
                sections.insert(at, _Place(None, own))
            elif same is not None:
                self._once(own, sections[same].now, written)
                sections[same].now = self._one_section(sections[same].now, own)
                at = same
            else:
                self._tell_nearly_known(own)
                at = at + 1 if at >= 0 else len(sections)
                sections.insert(at, _Place(None, own))
        return [self._without_left_out(place.now) for place in sections]

    def _with_own_exercises(self, section: Section) -> Section:
        """A section of the parent with the child's exercises in the places of their namesakes."""
        blocks = {part.name: part for part in self.child.parts if is_exercise(part)}
        parts: list[Part] = []
        for part in section.parts:
            if is_exercise(part) and part.name in blocks:
                parts += self.cautions.replaced(part, blocks[part.name])
            else:
                parts.append(part)
        return replace(section, parts=parts)

    def _same(self, own: Section, sections: list[_Place]) -> int | None:
        """Which of the sections is meant: by its id, else by its heading."""
        if own.put:
            return None
        for number, place in enumerate(sections):
            if own.id and place.known and own.id == place.known.id:
                return number
        for number, place in enumerate(sections):
            section = place.known
            if not own.name or section is None or own.name != section.name:
                continue
            if own.id and section.id:
                raise definition_error(
                    own.place,
                    f"the section '{own.name}' has the id '{own.id}' here and '{section.id}' in "
                    f"{section.place}.",
                    f"Write {{# section: {section.id} #}} if it is the same; else another heading.",
                )
            if section.id:
                self._tell_by_heading(own, section)
            return number
        return None

    def _where(self, own: Section, sections: list[_Place]) -> int:
        assert own.put is not None
        side, named = own.put
        for number, place in enumerate(sections):
            if place.known and named == place.known.id:
                return number if side == "before" else number + 1
        known = {section.id for section in self.inherited} - {""}
        headings = [section for section in self.inherited if section.name]
        message = f"'{named}' is no id of a section in the lab that is extended"
        where = f" ({self.inherited[-1].place.file})." if self.inherited else "."
        mend = nearest(named, known)
        if headings and known == {BEGINNING}:
            mend += f" Its sections have no ids yet: {headings[0].place} begins one."
        raise definition_error(own.place, message + where, mend.strip())

    def _once(self, own: Section, meant: Section, written: dict[str, Section]) -> None:
        key = str(meant.place)
        if key in written:
            raise definition_error(
                own.place,
                f"the section of {meant.place} is written anew already, at {written[key].place}.",
                "Put both texts under one of the two headings.",
            )
        written[key] = own

    def _one_section(self, inherited: Section, own: Section) -> Section:
        """A section of the parent with what the child has in the same."""
        heading, rest = _parted(own.parts, own.id or inherited.id)
        new = _exercises(own.parts)
        named = replace(inherited, name=own.name, id=own.id or inherited.id)
        if not any(map(is_text, own.parts)):
            if own.name == inherited.name and own.id in ("", inherited.id):
                return replace(named, parts=[*inherited.parts, *new])
            _, old = _parted(inherited.parts, inherited.id)
            return replace(named, parts=[*_headed(heading, old), *new])
        old_exercises = _exercises(inherited.parts)
        first = next((n for n, part in enumerate(rest) if is_exercise(part)), len(rest))
        prose = [p for p in inherited.parts if p not in old_exercises]
        kept = self.cautions.kept(prose, rest, own.place)
        text = _headed(heading, [*kept, *rest[:first]])
        return replace(named, parts=[*text, *old_exercises, *rest[first:]])

    def _without_left_out(self, section: Section) -> Section:
        """A section less what is left out of it; of one left out as a whole its cautions stay."""
        names = self.left_out.sections
        for index, name in enumerate(names):
            if name and name in (section.id, section.name):
                place = self.child.header.place(("leave out", "sections", index))
                for part in section.parts:
                    if is_exercise(part):
                        self.cautions.gone_with(part, place)
                return Section("", self.cautions.kept(section.parts, [], place), section.place)
        parts = []
        for part in section.parts:
            if is_exercise(part) and part.name in self.left_out.exercises:
                index = self.left_out.exercises.index(part.name)
                place = self.child.header.place(("leave out", "exercises", index))
                self.cautions.gone_with(part, place)
            else:
                parts.append(part)
        return replace(section, parts=parts)

    def _tell_by_heading(self, own: Section, section: Section) -> None:
        self._tell(
            Noticed.section_by_heading,
            own,
            f"the section '{own.name}' goes by its heading; in {section.place} it has the id "
            f"'{section.id}'.",
            f"Write {{# section: {section.id} #}} behind the heading: it then holds when that lab "
            "gives it another one.",
        )

    def _tell_nearly_known(self, own: Section) -> None:
        """A heading or an id that is nearly one of the parent's is perhaps meant to be it."""
        for name, others in (
            (own.id, {section.id: section for section in self.inherited if section.id}),
            (own.name, {section.name: section for section in self.inherited if section.name}),
        ):
            close = difflib.get_close_matches(name, others, n=1, cutoff=0.8) if name else []
            if close:
                self._tell(
                    Noticed.section_nearly_known,
                    own,
                    f"'{name}' is a new section, and '{close[0]}' of {others[close[0]].place} "
                    "stays as it is.",
                    f"If you mean that one, write '{close[0]}'.",
                )
                return

    def _tell(self, what: Noticed, own: Section, sentence: str, mend: str) -> None:
        self.cautions.remarks.append(Remark(what, own.place, sentence, mend))


def _parted(parts: list[Part], id_: str) -> tuple[list[Part], list[Part]]:
    """A section's heading, with the mark of its id, and what stands below."""
    if not parts or not isinstance(parts[0], ProsePart):
        return [], parts
    first = parts[0]
    lines = first.text.split("\n")
    count = heading_lines(first.text)
    if not count:
        return [], parts
    heading = "\n".join(lines[:count])
    if id_ and "{#" not in heading:
        heading = with_id(heading, id_)
    while count < len(lines) and not lines[count].strip():
        count += 1
    below = ProsePart("\n".join(lines[count:]), lower(first, count))
    return [replace(first, text=heading)], [*([below] if below.text else []), *parts[1:]]


def _headed(heading: list[Part], below: list[Part]) -> list[Part]:
    """A heading and what stands below it, one text again where they were one."""
    if heading and below and isinstance(heading[0], ProsePart) and isinstance(below[0], ProsePart):
        first, second = heading[0], below[0]
        apart = second.place.line - first.place.line - len(first.text.split("\n"))
        if first.place.file == second.place.file and apart in (0, 1):
            text = "\n" * (apart + 1)
            return [replace(first, text=f"{first.text}{text}{second.text}"), *below[1:]]
    return [*heading, *below]


def _exercises(parts: list[Part]) -> list[Part]:
    return [part for part in parts if is_exercise(part)]
