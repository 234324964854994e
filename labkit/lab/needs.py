"""What an exercise needs of its lab, and what that needs: all that must come along with it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from labkit.lab.definition import NETWORK, Lab
from labkit.language.expression import Formula, Prose, function_names
from labkit.language.tables import TABLE_FUNCTIONS


@dataclass(frozen=True, slots=True)
class Needs:
    """Names by what they are; whether the network, or no more than its family's functions."""

    drawn: frozenset[str] = frozenset()
    derived: frozenset[str] = frozenset()
    given: frozenset[str] = frozenset()
    scenery: frozenset[str] = frozenset()
    network: bool = False
    functions: bool = False

    @property
    def names(self) -> frozenset[str]:
        """All names but those of the scenery."""
        return self.drawn | self.derived | self.given


def needs_of(
    lab: Lab,
    texts: Iterable[Formula | Prose],
    *,
    but: Collection[str] = (),
    also: Iterable[str] = (),
) -> Needs:
    """What these texts of a lab need, and the names `also`.

    Names in `but` are left out, with all that only they need. `Needs.given` are the values of
    books, and tables.
    """
    parameters = {parameter.name: parameter for parameter in lab.parameters}
    found: set[str] = set()
    others: set[str] = set()
    pending = [*texts]
    names = [*also]
    while pending or names:
        if pending:
            text = pending.pop()
            others |= text.others
            names += text.names
            continue
        name = names.pop()
        if name in found or name in but:
            continue
        found.add(name)
        if name == NETWORK and lab.network:
            pending += _of_network(lab)
            names += lab.network.names
        elif formula := lab.derived.get(name):
            pending.append(formula)
        elif parameter := parameters.get(name):
            pending += [parameter.count] if parameter.count else []
            names += parameter.names
    scenery = lab.language.scenery.keys()
    return Needs(
        frozenset(found & parameters.keys()),
        frozenset(found & lab.derived.keys()),
        frozenset(found & (lab.constants.keys() | lab.tables.keys())),
        frozenset(others & scenery),
        NETWORK in found,
        bool(others - scenery - function_names() - TABLE_FUNCTIONS.keys()),
    )


def _of_network(lab: Lab) -> list[Formula]:
    """The formulas of the network's block."""
    return [text for text in lab.texts if text.place.field.partition(" ")[0] == NETWORK]
