"""Exercises of other labs, put into one with what they need: `from: network-power/warm-copper`.

What is drawn for an exercise, what follows from it, its scenery, values of books, tables, pictures
and its network come along, and the cautions that stand over it. Names keep their names, so each is
drawn by a stream of its own as in the other lab. A name that is there already is told, never
replaced; `given:` puts what this lab has in its place. A rule comes where it needs no chance beyond
what came; one that needs more is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from labkit.doors.family import FIRST_FAMILY
from labkit.lab.definition import NETWORK, Noticed, Remark
from labkit.lab.needs import Needs, needs_of
from labkit.lab.reading.cautions import cautions_in, flat
from labkit.lab.reading.growing_header import GrowingHeader, family_of, same_line, written
from labkit.lab.reading.sections import Part
from labkit.lab.reading.source import BlockPart, ProsePart, Source
from labkit.lab.reading.taken_line import GIVEN, is_taken, place_of
from labkit.lab.reading.wanted import BankLab, Wanted, wanted_by
from labkit.language.expression import Language
from labkit.language.problems import DefinitionError, Place, Problem, nearest
from labkit.language.tables import TABLE_FUNCTIONS, Table


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
    return _Taking(source, bank, GrowingHeader(source.header)).whole()


@dataclass(slots=True)
class _Came:
    """What came from one lab: of it the rules hang on."""

    wanted: Wanted
    drawn: set[str] = field(default_factory=set)
    given: set[str] = field(default_factory=set)
    network: bool = False


@dataclass(slots=True)
class _Taking:
    """Puts exercises into `source`, and what they need into its `header`."""

    source: Source
    bank: Mapping[str, BankLab]
    header: GrowingHeader
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
            header=self.header.whole(),
            parts=tuple(parts),
            remarks=(*self.source.remarks, *self.remarks),
        )
        return WithTaken(together, self.tables)

    def _part(self, block: BlockPart) -> list[Part]:
        try:
            return self._take(wanted_by(block, self.bank))
        except DefinitionError as error:
            return [replace(block, problems=error.problems)]

    def _take(self, wanted: Wanted) -> list[Part]:
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
                self.header.give(name, formula, wanted.block.fields, (GIVEN, name))
        names = self._bring(wanted, needs)
        if needs.network and self.header.network is None:
            self.header.put_network(wanted.source.header)
            names.append("the network")
        came = self.came.setdefault(wanted.line.lab, _Came(wanted))
        came.drawn |= needs.drawn
        came.given |= wanted.line.given.keys()
        came.network |= needs.network
        block = wanted.changed()
        cautions = self._not_said([*wanted.cautions, *wanted.replaced_cautions(block)])
        self._tell(wanted, names, len(cautions))
        return [*cautions, block]

    def _needs(self, wanted: Wanted) -> Needs:
        """What must come; the network also for its family's functions, where there is none here."""
        given = wanted.line.given
        needs = wanted.needs(but=given)
        for_family = needs.functions or _family(wanted) != FIRST_FAMILY
        if for_family and self.header.network is None and NETWORK not in given:
            return wanted.needs(but=given, also={NETWORK})
        return needs

    def _wrong_given(self, wanted: Wanted, needs: Needs) -> Iterator[Problem]:
        """Names that are given, but cannot be."""
        known = wanted.known()
        for name, formula in wanted.line.given.items():
            place = place_of(wanted.block, GIVEN, name)
            is_own = formula.strip() == name
            if name not in known:
                message = f"'{wanted.name}' needs no '{name}'."
                yield Problem(place, message, nearest(name, known))
            elif name == NETWORK:
                yield from self._wrong_network_given(formula, place)
            elif name in wanted.fixed() and not (is_own and self.header.is_drawn(name)):
                message = f"what is drawn for '{wanted.name}' needs '{name}' before all else."
                mend = f"Give '{name}' by this name under 'draw:', 'sources:' or 'tables:'."
                yield Problem(place, message, mend)
            elif is_own:
                if not self.header.group_of(name):
                    message = f"'{name}' is no name of this lab."
                    yield Problem(place, message, "Draw it, or write a formula in its place.")
            elif self.header.is_something_else(name, formula):
                yield self._told_clash(wanted, name)
            else:
                yield from self._wrong_formula(wanted, needs, formula, place)

    def _wrong_network_given(self, formula: str, place: Place) -> Iterator[Problem]:
        if formula.strip() != NETWORK or self.header.network is None:
            message = "only the network of this lab can stand in the place of that one."
            mend = f"Describe one in the header, and write '{NETWORK}: {NETWORK}'."
            yield Problem(place, message, mend)

    def _wrong_formula(
        self, wanted: Wanted, needs: Needs, formula: str, place: Place
    ) -> Iterator[Problem]:
        """What cannot be read of a formula that is given: told here, not at the header."""
        lab, given = wanted.lab, wanted.line.given
        known = self.header.names - given.keys()
        known |= {NETWORK} if self.header.network is not None else set()
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

    def _wrong_network(self, wanted: Wanted, needs: Needs) -> Iterator[Problem]:
        if self.header.network is None:
            return
        own, theirs = self.header.place(NETWORK), wanted.source.header.place((NETWORK,))
        if needs.network and not same_line(own, theirs):
            yield Problem(
                place_of(wanted.block),
                f"'{wanted.name}' needs the network of '{wanted.line.lab}', and this lab has its "
                f"own ({own.file}, line {own.line}).",
                f"If it is to ask about yours, write 'given: {{{NETWORK}: {NETWORK}}}' below "
                "'from:'.",
            )
            return
        family, other = family_of(self.header.network), _family(wanted)
        if NETWORK in wanted.source.header.data and family != other:
            yield Problem(
                place_of(wanted.block),
                f"'{wanted.name}' is about a network of the family '{other}', and this lab's is of "
                f"'{family}'.",
                "Take it into a lab of that family.",
            )

    def _clashes(self, wanted: Wanted, needs: Needs) -> list[Problem]:
        """The names that would come, and are something else here."""
        theirs = wanted.source.header
        return [
            self._told_clash(wanted, name)
            for _, name in written(theirs, needs)
            if self.header.is_other(theirs, name)
        ]

    def _told_clash(self, wanted: Wanted, name: str) -> Problem:
        place = self.header.place(self.header.group_of(name), name)
        return Problem(
            place_of(wanted.block),
            f"'{wanted.name}' needs '{name}' of '{wanted.line.lab}', and '{name}' is something "
            f"else here ({place.file}, line {place.line}).",
            f"If the one here is meant, write 'given: {{{name}: {name}}}' below 'from:'; else give "
            "the one here another name.",
        )

    def _bring(self, wanted: Wanted, needs: Needs) -> list[str]:
        """Put the names into the header, less those that are there; tells which came."""
        theirs = wanted.source.header
        brought = []
        for group, name in written(theirs, needs):
            if group == "scenery" and self.header.group_of(name):
                brought.append(f"{name} as it is called here")
            if self.header.group_of(name):
                continue
            late = group == "let" and self._hangs_on_given(wanted, name)
            self.header.put(group, name, theirs, late=late)
            if group == "tables":
                self.tables[name] = wanted.lab.tables[name]
            brought.append(name)
        return brought

    def _hangs_on_given(self, wanted: Wanted, name: str) -> bool:
        """Whether a formula needs one of this lab's, or one that is given: both stand above it."""
        given = {each for each in wanted.line.given if self.header.group_of(each) == "let"}
        below = self.header.below.get("let", {}).keys() | given
        return bool(needs_of(wanted.lab, [wanted.lab.derived[name]]).names & below)

    def _take_rules(self, came: _Came) -> None:
        """The rules about what came; those that need more are told."""
        lab, theirs = came.wanted.lab, came.wanted.source.header
        rules_here = [self.header.place("valid", at) for at in range(len(self.header.valid))]
        missed = []
        for number, rule in enumerate(lab.rules):
            place = theirs.place(("valid", number))
            whole = needs_of(lab, [rule.formula])
            about = whole.drawn & (came.drawn | came.given)
            about_network = whole.network and (came.network or NETWORK in came.given)
            is_here = any(same_line(place, here) for here in rules_here)
            if is_here or not (about or about_network):
                continue
            needs = needs_of(lab, [rule.formula], but=came.given)
            if self._is_enough(came, needs):
                self._bring(came.wanted, needs)
                self.header.put_rule(number, theirs)
            else:
                missed.append(" ".join(rule.because.split()))
        if missed:
            self._tell_missed(came.wanted, missed)

    def _is_enough(self, came: _Came, needs: Needs) -> bool:
        """Whether all that a rule hangs on came, and nothing else has its names."""
        theirs = came.wanted.source.header
        if not needs.drawn <= came.drawn or (needs.network and not came.network):
            return False
        if needs.functions and self.header.network is None:
            return False
        return not any(self.header.is_other(theirs, name) for _, name in written(theirs, needs))

    def _not_said(self, cautions: Iterable[ProsePart]) -> list[ProsePart]:
        """The cautions that the lab does not hold yet."""
        new = []
        for part in cautions:
            words = flat(part.text)
            if words not in self.said:
                self.said.add(words)
                new.append(part)
        return new

    def _tell(self, wanted: Wanted, names: list[str], cautions: int) -> None:
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

    def _tell_missed(self, wanted: Wanted, missed: list[str]) -> None:
        shown = "; ".join(missed[:3]) + ("; …" if len(missed) > 3 else "")
        self._remark(
            wanted,
            Noticed.rule_not_taken,
            f"{_counted(len(missed), 'rule')} of '{wanted.lab.id}' did not come, because more is "
            f"needed than came: {shown}.",
            "Where this exercise needs such a rule, write one under 'valid:'.",
        )

    def _remark(self, wanted: Wanted, what: Noticed, sentence: str, mend: str) -> None:
        self.remarks.append(Remark(what, place_of(wanted.block), sentence, mend))


def _family(wanted: Wanted) -> str:
    return family_of(wanted.source.header.data.get(NETWORK))


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
