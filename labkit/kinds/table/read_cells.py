"""Reading the blanks of a table: what is to be written, what is right, which slips are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import Field

from labkit.kinds.common.cell_data import Cell, CellKey
from labkit.kinds.common.cells import MAX_TYPED
from labkit.kinds.common.number_data import NumberKey, Slip
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_number import (
    NumberFields,
    NumberFormulas,
    read_number_key,
)
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import SlipFields, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error, nearest

_WRITES: Final = ("number", "whole", "hex", "word")
_LARGEST: Final = 10**12
_LARGEST_HEX: Final = 0xFFFF_FFFF

Names = Mapping[str, Value]


class BlankFields(NumberFields):
    """A blank: `answer` is a formula; `unit`, `words` or `write` say what the trainee writes."""

    answer: Text
    write: str | None = None
    unit: str | None = None
    words: list[Text] | None = None
    digits: Annotated[int, Field(ge=1, le=8)] = 1
    slips: list[SlipFields] = Field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Slip:
    id: str
    formula: Formula
    tell: Prose


@dataclass(frozen=True, slots=True)
class Blank:
    """A blank that has been read. `cell` is for the trainee, `key` for the checker."""

    write: str
    answer: Formula
    slips: tuple[_Slip, ...]
    unit: str
    words: tuple[Prose, ...]
    number: NumberFormulas | None
    digits: int

    def cell(self, name: str, names: Names) -> Cell:
        """What is to be written."""
        if self.number:
            return {"name": name, "write": "number", "unit": self.unit, **self.number.form}
        if self.write == "hex":
            return {"name": name, "write": "hex", "digits": self.digits}
        if self.write == "word":
            return {"name": name, "write": "word", "words": self._words(names)}
        return {"name": name, "write": "whole"}

    def key(self, names: Names) -> CellKey:
        """What is right, and the slips that an answer could show."""
        slips: list[Slip[Any]] = []
        for slip in self.slips:
            wrong = self.slip_value(slip.formula, names)
            if wrong is not None:
                slips.append({"id": slip.id, "value": wrong, "tell": slip.tell.render(names)})
        if self.number is None:
            return {"value": self._value(self.answer, names), "slips": slips}
        key: NumberKey = {"slips": slips, **self.number.right(names)}
        if self.number.limit is not None:
            key["breaks"] = self.number.broken(names)
        return key

    def slip_value(self, formula: Formula, names: Names) -> Any:
        """A slip's value; None where nobody could write it here (a half as a whole number)."""
        if self.write == "word":
            return self._value(formula, names)
        number = formula.number(names)
        if self.write == "number":
            return number
        low, high = self._span
        return int(number) if number == int(number) and low <= number <= high else None

    @property
    def _span(self) -> tuple[int, int]:
        return (0, _LARGEST_HEX) if self.write == "hex" else (-_LARGEST, _LARGEST)

    def _words(self, names: Names) -> list[str]:
        words = [_one_line(word.render(names)) for word in self.words]
        for index, word in enumerate(words):
            if not word or word in words[:index]:
                raise definition_error(
                    self.words[index].place, f"the word '{word}' is there twice, or empty."
                )
            if len(word) > MAX_TYPED:
                raise definition_error(
                    self.words[index].place, f"a word has {MAX_TYPED} characters at most."
                )
        return words

    def _value(self, formula: Formula, names: Names) -> int | str:
        if self.write == "word":
            word, words = _one_line(str(formula.evaluate(names))), self._words(names)
            if word not in words:
                raise definition_error(
                    formula.place, f"'{word}' is not one of the words.", nearest(word, words)
                )
            return word
        number = formula.number(names)
        low, high = self._span
        if number != int(number) or not low <= number <= high:
            raise definition_error(
                formula.place,
                f"'{formula.text}' gives {number:g}, no whole number from {low} to {high}.",
                "Change the formula, or write 'unit' for a number with decimals.",
            )
        return int(number)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def read_blank(fields: Any, reader: FieldReader, *path: str | int) -> Blank:
    """The blank written at `path`. Raises `DefinitionError`."""
    if fields.answer is None:
        raise reader.error(
            "is neither given nor a blank.",
            "Write plain text, or a formula after 'answer:'.",
            *path,
        )
    write = _write(fields, reader, *path)
    unit = reader.unit(fields.unit or "", *path, "unit")
    check_ids([slip.id for slip in fields.slips], "slip", reader, *path, "slips")
    slips = tuple(
        _Slip(
            slip.id,
            reader.formula(slip.answer, *path, "slips", index, "answer"),
            reader.prose(slip.tell, *path, "slips", index, "tell"),
        )
        for index, slip in enumerate(fields.slips)
    )
    words = tuple(
        reader.prose(word, *path, "words", index) for index, word in enumerate(fields.words or ())
    )
    is_number = write == "number"
    number = read_number_key(fields.answer, unit, fields, reader, *path) if is_number else None
    return Blank(
        write=write,
        answer=number.answer if number else reader.formula(fields.answer, *path, "answer"),
        slips=slips,
        unit=unit.symbol,
        words=words,
        number=number,
        digits=fields.digits,
    )


def _write(fields: Any, reader: FieldReader, *path: str | int) -> str:
    """What the trainee writes: as said, or as `unit` and `words` show."""
    write = fields.write
    if write is None:
        write = "word" if fields.words is not None else "number" if fields.unit else None
    if write is None:
        raise reader.error(
            "does not say what is to be written.",
            "Add 'unit: V', 'words: [a, b]', 'write: whole' or 'write: hex'.",
            *path,
        )
    if write not in _WRITES:
        raise reader.error(
            f"'{write}' is nothing to write.", nearest(write, _WRITES), *(*path, "write")
        )
    if (write == "word") != (fields.words is not None):
        raise reader.error(
            "words to choose from belong to 'write: word'.",
            "Write both, or neither.",
            *(*path, "words"),
        )
    if fields.words is not None and len(fields.words) < 2:
        raise reader.error("needs at least two words.", "", *(*path, "words"))
    if write != "number" and fields.unit is not None:
        raise reader.error(
            f"a unit has no use with 'write: {write}'.", "Keep one of the two.", *(*path, "unit")
        )
    extra = fields.one_sided_or_whole
    if write != "number" and extra:
        raise reader.error(
            f"'{extra}' belongs to a number with a unit, not to 'write: {write}'.",
            "Write 'unit', or take it out.",
            *(*path, extra),
        )
    return str(write)
