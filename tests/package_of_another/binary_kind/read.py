"""Reading the kind `binary`."""

from collections.abc import Mapping

from binary_kind.data import BinaryAsk, BinaryKey
from labkit.doors.prepared import Prepared, Preparer
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Text
from labkit.language.expression import Value
from labkit.language.stream import Stream


class BinaryFields(ExerciseFields):
    """A formula for the number, and how many digits it gets."""

    value: Text
    digits: int


class BinaryReader:
    """Reads a `binary` exercise."""

    fields = BinaryFields

    def read(self, fields: BinaryFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        value = reader.formula(fields.value, "value")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            ask: BinaryAsk = {"digits": fields.digits}
            key: BinaryKey = {"value": int(value.number(values))}
            return Prepared(ask, key)

        return prepare
