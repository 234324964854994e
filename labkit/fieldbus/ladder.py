"""A ladder diagram executed: rungs of contacts and a coil, scanned top to bottom.

Contacts and coils as IEC 61131-3 draws them (from memory of the standard): normally open `| |`,
normally closed `|/|`, coil `( )`, set coil `(S)`, reset coil `(R)`. Power flows from left to right
only. The inputs are read once before a scan; what a coil writes is seen by the rungs below it in
the same scan and by those above it in the next. Order of a scan: inputs, program, outputs.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.errors import PlanError

MOST_RUNGS = 50
MOST_CONTACTS = 500
"""Our own bounds on a program."""
SETTLING_SCANS = 3
"""How many scans the inputs are held before the outputs are looked at: our own choice."""

Image = dict[str, bool]


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact: passes power while its operand is on or, normally closed, while it is off."""

    operand: str
    closed: bool = False

    def passes(self, image: Mapping[str, bool]) -> bool:
        """Whether power passes; an operand that nothing has written yet is off."""
        return image.get(self.operand, False) != self.closed


Branch = tuple[Contact, ...]
"""Contacts in series; without any, a plain wire."""
Group = tuple[Branch, ...]
"""Branches side by side; a single one is a piece of the rung in series with the rest."""


class CoilKind(Enum):
    """What a coil does to its operand."""

    ASSIGN = "assign"
    SET = "set"
    RESET = "reset"


@dataclass(frozen=True, slots=True)
class Coil:
    """A coil at a rung's right end: writes the rung's power, or sets or resets while powered."""

    operand: str
    kind: CoilKind = CoilKind.ASSIGN

    def write(self, image: Image, power: bool) -> None:
        """Change the image as this coil does."""
        if self.kind is CoilKind.ASSIGN:
            image[self.operand] = power
        elif power:
            image[self.operand] = self.kind is CoilKind.SET


@dataclass(frozen=True, slots=True)
class Rung:
    """Groups in series from the left rail, then one coil."""

    groups: tuple[Group, ...]
    coil: Coil

    def __post_init__(self) -> None:
        if any(not group for group in self.groups):
            raise PlanError("a group of branches is empty; drop it, or put a contact into it.")

    def contacts(self) -> Iterator[Contact]:
        """Every contact, from left to right, branch by branch."""
        for group in self.groups:
            for branch in group:
                yield from branch


@dataclass(frozen=True, slots=True)
class Program:
    """Rungs in the order of their execution."""

    rungs: tuple[Rung, ...]

    def __post_init__(self) -> None:
        if len(self.rungs) > MOST_RUNGS:
            raise PlanError(f"{len(self.rungs)} rungs are too many; take at most {MOST_RUNGS}.")
        if sum(1 for rung in self.rungs for _ in rung.contacts()) > MOST_CONTACTS:
            raise PlanError(f"there are over {MOST_CONTACTS} contacts; take fewer.")


@dataclass(frozen=True, slots=True)
class RungPower:
    """Where power was in a rung: `after[group][branch][contact]`, and at the coil."""

    after: tuple[tuple[tuple[bool, ...], ...], ...]
    coil: bool


def conducts(rung: Rung, image: Mapping[str, bool]) -> bool:
    """Whether power reaches the coil: every group has a branch whose contacts all pass."""
    return all(
        any(all(contact.passes(image) for contact in branch) for branch in group)
        for group in rung.groups
    )


def scan(program: Program, image: Mapping[str, bool]) -> Image:
    """The image after one scan; the inputs in it stay as they were read unless a coil writes them.

    >>> motor = Rung((((Contact("start"),), (Contact("motor"),)),), Coil("motor"))
    >>> scan(Program((motor,)), {"start": True})
    {'start': True, 'motor': True}
    """
    after = dict(image)
    for rung in program.rungs:
        rung.coil.write(after, conducts(rung, after))
    return after


def settle(program: Program, image: Mapping[str, bool], inputs: Mapping[str, bool]) -> Image:
    """The image after `SETTLING_SCANS` scans with the inputs held, read anew before each scan."""
    after = dict(image)
    for _ in range(SETTLING_SCANS):
        before, after = after, scan(program, {**after, **inputs})
        if after == before:  # nor will another scan change anything
            break
    return after


def run(program: Program, steps: Iterable[Mapping[str, bool]]) -> Iterator[Image]:
    """The image after each step of inputs, beginning with everything off; memory stays."""
    image: Image = {}
    for inputs in steps:
        image = settle(program, image, inputs)
        yield image


def power_flow(program: Program, image: Mapping[str, bool]) -> tuple[RungPower, ...]:
    """Where power is in each rung during a scan that begins with `image`."""
    during = dict(image)
    found = []
    for rung in program.rungs:
        arrives, after = True, []
        for group in rung.groups:
            branches = tuple(_along(branch, arrives, during) for branch in group)
            arrives = arrives and any(all(along) for along in branches)
            after.append(branches)
        found.append(RungPower(tuple(after), arrives))
        rung.coil.write(during, arrives)
    return tuple(found)


def _along(branch: Branch, arrives: bool, image: Mapping[str, bool]) -> tuple[bool, ...]:
    after = []
    for contact in branch:
        arrives = arrives and contact.passes(image)
        after.append(arrives)
    return tuple(after) or (arrives,)
