"""What a kind's reader is given: the fields of one block, and the lab's language to read them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TypeVar

from labkit.doors.family import FIRST_FAMILY
from labkit.doors.installed import NotOfferedError
from labkit.doors.network import NetworkRecipe
from labkit.lab.reading.source import Fields
from labkit.language.expression import Beyond, Formula, Language, Prose, nothing_beyond
from labkit.language.number import QuantityError, read_number
from labkit.language.problems import DefinitionError, Place, Problem
from labkit.language.quantity import Unit, unit_named, what_unit

_MOST_DIGITS = 64
Part = TypeVar("Part")


@dataclass(frozen=True, slots=True)
class FieldReader:
    """Reads formulas, prose and units out of fields, so that each error carries its place.

    `texts` keeps every formula and prose that was read; `family` is that of the lab's network,
    `recipe` how it is made, where the lab has one; `beyond` knows why a name cannot be used here.
    """

    fields: Fields
    language: Language
    known: frozenset[str]
    label: str = ""
    texts: list[Formula | Prose] = field(default_factory=list)
    family: str = FIRST_FAMILY
    recipe: NetworkRecipe | None = None
    beyond: Beyond = nothing_beyond

    def place(self, *path: str | int) -> Place:
        """Where the field at `path` stands."""
        return self.fields.place(path, self.label)

    def formula(self, text: str, *path: str | int) -> Formula:
        """The formula written at `path`."""
        formula = self.language.formula(text, self.place(*path), self.known, self.beyond)
        self.texts.append(formula)
        return formula

    def prose(self, text: str, *path: str | int) -> Prose:
        """The prose written at `path`."""
        prose = self.language.prose(text, self.place(*path), self.known, self.beyond)
        self.texts.append(prose)
        return prose

    def number(self, text: str, *path: str | int) -> Decimal:
        """The number written at `path`."""
        try:
            return read_number(text)
        except QuantityError as error:
            based = re.fullmatch(r"(16|8|2)#([\dA-Fa-f]+)", text.strip())
            if based and (decimal := _in_base(based[2], int(based[1]))):
                mend = f"Here it stands in decimal digits: {decimal}"
            elif not re.match(r"\s*[-+]?[\d.,]", text) or "two ways" in str(error):
                mend = "Write it in digits, such as 2 or 0.5."
            else:
                mend = f"Write the number alone, without a unit or a word: {_begins(text)}"
            raise self.error(f"'{text}' is not a number.", mend, *path) from error

    def unit(self, text: str, *path: str | int) -> Unit:
        """The unit written at `path`."""
        try:
            return unit_named(text)
        except QuantityError as error:
            sentence, mend = what_unit(text, error)
            bare = re.sub(r"^[-+]?[\d.,]+\s*", "", text)
            if bare != text and _is_unit(bare):
                mend = f"Write the unit alone: {bare}"
            raise self.error(sentence, mend, *path) from error

    def check_unit(self, formula: Formula, unit: Unit, *path: str | int) -> None:
        """Raise `DefinitionError` where the formula is a column's value in another unit.

        A mere number may be asked of any column.
        """
        of = formula.shape
        if not isinstance(of, Unit) or unit.dimension == "count" or of.same_as(unit):
            return
        raise self.error(
            f"'{formula.text}' is the value of a column in {of.symbol}, not in {unit.symbol}.",
            f"Write 'unit: {of.symbol}', or a formula that makes {unit.symbol} of it.",
            *path,
        )

    def of_family(self, part_for: Callable[[str], Part]) -> Part:
        """A part of the lab's family, as `labkit.doors.installed` finds it.

        Raises `DefinitionError` where the family leaves it out.
        """
        try:
            return part_for(self.family)
        except NotOfferedError as error:
            raise self.error(
                f"needs the {error.what} of a network family, and '{self.family}' has none."
                f"{error.why and ' '}{error.why}",
                "Ask something else of this network.",
                "kind",
            ) from error

    def error(self, message: str, mend: str, *path: str | int) -> DefinitionError:
        """An error at `path`."""
        return DefinitionError([Problem(self.place(*path), message, mend)])


def _is_unit(text: str) -> bool:
    """Whether there is such a unit."""
    try:
        unit_named(text)
    except QuantityError:
        return False
    return bool(text)


def _in_base(digits: str, base: int) -> str:
    """The number in decimal digits; "" where its digits are not of the base."""
    try:
        return str(int(digits, base)) if len(digits) <= _MOST_DIGITS else ""
    except ValueError:
        return ""


def _begins(text: str) -> str:
    """The number that a text begins with."""
    found = re.match(r"[-+]?\d+(?:\.\d+)?", text.strip())
    return found[0] if found else "0.5"
