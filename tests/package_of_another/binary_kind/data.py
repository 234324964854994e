"""What an exercise of the kind `binary` is made of."""

from typing import TypedDict


class BinaryAsk(TypedDict):
    """How many digits are to be written."""

    digits: int


class BinaryKey(TypedDict):
    """The number."""

    value: int
