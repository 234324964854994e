"""Reading a formula that gives an id, such as that of the right option.

An id is a text, so in a formula it stands in quotation marks, and these in the others of the file:
`answer: '"parity"'`. Who leaves them out means the id, or a drawn name: both are told apart here.
"""

from __future__ import annotations

from collections.abc import Sequence

from labkit.lab.reading.field_reader import FieldReader
from labkit.language.expression import Formula
from labkit.language.problems import nearest


def read_id_formula(text: str, ids: Sequence[str], reader: FieldReader, name: str) -> Formula:
    """The formula in the field `name`. Raises `DefinitionError`, for a bare id too."""
    bare = text.strip()
    if bare in ids and bare not in reader.known:
        raise reader.error(f"'{bare}' stands without quotation marks.", _written(bare), name)
    return reader.formula(text, name)


def id_meant(formula: Formula, given: str, ids: Sequence[str]) -> str:
    """What to write where a formula gives what is no id."""
    bare = formula.text.strip()
    if bare not in ids:
        return nearest(given, ids)
    return f"'{bare}' is the name of a value, too. {_written(bare)}"


def _written(name: str) -> str:
    return f'In a formula an id is "{name}"; in the file other marks stand around: \'"{name}"\'.'
