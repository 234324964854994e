"""Two programs played side by side over every sequence of presses; a shortest that parts them.

Everything off and untouched, then one act at a time, in every order there is: a search in breadth
over what was touched and what both programs remember, so it ends, and what it finds first is a
shortest. After each act scans go on until nothing changes any more; then the outputs are looked at.
Images are whole numbers here, a bit an operand: this runs for every mistake of every draw.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Final

from labkit.fieldbus.ladder import Branch, CoilKind, Program
from labkit.kinds.ladder.panel import MOST_SCANS, Act, Panel

MOST_ACTS: Final = 8
"""Buttons, wires and devices of one exercise."""
MOST_REMEMBERED: Final = 6
"""Outputs, and memory bits twice, of one exercise: what two programs can remember between them."""


@dataclass(frozen=True, slots=True)
class Parting:
    """The acts, each with whether it undoes, after which an output is not as it should be.

    `wanted` is None where the program never comes to rest: the output goes on and off.
    """

    acts: tuple[tuple[Act, bool], ...]
    output: str
    wanted: bool | None


class Machine:
    """A program that is at rest after each act."""

    def __init__(self, program: Program, bits: dict[str, int], inputs: int) -> None:
        self._rungs = [
            (
                [[_masks(branch, bits) for branch in group] for group in rung.groups],
                bits[rung.coil.operand],
                rung.coil.kind,
            )
            for rung in program.rungs
        ]
        self._inputs = inputs
        self._known: dict[int, tuple[int, int]] = {}

    def at_rest(self, image: int, inputs: int) -> tuple[int, int]:
        """The image once nothing changes any more, and the bits that never stop changing."""
        image = image & ~self._inputs | inputs
        if image not in self._known:
            self._known[image] = self._scanned(image)
        return self._known[image]

    def _scanned(self, image: int) -> tuple[int, int]:
        for _ in range(MOST_SCANS):
            before, image = image, self._scan(image)
            if image == before:
                return image, 0
        changing = 0
        for _ in range(MOST_SCANS):
            before, image = image, self._scan(image)
            changing |= image ^ before
        return image, changing

    def _scan(self, image: int) -> int:
        for groups, bit, kind in self._rungs:
            power = all(
                any(image & on == on and not image & off for on, off in group) for group in groups
            )
            if power and kind is not CoilKind.RESET:
                image |= bit
            elif power or kind is CoilKind.ASSIGN:
                image &= ~bit
        return image


class Game:
    """What is asked, as a program that does it, and the panel that it is played at."""

    def __init__(
        self, example: Program, panel: Panel, operands: Sequence[str], outputs: Iterable[str]
    ) -> None:
        self._panel = panel
        self._acts = panel.acts()
        self._bits = {name: 1 << at for at, name in enumerate(operands)}
        self._input_bits = self._sum(each["id"] for each in panel.controls)
        self._watched = self._sum(outputs)
        self._example = self._machine(example)
        self._inputs: dict[tuple[int, int], int] = {}
        self.looked_at = 0
        """Moments that were played so far, in all partings."""

    def parting(self, program: Program) -> Parting | None:
        """A shortest way to see that a program does not do what is asked; None if it does it."""
        machine = self._machine(program)
        waiting: deque[tuple[tuple[int, ...], int, int, int]] = deque([((), 0, 0, 0)])
        seen = set()
        while waiting:
            path, done, asked, image = waiting.popleft()
            self.looked_at += 1
            inputs = self._inputs_with(done, asked)
            asked, _ = self._example.at_rest(asked, inputs)
            image, changing = machine.at_rest(image, inputs)
            wrong = (asked ^ image | changing) & self._watched
            if wrong:
                return self._told(path, wrong, asked, changing)
            if (done, asked, image) in seen:
                continue
            seen.add((done, asked, image))
            for act in range(len(self._acts)):
                waiting.append(((*path, act), done ^ 1 << act, asked, image))
        return None

    def _machine(self, program: Program) -> Machine:
        return Machine(program, self._bits, self._input_bits)

    def _sum(self, names: Iterable[str]) -> int:
        return sum(self._bits[name] for name in names)

    def _inputs_with(self, done: int, image: int) -> int:
        """The inputs as bits; they hang on what they were before only where they are kept."""
        before = image & self._input_bits
        if (done, before) not in self._inputs:
            acts = {act for at, act in enumerate(self._acts) if done >> at & 1}
            was = {
                each["id"]: bool(before & self._bits[each["id"]]) for each in self._panel.controls
            }
            now = self._panel.inputs(acts, was)
            self._inputs[done, before] = self._sum(name for name, on in now.items() if on)
        return self._inputs[done, before]

    def _told(self, path: tuple[int, ...], wrong: int, asked: int, changing: int) -> Parting:
        output, bit = next((name, bit) for name, bit in self._bits.items() if bit & wrong)
        acts = tuple(
            (self._acts[act], path[:at].count(act) % 2 == 1) for at, act in enumerate(path)
        )
        return Parting(acts, output, None if bit & changing else bool(bit & asked))


def _masks(branch: Branch, bits: dict[str, int]) -> tuple[int, int]:
    """What must be on for power to pass, and what must be off."""
    on = [bits[contact.operand] for contact in branch if not contact.closed]
    off = [bits[contact.operand] for contact in branch if contact.closed]
    return reduce(or_, on, 0), reduce(or_, off, 0)
