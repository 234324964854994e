"""A node address for each device of a list: many right plans, checked by the rules."""

from __future__ import annotations

import re
from typing import Any, Final

from labkit.fieldbus.devicenet.addresses import AddressProblem, check_addresses
from labkit.lab import paper
from labkit.lab.paper import Mistake
from labkit.lab.verdict import Verdict, unreadable

_SLIPS: Final = {
    "missing": "missing-address",
    "out of range": "out-of-range",
    "duplicate": "duplicate-address",
    "reserved": "taken-address",
    "keep free": "address-to-keep-free",
}
_UNTIDY: Final = re.compile(r"\s*[+]?0*(\d{1,9})\s*")


class AddressPlanCheck:
    """`ask`: {"devices": [name], "limit": 63}; `key`: {"taken": {address: by}, "free": [address]}.

    An answer is {device name: address as typed}. Credit is the share of devices whose address
    keeps every rule.
    """

    def unreadable(self, ask: dict[str, Any], answer: Any) -> str:
        """Nothing filled in."""
        if isinstance(answer, dict) and any(_typed(answer, device) for device in ask["devices"]):
            return ""
        return "No address is filled in yet."

    def check(self, ask: dict[str, Any], key: dict[str, Any], answer: Any) -> Verdict:
        """Which rule fails, at which device."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        taken = {int(address): by for address, by in key["taken"].items()}
        problems = check_addresses(
            [(device, _address(_typed(answer, device))) for device in ask["devices"]],
            limit=ask["limit"],
            reserved=tuple(taken),
            keep_free=tuple(key["free"]),
        )
        if not problems:
            return Verdict(1.0, "Right: every device has an address of its own.")
        faulty = {device for problem in problems for device in problem.devices}
        credit = 1 - len(faulty & set(ask["devices"])) / len(ask["devices"])
        sentences = [_sentence(problem, taken) for problem in problems]
        return Verdict(credit, "\n".join(sentences), _SLIPS[problems[0].kind])

    def shown(self, ask: dict[str, Any], answer: Any) -> str:
        """Device and address, one after the other."""
        if not isinstance(answer, dict):
            return ""
        return ", ".join(f"{device}: {_typed(answer, device) or '–'}" for device in ask["devices"])

    def right_answer(self, ask: dict[str, Any], key: dict[str, Any]) -> dict[str, str]:
        """The lowest addresses that are allowed, in the order of the list."""
        barred = {int(address) for address in key["taken"]} | set(key["free"])
        allowed = [number for number in range(ask["limit"] + 1) if number not in barred]
        return {
            device: str(number) for device, number in zip(ask["devices"], allowed, strict=False)
        }

    def slip_answers(self, ask: dict[str, Any], key: dict[str, Any]) -> dict[str, dict[str, str]]:
        """A right plan spoilt in each of the ways that the rules know."""
        right = self.right_answer(ask, key)
        first, *others = ask["devices"]
        answers = {"out-of-range": {**right, first: str(ask["limit"] + 1)}}
        if others:
            answers["missing-address"] = {**right, first: ""}
            answers["duplicate-address"] = {**right, first: right[others[0]]}
        if key["taken"]:
            answers["taken-address"] = {**right, first: next(iter(key["taken"]))}
        if key["free"]:
            answers["address-to-keep-free"] = {**right, first: str(key["free"][0])}
        return answers

    def paper(self, ask: dict[str, Any]) -> str:
        """The list of devices, with a cell for each address."""
        rows = [[paper.text(device), ""] for device in ask["devices"]]
        return paper.table(["Device", "Node address"], rows, "", "fill wide")

    def paper_slips(self, ask: dict[str, Any], key: dict[str, Any]) -> list[Mistake]:
        """Each broken rule with the device alone that breaks it."""
        right = self.right_answer(ask, key)
        found = []
        for slip, answer in self.slip_answers(ask, key).items():
            changed = [d for d in ask["devices"] if answer[d] != right[d]]
            shown = "\n".join(f"{device}: {answer[device] or 'empty'}" for device in changed)
            found.append(Mistake(slip, shown, self.check(ask, key, answer).message))
        return found

    def paper_for_marking(self, ask: dict[str, Any], key: dict[str, Any], marks: float) -> str:
        """What is not allowed, and what each device is worth."""
        taken = "; ".join(f"{address} ({by})" for address, by in key["taken"].items()) or "none"
        free = ", ".join(map(str, key["free"])) or "none"
        each = paper.marks_in_words(marks / len(ask["devices"]))
        return paper.note(
            f"Any other plan is right too: each device with an address of its own, 0 to "
            f"{ask['limit']}, earns {each}. Taken: {taken}. To keep free: {free}."
        )


def _typed(answer: dict[Any, Any], device: str) -> str:
    value = answer.get(device, "")
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return ""
    if isinstance(value, int) and value.bit_length() > 100:
        return "a huge number"
    return str(value).strip()[:40]


def _address(typed: str) -> int | str | None:
    """A whole number where one is written; otherwise the text itself, for the rule to refuse."""
    if not typed:
        return None
    match = _UNTIDY.fullmatch(typed)
    return int(match[1]) if match else f"'{typed}'"


def _sentence(problem: AddressProblem, taken: dict[int, str]) -> str:
    by = taken.get(problem.address) if isinstance(problem.address, int) else None
    if problem.kind == "reserved" and by:
        return f"{problem.sentence} It belongs to {by}."
    return problem.sentence
