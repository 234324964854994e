"""Reading the kind `choice`: one option out of several."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.choice.data import ChoiceAsk, Option
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_id import id_meant, read_id_formula
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream


class OptionFields(Strict):
    """An option, and what to tell a trainee who chooses it wrongly."""

    id: Id = Field(description="Small letters, digits and '-'; the trainee does not see it.")
    text: Text = Field(description="What the trainee reads; formulas stand in {{ }}.")
    tell: Text = Field(description="What the trainee is told who chooses it wrongly.")


class ChoiceFields(ExerciseFields):
    """`answer` gives the id of the right option; the options are shown in a drawn order."""

    answer: Text = Field(
        description="A formula that gives the id of the right option: for the option at-125 "
        'write "at-125", with the quotation marks.'
    )
    options: list[OptionFields] = Field(
        min_length=2,
        max_length=12,
        description="Two to twelve; the trainee gets them in a drawn order.",
    )


class ChoiceReader:
    """Reads a `choice` exercise."""

    fields = ChoiceFields

    def read(self, fields: ChoiceFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        ids = [option.id for option in fields.options]
        check_ids(ids, "option", reader, "options")
        answer = read_id_formula(fields.answer, ids, reader, "answer")
        texts = [
            reader.prose(option.text, "options", index, "text")
            for index, option in enumerate(fields.options)
        ]
        tells = [
            reader.prose(option.tell, "options", index, "tell")
            for index, option in enumerate(fields.options)
        ]

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            right = str(answer.evaluate(values))
            if right not in ids:
                raise definition_error(
                    answer.place,
                    f"the answer '{right}' is not an option: it must give the id of one.",
                    _id_meant(answer, right, fields.options),
                )
            order = stream.order(len(ids))
            options: list[Option] = [{"id": ids[n], "text": texts[n].render(values)} for n in order]
            # The options' own ids could give the answer away ("right", "too-long").
            letters = {ids[n]: "abcdefghijkl"[place] for place, n in enumerate(order)}
            for option in options:
                option["id"] = letters[option["id"]]

            def tell() -> dict[str, str]:
                told = zip(ids, tells, strict=True)
                return {letters[name]: text.render(values) for name, text in told}

            slips = {letter: name for name, letter in letters.items()}
            ask: ChoiceAsk = {"options": options}
            return Prepared(ask, {"right": letters[right], "slips": slips}, late={"tell": tell})

        return prepare


def _id_meant(answer: Formula, right: str, options: Sequence[OptionFields]) -> str:
    """The id to write where the answer gives something else, perhaps an option's text."""
    named = next((option.id for option in options if option.text.strip() == right.strip()), "")
    if named:
        return f"Write its id: '{named}'."
    return id_meant(answer, right, [option.id for option in options])
