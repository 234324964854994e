"""A node address for each device of a list: many right plans, checked by the rules."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.node_addresses import AddressProblem, check_addresses
from labkit.kinds.address_plan.allowed_addresses import allowed_in
from labkit.kinds.address_plan.data import AddressPlanAsk, AddressPlanKey, Answer
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.language.number import NODE_NOUNS, QuantityError, read_whole

_SLIPS: Final = {
    "missing": "missing-address",
    "out of range": "out-of-range",
    "duplicate": "duplicate-address",
    "reserved": "taken-address",
    "keep free": "address-to-keep-free",
}


class AddressPlanCheck:
    """Credit is the share of devices whose address keeps every rule."""

    def unreadable(self, ask: AddressPlanAsk, answer: Any) -> str:
        """Nothing filled in, or nothing that can be read."""
        return _nothing_to_check(_filled_in(ask, answer))

    def asks_back(self, ask: AddressPlanAsk, answer: Any) -> list[str]:
        """Each address that cannot be read, and why."""
        return _asked_back(_filled_in(ask, answer))

    def check(self, ask: AddressPlanAsk, key: AddressPlanKey, answer: Any) -> Verdict:
        """Which rule fails, at which device."""
        typed = _filled_in(ask, answer)
        if sentence := _nothing_to_check(typed):
            return unreadable(sentence)
        taken = {int(address): by for address, by in key["taken"].items()}
        asked_back = _asked_back(typed)
        given = [(device, _read(text) if text else None) for device, text in typed]
        unclear = {device for device, read in given if isinstance(read, str)}
        problems = check_addresses(
            [pair for pair in given if pair[0] not in unclear],
            allowed_in(ask),
            reserved=tuple(taken),
            keep_free=tuple(key["free"]),
        )
        if not problems and not asked_back:
            return Verdict(1.0, "Right: every device has an address of its own.")
        faulty = {device for problem in problems for device in problem.devices} | unclear
        credit = 1 - len(faulty & set(ask["devices"])) / len(ask["devices"])
        sentences = [*asked_back, *(_sentence(problem, taken) for problem in problems)]
        return Verdict(credit, "\n".join(sentences), _SLIPS[problems[0].kind] if problems else "")

    def shown(self, ask: AddressPlanAsk, answer: Any) -> str:
        """Device and address, one after the other."""
        if not isinstance(answer, dict):
            return ""
        return ", ".join(f"{device}: {_typed(answer, device) or '–'}" for device in ask["devices"])

    def right_answer(self, ask: AddressPlanAsk, key: AddressPlanKey) -> Answer:
        """The lowest addresses that are allowed, in the order of the list."""
        barred = {int(address) for address in key["taken"]} | set(key["free"])
        allowed = (number for number in allowed_in(ask) if number not in barred)
        return {
            device: str(number) for device, number in zip(ask["devices"], allowed, strict=False)
        }

    def slip_answers(self, ask: AddressPlanAsk, key: AddressPlanKey) -> dict[str, Answer]:
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

    def paper(self, ask: AddressPlanAsk) -> str:
        """The list of devices, with a cell for each address."""
        rows = [[paper.text(device), ""] for device in ask["devices"]]
        span = (
            paper.note(f"Addresses {ask['lowest']} to {ask['limit']}.") if "lowest" in ask else ""
        )
        return span + paper.table(["Device", "Node address"], rows, "", "fill wide")

    def paper_slips(self, ask: AddressPlanAsk, key: AddressPlanKey) -> list[Mistake]:
        """Each broken rule with the device alone that breaks it."""
        right = self.right_answer(ask, key)
        found = []
        for slip, answer in self.slip_answers(ask, key).items():
            changed = [d for d in ask["devices"] if answer[d] != right[d]]
            shown = "\n".join(f"{device}: {answer[device] or 'empty'}" for device in changed)
            found.append(Mistake(slip, shown, self.check(ask, key, answer).message))
        return found

    def paper_for_marking(self, ask: AddressPlanAsk, key: AddressPlanKey, marks: float) -> str:
        """What is not allowed, and what each device is worth."""
        taken = "; ".join(f"{address} ({by})" for address, by in key["taken"].items()) or "none"
        free = ", ".join(map(str, key["free"])) or "none"
        each = paper.marks_in_words(marks / len(ask["devices"]))
        return paper.note(
            f"Any other plan is right too: each device with an address of its own, "
            f"{allowed_in(ask)[0]} to {ask['limit']}, earns {each}. "
            f"Taken: {taken}. To keep free: {free}."
        )


def _typed(answer: Any, device: str) -> str:
    value = answer.get(device, "") if isinstance(answer, dict) else ""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return ""
    if isinstance(value, int) and value.bit_length() > 100:
        return "a huge number"
    return str(value).strip()[:40]


def _filled_in(ask: AddressPlanAsk, answer: Any) -> list[tuple[str, str]]:
    """Each device, and what is typed for it."""
    return [(device, _typed(answer, device)) for device in ask["devices"]]


def _nothing_to_check(typed: list[tuple[str, str]]) -> str:
    texts = [text for _, text in typed if text]
    if not texts:
        return "No address is filled in yet."
    return "" if any(isinstance(_read(text), int) for text in texts) else _asked_back(typed)[0]


def _asked_back(typed: list[tuple[str, str]]) -> list[str]:
    return [
        f"{device}: {why}"
        for device, text in dict(typed).items()
        if text and isinstance(why := _read(text), str)
    ]


@lru_cache(maxsize=1_000)
def _read(typed: str) -> int | str:
    """The address that is typed, or why it cannot be read.

    Kept, because an answer may be held against many hundred draws.
    """
    try:
        return read_whole(typed, NODE_NOUNS)
    except QuantityError as error:
        return str(error)


def _sentence(problem: AddressProblem, taken: dict[int, str]) -> str:
    by = taken.get(problem.address) if isinstance(problem.address, int) else None
    if problem.kind == "reserved" and by:
        return f"{problem.sentence} It belongs to {by}."
    return problem.sentence
