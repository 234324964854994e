"""Reading the kind `sequence`: steps, what must come before what, and known mistakes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Annotated, Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.read_apart import check_apart, check_ids
from labkit.kinds.sequence.data import KnownMistake, Pair, SequenceAsk, SequenceKey, Step
from labkit.kinds.sequence.must_come_before import followed, in_order
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import nearest
from labkit.language.stream import Stream

FEWEST: Final = 3
"""Steps of an exercise: of two, every second order is right."""
FEWEST_PAIRS: Final = 2
"""Pairs that have an order: with these at most every third order is right by chance."""
_LETTERS: Final = "abcdefghijklmnopqrst"
_DEALINGS: Final = 20
_BEFORE: Final = re.compile(r"\s+before\s+")

Steps = Annotated[list[Id], Field(min_length=2)]


class StepFields(Strict):
    """A step, and its name in the other fields; the steps with the lower `place` come first."""

    id: Id = Field(description="Small letters, digits and '-'; the trainee does not see it.")
    text: Text = Field(description="What is done; formulas stand in {{ }}.")
    place: Text | None = Field(
        default=None,
        description="A formula, where the order hangs on what is drawn: the lowest comes first. "
        "Give every step one, or none.",
    )


class MistakeFields(Strict):
    """A known mistake: 'a before b', which is wrong; `danger` where somebody would be hurt."""

    id: Id = Field(description="Small letters, digits and '-'.")
    order: Text = Field(description="Ids of two steps in a wrong order: work before prove.")
    tell: Text = Field(description="What the trainee reads who puts them so.")
    danger: bool = Field(
        default=False, description="Somebody would be hurt: it is told first, and earns nothing."
    )


class SequenceFields(ExerciseFields):
    """The steps stand in their right order, unless `before` or each one's `place` says it.

    Those of a list of `any order` may change places. `dealt` is how many of them a trainee gets.
    """

    steps: list[StepFields] = Field(
        min_length=FEWEST, max_length=len(_LETTERS), description="In their right order."
    )
    any_order: list[Steps] = Field(
        default_factory=list,
        alias="any order",
        description="Ids of neighbours that may change places, a line each: - [try, prove]",
    )
    before: list[Text] = Field(
        default_factory=list,
        description="What must come before what, in the place of the order above: plug before run.",
    )
    dealt: Annotated[int, Field(ge=FEWEST)] | None = Field(
        default=None, description="How many of the steps each trainee gets. All if you say nothing."
    )
    slips: list[MistakeFields] = Field(
        default_factory=list, description="Known mistakes: two steps in a wrong order."
    )
    caution: Text | None = Field(
        default=None,
        description="A caution that always stands there. Give one where the work can hurt "
        "somebody.",
    )


@dataclass(frozen=True, slots=True)
class _Mistake:
    fields: MistakeFields
    early: str
    late: str
    tell: Prose


class SequenceReader:
    """Reads a `sequence` exercise."""

    fields = SequenceFields

    def read(self, fields: SequenceFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        ids = [step.id for step in fields.steps]
        check_ids(ids, "step", reader, "steps")
        check_ids([slip.id for slip in fields.slips], "known mistake", reader, "slips")
        _check_together(fields, reader)
        rules = _Rules(fields, ids, reader)
        texts = [
            reader.prose(step.text, "steps", index, "text")
            for index, step in enumerate(fields.steps)
        ]
        mistakes = _mistakes(fields, ids, rules, reader)
        caution = reader.prose(fields.caution, "caution") if fields.caution else None

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            order, pairs = rules.drawn(values)
            chosen = {ids[n] for n in sorted(stream.order(len(ids))[: fields.dealt or len(ids)])}
            order = [step for step in order if step in chosen]
            pairs = [pair for pair in pairs if chosen.issuperset(pair)]
            if len(pairs) < FEWEST_PAIRS:
                raise reader.error(
                    "fewer than two pairs of steps would have an order, so a blind one is right "
                    "at least every second time.",
                    "Say of more steps what must come before what, or deal more of them.",
                    "steps",
                )
            dealt = _dealt(order, pairs, stream)
            # The steps' own ids could tell their order ("first", "then").
            letter = dict(zip(dealt, _LETTERS, strict=False))
            shown = dict(zip(ids, texts, strict=True))
            steps: list[Step] = [
                {"id": letter[step], "text": shown[step].render_line(values)} for step in dealt
            ]
            check_apart([step["text"] for step in steps], "steps", reader, "steps")
            ask: SequenceAsk = {
                "steps": steps,
                "caution": caution.render(values) if caution else "",
            }
            key: SequenceKey = {
                "order": [letter[step] for step in order],
                "pairs": [(letter[first], letter[then]) for first, then in pairs],
                "slips": [
                    _known(mistake, letter, values)
                    for mistake in mistakes
                    if (mistake.late, mistake.early) in pairs
                ],
                "names": {at: step for step, at in letter.items()},
            }
            return Prepared(ask, key)

        return prepare


class _Rules:
    """What must come before what: of the list as written, of `before`, or of drawn places."""

    def __init__(self, fields: SequenceFields, ids: list[str], reader: FieldReader) -> None:
        self._ids = ids
        self._order = ids
        self._places = _places(fields, reader)
        self._pairs: list[Pair] = []
        if fields.before:
            self._pairs = _stated(fields.before, ids, reader)
            self._order = in_order(ids, self._pairs)
        elif not self._places:
            groups = [_group(group, ids, reader, at) for at, group in enumerate(fields.any_order)]
            self._pairs = _as_listed(ids, groups)
        self.fixed = not self._places

    def drawn(self, values: Mapping[str, Value]) -> tuple[list[str], list[Pair]]:
        """A right order, and all pairs, in this draw."""
        if not self._places:
            return self._order, self._pairs
        numbers = [place.number(values) for place in self._places]
        at = dict(zip(self._ids, numbers, strict=True))
        order = sorted(self._ids, key=lambda step: at[step])
        return order, [pair for pair in combinations(order, 2) if at[pair[0]] < at[pair[1]]]

    def holds(self, first: str, then: str) -> bool:
        """Whether the first must come before the second in every draw."""
        return (first, then) in self._pairs


def _places(fields: SequenceFields, reader: FieldReader) -> list[Formula]:
    """The formula of each step's place; none where no step has one."""
    if all(step.place is None for step in fields.steps):
        return []
    found = []
    for index, step in enumerate(fields.steps):
        if step.place is None:
            raise reader.error(
                f"the step '{step.id}' has no place, others have.",
                "Give every step its 'place:', or none.",
                *("steps", index),
            )
        found.append(reader.formula(step.place, "steps", index, "place"))
    return found


def _as_listed(ids: Sequence[str], groups: Sequence[frozenset[str]]) -> list[Pair]:
    """All pairs of the list, but those that may change places."""
    return [
        pair for pair in combinations(ids, 2) if not any(group.issuperset(pair) for group in groups)
    ]


def _check_together(fields: SequenceFields, reader: FieldReader) -> None:
    said = {
        "before": bool(fields.before),
        "any order": bool(fields.any_order),
        "place": any(step.place is not None for step in fields.steps),
    }
    names = [name for name, there in said.items() if there]
    if len(names) > 1:
        raise reader.error(
            f"'{names[0]}' and '{names[1]}' both say the order.",
            "Keep one: 'any order' goes with steps in their right order, 'before' states all that "
            "must come before something, steps with the same 'place' may change places.",
            "steps" if names[1] == "place" else names[1],
        )
    if fields.dealt and fields.dealt > len(fields.steps):
        raise reader.error(
            f"{fields.dealt} steps cannot be dealt out of {len(fields.steps)}.",
            "Write a smaller number, or more steps.",
            "dealt",
        )


def _group(group: list[str], ids: list[str], reader: FieldReader, at: int) -> frozenset[str]:
    for index, name in enumerate(group):
        _require_step(name, ids, reader, "any order", at, index)
    if len(set(group)) < len(group):
        raise reader.error("names a step twice.", "Name each step once.", "any order", at)
    places = sorted(ids.index(name) for name in group)
    if places[-1] - places[0] >= len(places):
        between = next(name for name in ids[places[0] :] if name not in group)
        raise reader.error(
            f"'{between}' stands between steps that may change places.",
            "Only neighbours may: write them one after the other, or state with 'before' what "
            "must come before what.",
            *("any order", at),
        )
    return frozenset(group)


def _require_step(name: str, ids: list[str], reader: FieldReader, *path: str | int) -> None:
    if name not in ids:
        raise reader.error(f"there is no step '{name}'.", nearest(name, ids), *path)


def _chain(text: str, ids: list[str], reader: FieldReader, *path: str | int) -> list[str]:
    """The steps of "a before b before c"."""
    names = _BEFORE.split(text.strip())
    if len(names) < 2:
        raise reader.error(
            f"'{text}' does not say what comes before what.",
            f"Write the ids of two steps: '{ids[0]} before {ids[1]}', each such line behind '- '.",
            *path,
        )
    for name in names:
        _require_step(name, ids, reader, *path)
    return names


def _stated(lines: Sequence[str], ids: list[str], reader: FieldReader) -> list[Pair]:
    """All pairs that the lines of `before` say, and what follows from them."""
    found: set[Pair] = set()
    for index, line in enumerate(lines):
        names = _chain(line, ids, reader, "before", index)
        found = followed(found | {*pairwise(names)})
        for name in names:
            if (name, name) in found:
                raise reader.error(
                    f"with this line '{name}' comes before itself: the lines run in a circle.",
                    "Take out one of them, or turn it round.",
                    "before",
                    index,
                )
    return [(first, then) for first in ids for then in ids if (first, then) in found]


def _mistakes(
    fields: SequenceFields, ids: list[str], rules: _Rules, reader: FieldReader
) -> list[_Mistake]:
    found = []
    for index, slip in enumerate(fields.slips):
        path = ("slips", index, "order")
        names = _chain(slip.order, ids, reader, *path)
        if len(names) > 2:
            raise reader.error(
                "a known mistake is about two steps.", "Write one for each two.", *path
            )
        early, late = names
        if rules.fixed and not rules.holds(late, early):
            why = "is right" if rules.holds(early, late) else "is allowed"
            raise reader.error(
                f"'{slip.order}' {why} here, but a known mistake is a wrong order.",
                f"Turn it round, or state that {late} must come before {early}.",
                *path,
            )
        tell = reader.prose(slip.tell, "slips", index, "tell")
        found.append(_Mistake(slip, early, late, tell))
    return found


def _dealt(order: list[str], pairs: list[Pair], stream: Stream) -> list[str]:
    """The steps in a drawn order that is not a right one."""
    for _ in range(_DEALINGS):
        dealt = [order[n] for n in stream.order(len(order))]
        at = {step: place for place, step in enumerate(dealt)}
        if any(at[first] > at[then] for first, then in pairs):
            return dealt
    return order[::-1]


def _known(
    mistake: _Mistake, letter: Mapping[str, str], values: Mapping[str, Value]
) -> KnownMistake:
    return {
        "id": mistake.fields.id,
        "early": letter[mistake.early],
        "late": letter[mistake.late],
        "tell": mistake.tell.render(values),
        "danger": mistake.fields.danger,
    }
