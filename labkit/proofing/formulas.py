"""Names that nothing uses, and values in formulas that come from nowhere."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Final

from jinja2 import nodes

from labkit.lab.definition import NETWORK, Lab, Listing
from labkit.language.bits import OF_BITS
from labkit.language.expression import Formula, Prose
from labkit.language.sandbox import environment
from labkit.proofing.findings import Finding, Severity, shown
from labkit.proofing.sample import names_of, needed

SMALL: Final = 10
"""Whole numbers up to this one count things (taps, ends, halves): they need no source."""
_COUNTING: Final = frozenset({"fixed", "log", "round", "range", *OF_BITS})
"""Functions of their first value: the others say how many decimals, digits or bits, and which."""


@dataclass(frozen=True, kw_only=True)
class Unused(Finding):
    """A name that no rule, network, exercise or text uses."""

    id: ClassVar[str] = "unused"
    usual: ClassVar[Severity] = Severity.LOOK
    """It does no harm, but it is mostly a slip of the author's."""
    name: str
    group: str

    @property
    def of(self) -> str:
        """The name."""
        return self.name

    @property
    def sentence(self) -> str:
        """The name."""
        return f"'{self.name}' is not used by any rule, network, exercise or text."

    @property
    def mend(self) -> str:
        """Use it or drop it."""
        return "Use it, or take the line out."


@dataclass(frozen=True, kw_only=True)
class Unsourced(Finding):
    """A number in a formula that the lab does not say the source of."""

    id: ClassVar[str] = "unsourced"
    usual: ClassVar[Severity] = Severity.LOOK
    """It may be right; nobody can tell."""
    value: float
    formula: str
    formulas: int

    @property
    def of(self) -> str:
        """The number as the sentence writes it."""
        return f"{self.value:g}"

    @property
    def sentence(self) -> str:
        """The number and its first formula."""
        more = self.formulas - 1
        others = f" and in {more} more formula{'' if more == 1 else 's'}" if more else ""
        return f"{self.value:g} in '{self.formula}'{others} has no source."

    @property
    def mend(self) -> str:
        """A named constant."""
        return (
            "Give it a name under 'sources:' with its value and where it comes from, and write the "
            "name in the formula."
        )


def formula_findings(lab: Lab) -> list[Finding]:
    """What the formulas show without a draw."""
    return [*_unused(lab), *_unsourced(lab)]


def _unused(lab: Lab) -> Iterator[Unused]:
    used = needed(lab, _roots(lab))
    for parameter in lab.parameters:
        if parameter.name not in used:
            yield Unused(place=parameter.place, name=parameter.name, group="draw")
    for name, constant in lab.constants.items():
        if name not in used:
            yield Unused(place=constant.place, name=name, group="sources")
    for name, table in lab.tables.items():
        if name not in used:
            yield Unused(place=table.place, name=name, group="tables")
    for scene in lab.scenery:
        if scene.name not in lab.language.said:
            yield Unused(place=scene.place, name=scene.name, group="scenery")
    for name, formula in lab.derived.items():
        if name not in used:
            yield Unused(place=formula.place, name=name, group="let")


def _roots(lab: Lab) -> frozenset[str]:
    roots = {name for part in lab.body if isinstance(part, Prose) for name in part.names}
    for exercise in lab.exercises:
        roots |= names_of(exercise.texts)
    for rule in lab.rules:
        roots |= rule.formula.names
    if lab.difficulty:
        roots |= lab.difficulty.formula.names
    for parameter in lab.parameters:
        roots |= parameter.names
    if lab.network:
        roots.add(NETWORK)
    return frozenset(roots)


def _unsourced(lab: Lab) -> Iterator[Unsourced]:
    listed = {
        value
        for parameter in lab.parameters
        if isinstance(parameter.choices, Listing)
        for value in parameter.choices.values
        if not isinstance(value, str)
    }
    users: dict[float, list[tuple[Formula, str]]] = {}
    for formula, exercise in _formulas(lab):
        for value in {*_constants(formula)}:
            if not _plain(value) and value not in listed:
                users.setdefault(value, []).append((formula, exercise))
    for value, found in users.items():
        formula, exercise = found[0]
        yield Unsourced(
            place=formula.place,
            exercise=exercise,
            value=value,
            formula=shown(formula.text),
            formulas=len(found),
        )


def _formulas(lab: Lab) -> Iterator[tuple[Formula, str]]:
    """Formulas that work values out. What rules and the difficulty compare is the author's own."""
    own = {rule.formula.place for rule in lab.rules}
    if lab.difficulty:
        own.add(lab.difficulty.formula.place)
    counts = {parameter.count.place for parameter in lab.parameters if parameter.count}
    for formula in lab.texts:
        if formula.place not in own | counts:
            yield formula, ""
    for exercise in lab.exercises:
        for text in exercise.texts:
            if isinstance(text, Formula):
                yield text, exercise.id


def _plain(value: float) -> bool:
    """A small whole number, a half, or a power of ten (percent and prefixes among them)."""
    size = abs(value)
    if size == 0.5 or (size <= SMALL and size == int(size)):
        return True
    return math.isclose(size, 10.0 ** round(math.log10(size)), rel_tol=1e-12)


def _constants(formula: Formula) -> Iterator[float]:
    """The numbers in a formula but for indexes, slices and how many decimals, digits or bits."""
    tree = environment().parse("{{ " + formula.text + " }}")
    pending: list[nodes.Node] = [tree]
    while pending:
        node = pending.pop(0)
        if isinstance(node, nodes.Const):
            if isinstance(node.value, int | float) and not isinstance(node.value, bool):
                yield node.value
            continue
        if isinstance(node, nodes.Getitem):
            pending.append(node.node)
            continue
        if isinstance(node, nodes.Filter) and node.name in _COUNTING:
            pending += [node.node] if node.node else []
            continue
        if isinstance(node, nodes.Call) and _counts(node.node):
            pending += node.args[:1]
            continue
        pending += node.iter_child_nodes()


def _counts(function: nodes.Node) -> bool:
    return isinstance(function, nodes.Name) and function.name in _COUNTING
