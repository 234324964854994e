"""What an exercise of the kind `ladder` is made of."""

from __future__ import annotations

from typing import Final, Literal, NotRequired, TypedDict

from labkit.kinds.common.line import LineData

Part = Literal["inputs", "outputs", "memory"]
PARTS: Final[tuple[Part, ...]] = ("inputs", "outputs", "memory")


class Operand(TypedDict):
    """An operand as the page shows it, and what it is."""

    id: str
    text: str


class Control(TypedDict):
    """What an input hangs on: a button or a switch, or the scanner's active bit of a device.

    `closed`: its contact opens when it is pressed; `breaks`: its wire may break; `device`: whose
    input it is, "" where that cannot drop out; `keeps`: lost, it stays as it was.
    """

    id: str
    what: Literal["button", "switch", "active"]
    closed: bool
    breaks: bool
    device: str
    keeps: bool


class LadderAsk(TypedDict):
    """The operands, and how many rungs a program may have.

    `panel` has a control an input; `line` is what the program runs against while it is tried out.
    """

    inputs: list[Operand]
    outputs: list[Operand]
    memory: list[Operand]
    rungs: int
    panel: NotRequired[list[Control]]
    line: NotRequired[LineData]


class ContactData(TypedDict):
    """A contact; `closed`: normally closed."""

    operand: str
    closed: bool


class CoilData(TypedDict):
    """A coil; `kind` is "assign", "set" or "reset"."""

    operand: str
    kind: str


class RungData(TypedDict):
    """Groups in series, each of branches side by side, each of contacts in series; a coil."""

    groups: list[list[list[ContactData]]]
    coil: CoilData


class Answer(TypedDict):
    """A program, scanned from top to bottom."""

    rungs: list[RungData]


class Step(TypedDict):
    """The inputs that are on, and the outputs that must be on then."""

    on: list[str]
    lit: list[str]


class LadderKey(TypedDict):
    """What is required, from everything off, and a program that does it.

    With `presses` the program says what is required, over every sequence of presses.
    """

    steps: list[Step]
    example: Answer
    presses: NotRequired[bool]
