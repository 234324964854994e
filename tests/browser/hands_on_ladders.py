"""A ladder diagram, built rung by rung by its buttons as a trainee builds it."""

from __future__ import annotations

from itertools import chain
from typing import Any

from dealt import Solution
from typing_in import choose

COILS = ("assign", "set", "reset")


def draw_ladder(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:  # noqa: ARG001
    """Away with the rungs that stand there, then each rung of the answer anew."""
    first = frame.get_by_role("button", name="Remove rung 1", exact=True)
    while first.count():
        first.click()
    for number, rung in enumerate(answer["rungs"], 1):
        frame.get_by_role("button", name="Add a rung").click()
        here = frame.get_by_role("group", name=f"Rung {number}", exact=True)
        _shape(here, number, rung["groups"])
        _operands(here, number, rung["groups"])
        coil = here.get_by_label(f"Operand of the coil of rung {number}", exact=True)
        choose(coil, rung["coil"]["operand"])
        for _ in range(COILS.index(rung["coil"]["kind"])):
            here.get_by_role("button", name=f"to change (rung {number})").click()


def _shape(here: Any, number: int, groups: list[list[list[dict[str, Any]]]]) -> None:
    """The pieces in series, their branches side by side, the contacts in each branch."""
    for piece, group in enumerate(groups):
        if piece:
            here.get_by_role("button", name=f"Rung {number}: a contact in series").click()
        for _ in group[1:]:
            name = f"Rung {number}: a branch beside piece {piece + 1}"
            here.get_by_role("button", name=name).click()
        for line, branch in enumerate(group):
            for _ in branch[1:]:
                here.locator(f'[data-key="series-{number}-{piece}-{line}"]').click()


def _operands(here: Any, number: int, groups: list[list[list[dict[str, Any]]]]) -> None:
    """What each contact reads, and the normally closed ones turned into such."""
    contacts = chain.from_iterable(chain.from_iterable(groups))
    for count, contact in enumerate(contacts, 1):
        where = f"rung {number}, contact {count}"
        choose(here.get_by_label(f"Operand of {where}", exact=True), contact["operand"])
        if contact["closed"]:
            here.get_by_role("button", name=f"to change ({where})").click()
