"""Exercises of other labs, put into one with what they need: `from: network-power/warm-copper`.

What is drawn for an exercise, what follows from it, its scenery, values of books, tables, pictures
and its network come along, and the cautions that stand over it. Names keep their names, so each is
drawn by a stream of its own as in the other lab. A name that is there already is told, never
replaced; `given:` puts what this lab has in its place. A rule comes where it needs no chance beyond
what came; one that needs more is told.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from labkit.doors.family import FIRST_FAMILY
from labkit.lab.definition import NETWORK, Exercise, Lab, Noticed, Remark, Taken
from labkit.lab.needs import Needs, needs_of
from labkit.lab.reading.cautions import cautions_in, flat, quoted, stated
from labkit.lab.reading.sections import Part, Section, heading_level, is_exercise, sections_of
from labkit.lab.reading.source import BlockPart, Fields, Path, ProsePart, Source
from labkit.lab.reading.taken_line import FROM, GIVEN, TakenLine, is_taken, place_of, taken_line
from labkit.language.expression import Formula, Language, Prose
from labkit.language.problems import DefinitionError, Place, Problem, definition_error, nearest
from labkit.language.tables import TABLE_FUNCTIONS, Table

_GROUPS: Final = ("scenery", "tables", "draw", "sources", "let")
_CAUTION: Final = "caution"
Origins = dict[Path, tuple[Fields, Path]]


@dataclass(frozen=True, slots=True)
class BankLab:
    """A lab that exercises are taken from: its parts put together, and itself; or why neither."""

    source: Source | None = None
    lab: Lab | None = None
    why_not: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class WithTaken:
    """A definition with the exercises that were taken; `tables` are those that came with them."""

    source: Source
    tables: Mapping[str, Table] = field(default_factory=dict)


def with_exercises(source: Source, bank: Mapping[str, BankLab]) -> WithTaken:
    """The definition with all exercises that it takes from the labs of `bank`.

    One that cannot be taken stays in its place with what is wrong.
    """
    if not any(map(is_taken, source.parts)):
        return WithTaken(source)
    return _Taking(source, bank).whole()


@dataclass(frozen=True, slots=True)
class _Wanted:
    """An exercise that is taken: what is said of it here, and what it is there."""

    block: BlockPart
    line: TakenLine
    source: Source
    lab: Lab
    theirs: BlockPart
    exercise: Exercise
    cautions: tuple[ProsePart, ...]

    @property
    def name(self) -> str:
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

    def _warned(self) -> list[Prose]:
        """The texts of the cautions."""
        lab = self.lab
        known = {*(each.name for each in lab.parameters), *lab.derived, *lab.constants, *lab.tables}
        known |= {NETWORK} if lab.network else set()
        return [lab.language.prose(part.text, part.place, known) for part in self.cautions]


@dataclass(slots=True)
class _Came:
    """What came from one lab: of it the rules hang on."""

    wanted: _Wanted
    drawn: set[str] = field(default_factory=set)
    given: set[str] = field(default_factory=set)
    network: bool = False


@dataclass(slots=True)
class _Taking:
    """Puts exercises into `source`: a name that comes stands above its own, or below what it needs.

    `above`, `below` and `origins` are what came into the header so far.
    """

    source: Source
    bank: Mapping[str, BankLab]
    above: dict[str, dict[str, Any]] = field(default_factory=dict)
    below: dict[str, dict[str, Any]] = field(default_factory=dict)
    rules: list[Any] = field(default_factory=list)
    network: Any = None
    origins: Origins = field(default_factory=dict)
    remarks: list[Remark] = field(default_factory=list)
    tables: dict[str, Table] = field(default_factory=dict)
    came: dict[str, _Came] = field(default_factory=dict)
    said: set[str] = field(default_factory=set)

    def whole(self) -> WithTaken:
        """The definition with everything that came."""
        self.said = {flat(part.text) for part in cautions_in(self.source.parts)}
        parts: list[Part] = []
        for part in self.source.parts:
            parts += self._part(part) if is_taken(part) else [part]
        for came in self.came.values():
            self._take_rules(came)
        together = replace(
            self.source,
            header=self._header(),
            parts=tuple(parts),
            remarks=(*self.source.remarks, *self.remarks),
        )
        return WithTaken(together, self.tables)

    def _part(self, block: BlockPart) -> list[Part]:
        try:
            wanted = self._wanted(block)
            return self._take(wanted)
        except DefinitionError as error:
            return [replace(block, problems=error.problems)]

    def _wanted(self, block: BlockPart) -> _Wanted:
        """What is meant by the block's lines. Raises `DefinitionError`."""
        line = taken_line(block)
        found = self.bank[line.lab]
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
        return _Wanted(block, line, found.source, found.lab, theirs, exercise, cautions)

    def _take(self, wanted: _Wanted) -> list[Part]:
        """The exercise, its cautions above it; what it needs comes into the header.

        Raises `DefinitionError`, and then nothing came.
        """
        needs = self._needs(wanted)
        problems = [
            *self._wrong_given(wanted, needs),
            *self._wrong_network(wanted, needs),
            *self._clashes(wanted, needs),
        ]
        if problems:
            raise DefinitionError(problems)
        for name, formula in wanted.line.given.items():
            if formula.strip() != name:
                self.below.setdefault("let", {})[name] = formula
                self.origins["let", name] = (wanted.block.fields, (GIVEN, name))
        names = self._bring(wanted, needs)
        if needs.network and self._own_network is None:
            self.network = wanted.source.header.data[NETWORK]
            self.origins[NETWORK,] = (wanted.source.header, (NETWORK,))
            names.append("the network")
        came = self.came.setdefault(wanted.line.lab, _Came(wanted))
        came.drawn |= needs.drawn
        came.given |= wanted.line.given.keys()
        came.network |= needs.network
        block = _changed(wanted)
        cautions = self._not_said([*wanted.cautions, *_replaced_cautions(wanted, block)])
        self._tell(wanted, names, len(cautions))
        return [*cautions, block]

    def _needs(self, wanted: _Wanted) -> Needs:
        """What must come; the network also for its family's functions, where there is none here."""
        given = wanted.line.given
        needs = wanted.needs(but=given)
        for_family = needs.functions or _family(wanted.source.header) != FIRST_FAMILY
        if for_family and self._own_network is None and NETWORK not in given:
            return wanted.needs(but=given, also={NETWORK})
        return needs

    def _wrong_given(self, wanted: _Wanted, needs: Needs) -> Iterator[Problem]:
        """Names that are given, but cannot be."""
        known = _names(wanted.needs())
        for name, formula in wanted.line.given.items():
            place = place_of(wanted.block, GIVEN, name)
            if name not in known:
                message = f"'{wanted.name}' needs no '{name}'."
                yield Problem(place, message, nearest(name, known))
            elif name == NETWORK:
                yield from self._wrong_network_given(formula, place)
            elif name in _fixed(wanted) and not self._is_fixed(name, formula):
                message = f"what is drawn for '{wanted.name}' needs '{name}' before all else."
                mend = f"Give '{name}' by this name under 'draw:', 'sources:' or 'tables:'."
                yield Problem(place, message, mend)
            elif formula.strip() == name:
                if not self._group_of(name):
                    message = f"'{name}' is no name of this lab."
                    yield Problem(place, message, "Draw it, or write a formula in its place.")
            elif self._is_something_else(name, formula):
                yield self._told_clash(wanted, name, self._group_of(name))
            else:
                yield from self._wrong_formula(wanted, needs, formula, place)

    def _wrong_network_given(self, formula: str, place: Place) -> Iterator[Problem]:
        if formula.strip() != NETWORK or self._own_network is None:
            message = "only the network of this lab can stand in the place of that one."
            mend = f"Describe one in the header, and write '{NETWORK}: {NETWORK}'."
            yield Problem(place, message, mend)

    def _is_fixed(self, name: str, formula: str) -> bool:
        """Whether a name is there before anything is worked out."""
        return formula.strip() == name and self._group_of(name) in ("draw", "sources", "tables")

    def _is_something_else(self, name: str, formula: str) -> bool:
        """Whether a name stands for something else than this formula already."""
        group = self._group_of(name)
        return bool(group) and (group != "let" or self._groups("let")[name] != formula)

    def _wrong_formula(
        self, wanted: _Wanted, needs: Needs, formula: str, place: Place
    ) -> Iterator[Problem]:
        """What cannot be read of a formula that is given: told here, not at the header."""
        lab, given = wanted.lab, wanted.line.given
        known = {name for group in _GROUPS for name in self._groups(group)} - given.keys()
        known |= {NETWORK} if self._own_network is not None else set()
        known |= {
            name
            for name in needs.names
            if name not in lab.derived
            or not needs_of(lab, [lab.derived[name]]).names & given.keys()
        }
        functions = {**lab.language.functions, **TABLE_FUNCTIONS}
        try:
            Language(functions).formula(formula, place, known)
        except DefinitionError as error:
            yield from error.problems

    def _wrong_network(self, wanted: _Wanted, needs: Needs) -> Iterator[Problem]:
        if self._own_network is None:
            return
        own, theirs = self._place(NETWORK), wanted.source.header.place((NETWORK,))
        if needs.network and not _same(own, theirs):
            yield Problem(
                place_of(wanted.block),
                f"'{wanted.name}' needs the network of '{wanted.line.lab}', and this lab has its "
                f"own ({own.file}, line {own.line}).",
                f"If it is to ask about yours, write 'given: {{{NETWORK}: {NETWORK}}}' below "
                "'from:'.",
            )
            return
        family, other = _family({NETWORK: self._own_network}), _family(wanted.source.header)
        if NETWORK in wanted.source.header.data and family != other:
            yield Problem(
                place_of(wanted.block),
                f"'{wanted.name}' is about a network of the family '{other}', and this lab's is of "
                f"'{family}'.",
                "Take it into a lab of that family.",
            )

    def _clashes(self, wanted: _Wanted, needs: Needs) -> list[Problem]:
        """The names that would come, and are something else here."""
        return [
            self._told_clash(wanted, name, self._group_of(name))
            for _, name in _written(wanted.source.header, needs)
            if self._is_other(wanted.source.header, name)
        ]

    def _is_other(self, theirs: Fields, name: str) -> bool:
        """Whether a name is there already, and not the same thing; words of scenery give way."""
        own = self._group_of(name)
        group = _group_of(theirs.data, name)
        if not own or (own == group == "scenery"):
            return False
        if own == group and own in ("sources", "let"):
            # The same formula of the same names: where one of these is another, that is told.
            value = self._groups(own)[name]
            if _spoken(value) == _spoken(theirs.data[group][name]):
                return False
        return own != group or not _same(self._place(own, name), theirs.place((group, name)))

    def _told_clash(self, wanted: _Wanted, name: str, group: str) -> Problem:
        place = self._place(group, name)
        return Problem(
            place_of(wanted.block),
            f"'{wanted.name}' needs '{name}' of '{wanted.line.lab}', and '{name}' is something "
            f"else here ({place.file}, line {place.line}).",
            f"If the one here is meant, write 'given: {{{name}: {name}}}' below 'from:'; else give "
            "the one here another name.",
        )

    def _bring(self, wanted: _Wanted, needs: Needs) -> list[str]:
        """Put the names into the header, less those that are there; tells which came."""
        theirs, lab = wanted.source.header, wanted.lab
        brought = []
        for group, name in _written(theirs, needs):
            if group == "scenery" and self._group_of(name):
                brought.append(f"{name} as it is called here")
            if self._group_of(name):
                continue
            late = group == "let" and self._hangs_on_given(wanted, name)
            goes = self.below if late else self.above
            goes.setdefault(group, {})[name] = theirs.data[group][name]
            self.origins[group, name] = (theirs, (group, name))
            if group == "tables":
                self.tables[name] = lab.tables[name]
            brought.append(name)
        return brought

    def _hangs_on_given(self, wanted: _Wanted, name: str) -> bool:
        """Whether a formula needs one of this lab's, or one that is given: both stand above it."""
        given = {each for each in wanted.line.given if self._group_of(each) == "let"}
        below = self.below.get("let", {}).keys() | given
        return bool(needs_of(wanted.lab, [wanted.lab.derived[name]]).names & below)

    def _take_rules(self, came: _Came) -> None:
        """The rules about what came; those that need more are told."""
        wanted, lab = came.wanted, came.wanted.lab
        here = {_line(self._place("valid", number)) for number in range(len(self._valid))}
        missed = []
        for number, rule in enumerate(lab.rules):
            place = wanted.source.header.place(("valid", number))
            whole = needs_of(lab, [rule.formula])
            about = whole.drawn & (came.drawn | came.given)
            about_network = whole.network and (came.network or NETWORK in came.given)
            if _line(place) in here or not (about or about_network):
                continue
            needs = needs_of(lab, [rule.formula], but=came.given)
            if self._is_enough(came, needs):
                self._bring(wanted, needs)
                self.rules.append(wanted.source.header.data["valid"][number])
                at = len(self._valid) - 1
                self.origins["valid", at] = (wanted.source.header, ("valid", number))
            else:
                missed.append(" ".join(rule.because.split()))
        if missed:
            self._tell_missed(wanted, missed)

    def _is_enough(self, came: _Came, needs: Needs) -> bool:
        """Whether all that a rule hangs on came, and nothing else has its names."""
        theirs = came.wanted.source.header
        if not needs.drawn <= came.drawn or (needs.network and not came.network):
            return False
        if needs.functions and self._own_network is None:
            return False
        return not any(self._is_other(theirs, name) for _, name in _written(theirs, needs))

    def _not_said(self, cautions: Iterable[ProsePart]) -> list[ProsePart]:
        """The cautions that the lab does not hold yet."""
        new = []
        for part in cautions:
            words = flat(part.text)
            if words not in self.said:
                self.said.add(words)
                new.append(part)
        return new

    def _tell(self, wanted: _Wanted, names: list[str], cautions: int) -> None:
        lab, theirs = wanted.lab, wanted.theirs.place
        things = [*names, *([_counted(cautions, "caution")] if cautions else [])]
        with_it = f"With it came: {', '.join(things)}." if things else "It needs nothing more."
        self._remark(
            wanted,
            Noticed.taken,
            f"'{wanted.block.name}' is taken from {lab.id} {lab.version} ({theirs.file}, line "
            f"{theirs.line}). {with_it}",
            "Nothing to mend. What is changed there changes here, but in no class that is dealt.",
        )
        seen = wanted.line.version
        if seen and seen != lab.version:
            self._remark(
                wanted,
                Noticed.another_version,
                f"'{wanted.block.name}' was taken from version {seen} of '{lab.id}', which is "
                f"{lab.version} now.",
                f"Look at the exercise, then write {lab.version} here.",
            )

    def _tell_missed(self, wanted: _Wanted, missed: list[str]) -> None:
        shown = "; ".join(missed[:3]) + ("; …" if len(missed) > 3 else "")
        self._remark(
            wanted,
            Noticed.rule_not_taken,
            f"{_counted(len(missed), 'rule')} of '{wanted.lab.id}' did not come, because more is "
            f"needed than came: {shown}.",
            "Where this exercise needs such a rule, write one under 'valid:'.",
        )

    def _remark(self, wanted: _Wanted, what: Noticed, sentence: str, mend: str) -> None:
        self.remarks.append(Remark(what, place_of(wanted.block), sentence, mend))

    @property
    def _own_network(self) -> Any:
        """The network that the lab has by now."""
        return self.source.header.data.get(NETWORK, self.network)

    @property
    def _valid(self) -> list[Any]:
        own = self.source.header.data.get("valid", [])
        return [*(own if isinstance(own, list) else []), *self.rules]

    def _groups(self, group: str) -> dict[str, Any]:
        """A group of names of the header, as it is by now."""
        own = _named(self.source.header.data, group)
        return {**self.above.get(group, {}), **own, **self.below.get(group, {})}

    def _group_of(self, name: str) -> str:
        return next((group for group in _GROUPS if name in self._groups(group)), "")

    def _place(self, *path: str | int) -> Place:
        fields, at = self.origins.get(path, (self.source.header, path))
        return fields.place(at)

    def _header(self) -> Fields:
        header = self.source.header
        data = dict(header.data)
        for group in _GROUPS:
            if self.above.get(group) or self.below.get(group):
                data[group] = self._groups(group)
        if self.network is not None:
            data[NETWORK] = self.network
        if self.rules:
            data["valid"] = self._valid
        return replace(header, data=data, origins={**header.origins, **self.origins})


def _changed(wanted: _Wanted) -> BlockPart:
    """The other lab's block with what this lab's says instead."""
    block, theirs = wanted.block, wanted.theirs.fields
    own = wanted.own
    header = wanted.source.header
    data = {**theirs.data, **own}
    origins: Origins = {(name,): (theirs, (name,)) for name in theirs.data if name not in own}
    accepted = data.get("accepted", [])
    if "accepted" not in own and isinstance(accepted, list):
        items = [*accepted]
        for number, item in enumerate(header.data.get("accepted", [])):
            if item.get("exercise") == wanted.name:
                origins["accepted", len(items)] = (header, ("accepted", number))
                items.append({name: said for name, said in item.items() if name != "exercise"})
        if items:
            data["accepted"] = items
    fields = replace(block.fields, data=data, origins=origins)
    taken = Taken(wanted.lab.id, wanted.lab.version, wanted.name)
    return replace(block, fields=fields, taken=taken)


def _replaced_cautions(wanted: _Wanted, block: BlockPart) -> Iterator[ProsePart]:
    """The cautions in fields that this lab writes anew, and that it does not repeat."""
    label = f"exercise '{wanted.name}': "
    for name, old in wanted.theirs.fields.data.items():
        new = block.fields.data[name]
        if new == old or not isinstance(old, str):
            continue
        place = wanted.theirs.fields.place((name,), label)
        if name == _CAUTION and flat(stated(block)) != flat(stated(wanted.theirs)):
            yield quoted(wanted.theirs, place)
            continue
        said = {flat(part.text) for part in cautions_in([ProsePart(str(new), place)])}
        for part in cautions_in([ProsePart(old, place)]):
            if flat(part.text) not in said:
                yield part


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


def _fixed(wanted: _Wanted) -> set[str]:
    """Names that a draw of the other lab hangs on."""
    drawn = wanted.needs(but=wanted.line.given).drawn
    return {
        name
        for parameter in wanted.lab.parameters
        if parameter.name in drawn
        for name in parameter.names
    }


def _written(theirs: Fields, needs: Needs) -> Iterator[tuple[str, str]]:
    """Group and name of all that is needed, in the order of the other lab's header."""
    names = needs.names | needs.scenery
    for group in _GROUPS:
        for name in _named(theirs.data, group):
            if name in names:
                yield group, name


def _named(data: Mapping[str, Any], group: str) -> dict[str, Any]:
    names = data.get(group, {})
    return names if isinstance(names, dict) else {}


def _group_of(data: Mapping[str, Any], name: str) -> str:
    return next((group for group in _GROUPS if name in _named(data, group)), "")


def _field_of(text: Formula | Prose, exercise: str) -> str:
    """The field of an exercise that a text stands in."""
    return text.place.field.removeprefix(f"exercise '{exercise}': ").partition(" → ")[0]


def _names(needs: Needs) -> frozenset[str]:
    return needs.names | ({NETWORK} if needs.network else set())


def _family(header: Fields | Mapping[str, Any]) -> str:
    data = header.data if isinstance(header, Fields) else header
    network = data.get(NETWORK)
    family = network.get("family") if isinstance(network, dict) else None
    return family if isinstance(family, str) else FIRST_FAMILY


def _spoken(value: Any) -> Any:
    """A value of a book, or a formula, without the way its lines end."""
    return (
        {k: flat(str(v)) for k, v in value.items()} if isinstance(value, dict) else flat(str(value))
    )


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _line(place: Place) -> tuple[str, int]:
    return place.file, place.line


def _same(one: Place, other: Place) -> bool:
    return _line(one) == _line(other)
