"""One change to a ladder program: the changes that mend it name the mistake that was made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from labkit.fieldbus.ladder import Branch, Coil, CoilKind, Contact, Group, Program, Rung
from labkit.kinds.ladder.data import Part


@dataclass(frozen=True, slots=True)
class Repair:
    """A program changed in one place, the slip that this change undoes, and what to tell."""

    slip: str
    sentence: str
    program: Program


def repairs(program: Program, parts: Mapping[Part, Sequence[str]]) -> Iterator[Repair]:
    """Every program one change away, the likeliest mistake first; `parts` lists the operands."""
    for number, rung in enumerate(program.rungs, 1):
        sentence = f"Rung {number}: nothing holds the coil once its button is let go; a contact of "
        sentence += "the coil's own operand belongs beside the contact that starts it."
        for changed in _sealed(rung):
            yield Repair("missing-seal-in", sentence, _with(program, number, changed))
    for number, rung in enumerate(program.rungs, 1):
        sentence = f"Rung {number}: a contact works the wrong way round; compare normally open and "
        sentence += "normally closed, and whether the input is on or off at rest."
        for changed in _flipped(rung):
            yield Repair("negated-contact", sentence, _with(program, number, changed))
    everything = [*parts["inputs"], *parts["outputs"], *parts["memory"]]
    for number, rung in enumerate(program.rungs, 1):
        for old, new, changed in _replaced(rung, everything):
            read_back = old in parts["outputs"] and new in parts["inputs"]
            slip = "output-read-as-input" if read_back else "wrong-operand"
            sentence = (
                f"Rung {number}: a contact reads the output {old} where an input belongs."
                if read_back
                else f"Rung {number}: a contact reads {old}, which is not the right one; compare "
                "area, byte and bit."
            )
            yield Repair(slip, sentence, _with(program, number, changed))
    for number, rung in enumerate(program.rungs, 1):
        for operand in (*parts["outputs"], *parts["memory"]):
            sentence = (
                f"Rung {number}: its coil writes {rung.coil.operand}, which is not the right "
            )
            sentence += "operand; compare area, byte and bit."
            changed = replace(rung, coil=replace(rung.coil, operand=operand))
            yield Repair("wrong-coil", sentence, _with(program, number, changed))
        for kind in CoilKind:
            sentence = (
                f"Rung {number}: the kind of its coil is not right; a plain coil follows its "
            )
            sentence += "rung, a set or reset coil stays."
            changed = replace(rung, coil=replace(rung.coil, kind=kind))
            yield Repair("wrong-coil-kind", sentence, _with(program, number, changed))


def broken_programs(program: Program, operands: Sequence[str]) -> Iterator[Program]:
    """Every program one change away that a trainee may well have made instead."""
    for number, rung in enumerate(program.rungs, 1):
        changes: list[Rung] = [
            *_without_branch(rung),
            *_flipped(rung),
            *(changed for _, _, changed in _replaced(rung, operands)),
            *(replace(rung, coil=replace(rung.coil, operand=operand)) for operand in operands),
            *(replace(rung, coil=replace(rung.coil, kind=kind)) for kind in CoilKind),
        ]
        for changed in changes:
            yield _with(program, number, changed)
    last = program.rungs[-1]
    empty = replace(last, groups=last.groups[:1], coil=Coil(last.coil.operand))
    yield Program((*program.rungs, empty))


def _with(program: Program, number: int, rung: Rung) -> Program:
    """The program with its rung `number`, counted from 1, changed."""
    at = number - 1
    return Program((*program.rungs[:at], rung, *program.rungs[at + 1 :]))


def _sealed(rung: Rung) -> Iterator[Rung]:
    """A contact of the coil's operand beside each group in turn."""
    branch = (Contact(rung.coil.operand),)
    for at, group in enumerate(rung.groups):
        yield _with_group(rung, at, (*group, branch))


def _without_branch(rung: Rung) -> Iterator[Rung]:
    for at, group in enumerate(rung.groups):
        for place in range(len(group)) if len(group) > 1 else ():
            yield _with_group(rung, at, (*group[:place], *group[place + 1 :]))


def _flipped(rung: Rung) -> Iterator[Rung]:
    for at, place, which, contact in _places(rung):
        yield _with_contact(rung, (at, place, which), replace(contact, closed=not contact.closed))


def _replaced(rung: Rung, operands: Sequence[str]) -> Iterator[tuple[str, str, Rung]]:
    for at, place, which, contact in _places(rung):
        for operand in operands:
            if operand != contact.operand:
                changed = _with_contact(rung, (at, place, which), replace(contact, operand=operand))
                yield contact.operand, operand, changed


def _places(rung: Rung) -> Iterator[tuple[int, int, int, Contact]]:
    for at, group in enumerate(rung.groups):
        for place, branch in enumerate(group):
            for which, contact in enumerate(branch):
                yield at, place, which, contact


def _with_contact(rung: Rung, where: tuple[int, int, int], contact: Contact) -> Rung:
    at, place, which = where
    group = rung.groups[at]
    branch: Branch = (*group[place][:which], contact, *group[place][which + 1 :])
    return _with_group(rung, at, (*group[:place], branch, *group[place + 1 :]))


def _with_group(rung: Rung, at: int, group: Group) -> Rung:
    return replace(rung, groups=(*rung.groups[:at], group, *rung.groups[at + 1 :]))
