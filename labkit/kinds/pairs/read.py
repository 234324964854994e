"""Reading the kind `pairs`: things, their partners, partners of nobody, and known confusions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.cell_data import Exact, ExactKey, WordCell
from labkit.kinds.common.cells import MAX_TYPED
from labkit.kinds.common.number_data import Slip
from labkit.kinds.common.read_apart import check_apart, check_ids
from labkit.kinds.pairs.data import PairsAsk, PairsKey
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Prose, Value
from labkit.language.problems import definition_error, nearest
from labkit.language.stream import Stream

FEWEST: Final = 3
"""Pairs of an exercise: of two, every fourth blind answer is right."""
MOST: Final = 12

Names = Mapping[str, Value]


class ConfusionFields(Strict):
    """A known confusion: the words of another partner, and what to tell who chooses it."""

    id: Id = Field(description="Small letters, digits and '-'.")
    partner: Text = Field(
        description="The words of the wrong partner, as another thing or 'others' has them."
    )
    tell: Text = Field(description="What the trainee reads who chooses it here.")


class PairFields(Strict):
    """A thing and its partner, which may be another thing's too."""

    thing: Text = Field(description="What gets a partner; formulas stand in {{ }}.")
    partner: Text = Field(description="Its right partner; several things may have the same words.")
    slips: list[ConfusionFields] = Field(default_factory=list, description="Known confusions.")


class PairsFields(ExerciseFields):
    """Things and partners are shown in drawn orders; `others` are partners of no thing."""

    columns: Annotated[list[Text], Field(min_length=2, max_length=2)] = Field(
        description="Two heads: over the things, and over the partners."
    )
    pairs: list[PairFields] = Field(
        min_length=FEWEST,
        max_length=MOST,
        description="Three to twelve; things and partners come in drawn orders.",
    )
    others: list[Text] = Field(
        default_factory=list, max_length=MOST, description="Partners that belong to nothing."
    )


@dataclass(frozen=True, slots=True)
class _Confusion:
    id: str
    partner: Prose
    tell: Prose


@dataclass(frozen=True, slots=True)
class _Pair:
    name: str
    thing: Prose
    partner: Prose
    slips: tuple[_Confusion, ...]

    def key(self, values: Names, partners: list[str]) -> ExactKey:
        """Its partner and what is told of others. Raises `DefinitionError`."""
        right = self.partner.render_line(values)
        slips: list[Slip[Exact]] = [
            {
                "id": slip.id,
                "value": self._other(slip, values, partners),
                "tell": slip.tell.render(values),
            }
            for slip in self.slips
            if slip.partner.render_line(values) != right
        ]
        return {"value": right, "slips": slips}

    def _other(self, slip: _Confusion, values: Names, partners: list[str]) -> str:
        other = slip.partner.render_line(values)
        if other not in partners:
            raise definition_error(
                slip.partner.place,
                f"'{other}' is no partner here, so nobody can choose it.",
                nearest(other, partners),
            )
        return other


class PairsReader:
    """Reads a `pairs` exercise."""

    fields = PairsFields

    def read(self, fields: PairsFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        heads = [reader.prose(text, "columns", n) for n, text in enumerate(fields.columns)]
        pairs = [_read_pair(pair, reader, at) for at, pair in enumerate(fields.pairs)]
        others = [reader.prose(text, "others", at) for at, text in enumerate(fields.others)]

        def prepare(values: Names, stream: Stream) -> Prepared:
            things = [pairs[n] for n in stream.order(len(pairs))]
            found = list(_partners(pairs, others, values, reader))
            partners = [found[n] for n in stream.order(len(found))]
            if [pair.partner.render_line(values) for pair in things] == partners[: len(things)]:
                # Who takes them in the order of the list would have them all.
                partners = [*partners[1:], partners[0]]
            texts = [pair.thing.render_line(values) for pair in things]
            check_apart(texts, "things", reader, "pairs")
            cells: list[WordCell] = [
                {"name": pair.name, "write": "word", "words": partners} for pair in things
            ]
            ask: PairsAsk = {
                "columns": [head.render(values) for head in heads],
                "rows": [[{"text": text}, cell] for text, cell in zip(texts, cells, strict=True)],
            }
            key: PairsKey = {"cells": {pair.name: pair.key(values, partners) for pair in things}}
            return Prepared(ask, key)

        return prepare


def _read_pair(pair: PairFields, reader: FieldReader, at: int) -> _Pair:
    check_ids([slip.id for slip in pair.slips], "slip", reader, "pairs", at, "slips")
    slips = tuple(
        _Confusion(
            slip.id,
            reader.prose(slip.partner, "pairs", at, "slips", number, "partner"),
            reader.prose(slip.tell, "pairs", at, "slips", number, "tell"),
        )
        for number, slip in enumerate(pair.slips)
    )
    return _Pair(
        str(at + 1),
        reader.prose(pair.thing, "pairs", at, "thing"),
        reader.prose(pair.partner, "pairs", at, "partner"),
        slips,
    )


def _partners(
    pairs: list[_Pair], others: list[Prose], values: Names, reader: FieldReader
) -> Iterator[str]:
    """The words of all partners, each once. Raises `DefinitionError`."""
    of_things = dict.fromkeys(pair.partner.render_line(values) for pair in pairs)
    yield from of_things
    alone = [other.render_line(values) for other in others]
    for at, other in enumerate(alone):
        if other in of_things or other in alone[:at]:
            raise reader.error(
                f"'{other}' stands there already.",
                "Take it out, or rule such draws out under 'valid:'.",
                *("others", at),
            )
        yield other
    if len(of_things) + len(alone) < FEWEST:
        raise reader.error(
            f"{len(of_things) + len(alone)} partners are too few: guessing would do.",
            "Add partners that belong to nothing under 'others:'.",
            "pairs",
        )
    long = next((text for text in [*of_things, *alone] if len(text) > MAX_TYPED), None)
    if long is not None:
        raise reader.error(
            f"'{long[:40]} …' is too long to be chosen from a list.",
            f"Write it with at most {MAX_TYPED} characters.",
            "pairs",
        )
