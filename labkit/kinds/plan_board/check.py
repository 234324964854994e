"""A planning board for the controller's side: cards in slots, names, addresses; rule by rule."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Final, Literal

from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.chassis import Revision
from labkit.fieldbus.identifier61131 import name_problem, same_name
from labkit.fieldbus.ip.subnet import network_of
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.plan_board.board_rules import (
    allowed_nodes,
    free_address,
    labels,
    outcomes,
    text_at,
    unclear_fields,
)
from labkit.kinds.plan_board.data import (
    Answer,
    Card,
    EthernetKey,
    PlanBoardAsk,
    PlanBoardKey,
    ScannerKey,
)
from labkit.kinds.plan_board.paper import chassis_front


class PlanBoardCheck:
    """Credit is the share of rules that hold."""

    def unreadable(self, ask: PlanBoardAsk, answer: Any) -> str:
        """An empty board."""
        return "" if any(_texts(ask, answer)) else "The board is still empty."

    def asks_back(self, ask: PlanBoardAsk, answer: Any) -> list[str]:
        """Each field that cannot be read, and why."""
        return list(unclear_fields(ask, answer))

    def check(self, ask: PlanBoardAsk, key: PlanBoardKey, answer: Any) -> Verdict:
        """Rule by rule: it holds, or where it does not and why."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        tried = list(outcomes(ask, key, answer))
        failing = [outcome for outcome in tried if not outcome.ok]
        if not failing:
            return Verdict(1.0, f"Right: all {len(tried)} rules of the board hold.")
        holding = [outcome for outcome in tried if outcome.ok]
        message = "\n".join(str(outcome) for outcome in [*failing, *holding])
        return Verdict(1 - len(failing) / len(tried), message, failing[0].slip)

    def shown(self, ask: PlanBoardAsk, answer: Any) -> str:
        """Slot by slot the names, then the addresses."""
        if not isinstance(answer, dict):
            return ""
        cards = (
            f"{text_at(answer, 'cards', each['id'], 'slot') or '–'}: "
            f"{text_at(answer, 'cards', each['id'], 'name') or '–'}"
            for each in ask["modules"]
        )
        ends = [text_at(answer, *path) or "–" for path in _fields(ask)]
        return ", ".join([*cards, *ends])

    def right_answer(self, ask: PlanBoardAsk, key: PlanBoardKey) -> Answer:
        """Everything as mounted, with names made of what the modules are."""
        names: list[str] = []
        answer: Answer = {"cards": {}}
        for each in ask["modules"]:
            names.append(_fresh_name(each["what"], names))
            answer["cards"][each["id"]] = {
                "slot": str(each["slot"]),
                "name": names[-1],
                "revision": each["revision"],
                "note": f"Module for the line, {each['what']}, of the type on the nameplate",
            }
        if ask["ethernet"]:
            prefix = network_of(key["ethernet"]["subnet"]).prefixlen
            answer["ethernet"] = {
                "address": free_address(key["ethernet"]) or "",
                "prefix": str(prefix),
            }
        if ask["scanner"]:
            barred = {int(each) for each in key["scanner"]["taken"]} | set(key["scanner"]["free"])
            node = next((each for each in allowed_nodes(ask) if each not in barred), "")
            answer["scanner"] = {"node": str(node), "rate": str(key["scanner"]["rate"])}
        return answer

    def slip_answers(self, ask: PlanBoardAsk, key: PlanBoardKey) -> dict[str, Answer]:
        """A right board spoilt in each of the ways that the rules know."""
        right = self.right_answer(ask, key)
        answers: dict[str, Answer] = {}
        for answer in _spoilt(ask, key, right):
            verdict = self.check(ask, key, answer)
            if verdict.slip and not verdict.right:
                answers.setdefault(verdict.slip, answer)
        return answers

    def paper(self, ask: PlanBoardAsk) -> str:
        """The chassis with its nameplates, and the board as tables to fill in."""
        front = chassis_front(ask["slots"], ask["modules"])
        return paper.note("The chassis, seen from the front:") + front + _board(ask, None)

    def paper_right(self, ask: PlanBoardAsk, key: PlanBoardKey) -> str:
        """One right board."""
        return _board(ask, self.right_answer(ask, key))

    def paper_slips(self, ask: PlanBoardAsk, key: PlanBoardKey) -> list[Mistake]:
        """Each broken rule, with the fields alone that break it."""
        right = _by_field(ask, self.right_answer(ask, key))
        found = []
        for slip, answer in self.slip_answers(ask, key).items():
            given = _by_field(ask, answer)
            changed = [
                f"{name}: {given[name] or 'empty'}" for name in given if given[name] != right[name]
            ]
            failing = [str(o) for o in outcomes(ask, key, answer) if not o.ok]
            found.append(Mistake(slip, paper.some_of(changed), "\n".join(failing)))
        return found

    def paper_for_marking(self, ask: PlanBoardAsk, key: PlanBoardKey, marks: float) -> str:
        """Each rule with its share of the marks."""
        rules = [outcome.rule for outcome in outcomes(ask, key, self.right_answer(ask, key))]
        share = 1 / len(rules)
        return paper.note("Many boards are right; a rule holds or does not:") + paper.rubric(
            ({"text": rule, "marks_share": share} for rule in rules), marks
        )


_CardField = Literal["slot", "revision", "name", "note"]
_CARD: Final[dict[_CardField, str]] = {
    "slot": "Slot",
    "revision": "Revision",
    "name": "Name",
    "note": "Description",
}
_ENDS: Final = {
    ("ethernet", "address"): "Ethernet port: IP address",
    ("ethernet", "prefix"): "Ethernet port: prefix",
    ("scanner", "node"): "Scanner: node address",
    ("scanner", "rate"): "Scanner: data rate, kbit/s",
}


def _board(ask: PlanBoardAsk, answer: Answer | None) -> str:
    """The board's tables, empty or filled in."""
    rows = [
        [
            paper.text(f"{labels(ask)[each['id']]}, {each['type']}"),
            *(paper.filled(text_at(answer, "cards", each["id"], field)) for field in _CARD),
        ]
        for each in ask["modules"]
    ]
    sizes = ("", "fill tiny", "fill short", "fill wide", "fill broad")
    ends = [
        [paper.text(words), _end(ask, path, text_at(answer, *path))]
        for path, words in _ENDS.items()
        if path in _fields(ask)
    ]
    cards = paper.table(["Module", *_CARD.values()], rows, *sizes)
    return cards + (paper.table(["Setting", "Value"], ends, "asked", "fill") if ends else "")


def _end(ask: PlanBoardAsk, path: tuple[str, str], value: str) -> str:
    if not value and path == ("scanner", "rate"):
        return paper.ticks(map(str, ask["rates"]))
    return paper.filled(value)


def _by_field(ask: PlanBoardAsk, answer: Answer) -> dict[str, str]:
    """Every field of the board by a name for people."""
    found = {
        f"{label}, {words.lower()}": text_at(answer, "cards", name, field)
        for name, label in labels(ask).items()
        for field, words in _CARD.items()
    }
    return {**found, **{_ENDS[path]: text_at(answer, *path) for path in _fields(ask)}}


def _fields(ask: PlanBoardAsk) -> list[tuple[str, str]]:
    ethernet = [("ethernet", "address"), ("ethernet", "prefix")] if ask["ethernet"] else []
    scanner = [("scanner", "node"), ("scanner", "rate")] if ask["scanner"] else []
    return ethernet + scanner


def _texts(ask: PlanBoardAsk, answer: Any) -> Iterator[str]:
    for each in ask["modules"]:
        for field in ("slot", "name", "revision", "note"):
            yield text_at(answer, "cards", each["id"], field)
    for path in _fields(ask):
        yield text_at(answer, *path)


def _fresh_name(what: str, names: list[str]) -> str:
    """An identifier made of what a module is, other than all before."""
    stem = "_".join(re.findall(r"[A-Za-z0-9]+", what)) or "Module"
    stem = stem[:30].strip("_")
    stem = stem if name_problem(stem) is None else f"M_{stem}"
    number, name = 2, stem
    while any(same_name(name, other) for other in names):
        name, number = f"{stem}_{number}", number + 1
    return name


def _spoilt(ask: PlanBoardAsk, key: PlanBoardKey, right: Answer) -> Iterator[Answer]:
    cards = right["cards"]
    first, *others = cards

    def in_slots(slots: Mapping[str, str]) -> Answer:
        moved: dict[str, Card] = {
            e: {**card, "slot": slots.get(e, card["slot"])} for e, card in cards.items()
        }
        return {**right, "cards": moved}

    def with_first(field: _CardField, text: str) -> Answer:
        changed = cards[first].copy()
        changed[field] = text
        return {**right, "cards": {**cards, first: changed}}

    if others:
        yield in_slots({each: str(int(card["slot"]) + 1) for each, card in cards.items()})
        yield in_slots({first: cards[others[-1]]["slot"], others[-1]: cards[first]["slot"]})
        yield with_first("name", cards[others[0]]["name"].lower())
    for slot in ("", "99", "left"):
        yield with_first("slot", slot)
    revision = Revision.from_text(cards[first]["revision"])
    other = Revision(revision.major, (revision.minor + 1) % 1000)
    for text in (str(other), str(revision.major), ""):
        yield with_first("revision", text)
    for name in ("1st_module", "my module", "my-module", "my__module", "module_", "Program", "mö"):
        yield with_first("name", name)
    yield with_first("name", "")
    yield with_first("note", "")
    yield with_first("note", cards[first]["name"])
    if ask["ethernet"]:
        yield from _spoilt_address(key["ethernet"], right)
    if ask["scanner"]:
        yield from _spoilt_scanner(ask, key["scanner"], right)


def _spoilt_address(key: EthernetKey, right: Answer) -> Iterator[Answer]:
    subnet = network_of(key["subnet"])

    wrong = [str(subnet.network_address), str(subnet.broadcast_address), "192.0.2.1", "", "1.2.3"]
    wrong += [*list(key["taken"])[:1], *([key["temporary"]] if key["temporary"] else [])]
    for address in wrong:
        yield {**right, "ethernet": {**right["ethernet"], "address": address}}
    for prefix in (str(subnet.prefixlen - 1), ""):
        yield {**right, "ethernet": {**right["ethernet"], "prefix": prefix}}


def _spoilt_scanner(ask: PlanBoardAsk, key: ScannerKey, right: Answer) -> Iterator[Answer]:
    for node in (
        "",
        str(allowed_nodes(ask)[-1] + 1),
        *list(key["taken"])[:1],
        *map(str, key["free"][:1]),
    ):
        yield {**right, "scanner": {**right["scanner"], "node": node}}
    wrong = next(str(rate) for rate in ask["rates"] if rate != key["rate"])
    yield {**right, "scanner": {**right["scanner"], "rate": wrong}}
