"""Reading the kind `term`: terms with their accepted spellings, one of which is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_id import id_meant, read_id_formula
from labkit.kinds.term.check import MAX_TYPED
from labkit.kinds.term.data import TermAsk, TermKey, WrongTerm
from labkit.kinds.term.spelling import folded
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

MOST_TERMS: Final = 20
MOST_SPELLINGS: Final = 12


class TermOfFields(Strict):
    """A term; `tell` is told to who writes it where another is asked for."""

    id: Id = Field(description="Small letters, digits and '-'.")
    spellings: Annotated[list[Text], Field(min_length=1, max_length=MOST_SPELLINGS)] = Field(
        description="How it may be written, the usual spelling first."
    )
    tell: Text | None = Field(
        default=None, description="What is told to who writes it where another is asked for."
    )


class TermFields(ExerciseFields):
    """`answer` gives the id of the term that is asked for; `exact` forgives no typing error."""

    answer: Text = Field(
        description="A formula that gives the id of the right term: for the term trunk write "
        '"trunk", with the quotation marks.'
    )
    terms: list[TermOfFields] = Field(
        min_length=1,
        max_length=MOST_TERMS,
        description="The right one, and those that are mistaken for it.",
    )
    exact: bool = Field(
        default=False,
        description="No typing error is forgiven: for codes, and where spelling is asked for.",
    )


@dataclass(frozen=True, slots=True)
class _Term:
    id: str
    spellings: tuple[Prose, ...]
    tell: Prose | None

    def written(self, values: Mapping[str, Value]) -> list[str]:
        """Its spellings in this draw."""
        return [_spelling(prose, values) for prose in self.spellings]


class TermReader:
    """Reads a `term` exercise."""

    fields = TermFields

    def read(self, fields: TermFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        ids = [term.id for term in fields.terms]
        check_ids(ids, "term", reader, "terms")
        answer = read_id_formula(fields.answer, ids, reader, "answer")
        terms = [_term(term, reader, "terms", index) for index, term in enumerate(fields.terms)]

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            right = _right(answer, values, ids)
            spellings = {term.id: term.written(values) for term in terms}
            _check_apart(terms, spellings)
            wrong: list[WrongTerm] = [
                {
                    "id": term.id,
                    "spellings": spellings[term.id],
                    "tell": _tell(term, reader, index).render(values),
                }
                for index, term in enumerate(terms)
                if term.id != right
            ]
            ask: TermAsk = {"exact": fields.exact}
            key: TermKey = {"spellings": spellings[right], "wrong": wrong}
            return Prepared(ask, key)

        return prepare


def _term(fields: TermOfFields, reader: FieldReader, *path: str | int) -> _Term:
    spellings = tuple(
        reader.prose(text, *path, "spellings", index) for index, text in enumerate(fields.spellings)
    )
    tell = reader.prose(fields.tell, *path, "tell") if fields.tell is not None else None
    return _Term(fields.id, spellings, tell)


def _right(answer: Formula, values: Mapping[str, Value], ids: list[str]) -> str:
    """The id that the formula gives."""
    right = str(answer.evaluate(values))
    if right not in ids:
        raise definition_error(
            answer.place,
            f"the answer '{right}' is not a term: it must give the id of one.",
            id_meant(answer, right, ids),
        )
    return right


def _spelling(prose: Prose, values: Mapping[str, Value]) -> str:
    """A spelling that somebody can type."""
    text = prose.render_line(values)
    if not folded(text):
        raise definition_error(
            prose.place,
            f"'{text}' holds no letter, digit or sign.",
            "Write the term as it is typed.",
        )
    if len(text) > MAX_TYPED:
        raise definition_error(
            prose.place,
            f"a spelling has {MAX_TYPED} characters at most, and this one {len(text)}.",
            "Ask for a shorter term; a whole text belongs to the kind 'written'.",
        )
    return text


def _check_apart(terms: list[_Term], spellings: Mapping[str, list[str]]) -> None:
    """No spelling may stand for two terms."""
    whose: dict[str, str] = {}
    for term in terms:
        for prose, text in zip(term.spellings, spellings[term.id], strict=True):
            other = whose.setdefault(folded(text), term.id)
            if other != term.id:
                raise definition_error(
                    prose.place,
                    f"'{text}' is a spelling of '{other}' too: capitals, blanks, hyphens and "
                    "dots on letters do not count.",
                    "Keep it at one of the two.",
                )


def _tell(term: _Term, reader: FieldReader, index: int) -> Prose:
    if term.tell is None:
        raise reader.error(
            f"'{term.id}' is wrong in some draws, and has nothing to tell.",
            "Add 'tell:' with what is mistaken by who writes it.",
            *("terms", index),
        )
    return term.tell
