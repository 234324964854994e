"""A ladder program as JSON, as the page draws it: read, checked for completeness, written."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from labkit.fieldbus.ladder import Coil, CoilKind, Contact, Program, Rung
from labkit.kinds.ladder.data import PARTS, Answer, LadderAsk

MOST_GROUPS: Final = 5
MOST_BRANCHES: Final = 4
MOST_IN_BRANCH: Final = 4
MOST_CONTACTS: Final = 60
_KINDS: Final = {kind.value: kind for kind in CoilKind}


def unfinished(ask: LadderAsk, answer: Any) -> str:
    """Why an answer is no program that could run; "" where it is one."""
    rungs = _list(answer, "rungs")
    if not rungs:
        return "There is no rung yet."
    if len(rungs) > ask["rungs"]:
        return f"There are {len(rungs)} rungs; at most {ask['rungs']} are asked."
    known = set(all_ids(ask))
    for number, rung in enumerate(rungs, 1):
        sentence = _unfinished_rung(rung, known)
        if sentence:
            return f"Rung {number} {sentence}"
    if sum(1 for rung in rungs for _ in _contacts(rung["groups"])) > MOST_CONTACTS:
        return f"There are over {MOST_CONTACTS} contacts; this exercise needs far fewer."
    return ""


def all_ids(ask: LadderAsk) -> list[str]:
    """Every operand's id, part by part."""
    return [each["id"] for part in PARTS for each in ask[part]]


def program_of(answer: Answer) -> Program:
    """The program that an answer is, once `unfinished` has found nothing."""
    return Program(
        tuple(
            Rung(
                tuple(
                    tuple(
                        tuple(Contact(each["operand"], each["closed"]) for each in branch)
                        for branch in group
                    )
                    for group in rung["groups"]
                ),
                Coil(rung["coil"]["operand"], _KINDS[rung["coil"]["kind"]]),
            )
            for rung in answer["rungs"]
        )
    )


def program_json(program: Program) -> Answer:
    """The program as an answer holds it."""
    return {
        "rungs": [
            {
                "groups": [
                    [
                        [{"operand": each.operand, "closed": each.closed} for each in branch]
                        for branch in group
                    ]
                    for group in rung.groups
                ],
                "coil": {"operand": rung.coil.operand, "kind": rung.coil.kind.value},
            }
            for rung in program.rungs
        ]
    }


def _list(value: Any, name: str) -> list[Any]:
    found = value.get(name) if isinstance(value, dict) else None
    return found if isinstance(found, list) else []


def _unfinished_rung(rung: Any, known: set[str]) -> str:
    """The end of a sentence that begins with the rung's number."""
    if not isinstance(rung, dict) or not isinstance(rung.get("groups"), list):
        return "cannot be read; open the page anew."
    groups = rung["groups"]
    if len(groups) > MOST_GROUPS:
        return f"has over {MOST_GROUPS} pieces in series; cut it into two rungs."
    for contact in _contacts(groups):
        if contact is None:
            return "has an empty branch, or one that is too long."
        if not isinstance(contact, dict) or not isinstance(contact.get("closed"), bool):
            return "cannot be read; open the page anew."
        if not _known(contact.get("operand"), known):
            return "has a contact without an operand."
    coil = rung.get("coil")
    if not isinstance(coil, dict) or not _known(coil.get("operand"), known):
        return "has a coil without an operand."
    if not isinstance(coil.get("kind"), str) or coil["kind"] not in _KINDS:
        return "has a coil of an unknown kind."
    return ""


def _known(operand: Any, known: set[str]) -> bool:
    return isinstance(operand, str) and operand in known


def _contacts(groups: list[Any]) -> Iterator[Any]:
    """Every contact; None in the place of a group or branch that is empty or too large."""
    for group in groups:
        if not isinstance(group, list) or not 1 <= len(group) <= MOST_BRANCHES:
            yield None
            return
        for branch in group:
            if not isinstance(branch, list) or not 1 <= len(branch) <= MOST_IN_BRANCH:
                yield None
                return
            yield from branch
