"""The rules of a planning board, each tried on what a trainee made: holds, or where and why not.

Identifiers after IEC 61131-3, addresses after the RFCs and the network family, as `fieldbus` has
them; what makes a description useful is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.installed import nodes_for
from labkit.fieldbus.chassis import Chassis, Module, Pattern, Revision
from labkit.fieldbus.identifier61131 import Fault, name_problem, same_name
from labkit.fieldbus.ip.plan import AddressPlan, Conflict, ConflictKind, Port, Subnet
from labkit.fieldbus.ip.subnet import address_of, host_range, network_of
from labkit.fieldbus.node_addresses import check_addresses
from labkit.kinds.common.of_family import family_of
from labkit.kinds.common.sentences import capital
from labkit.kinds.plan_board.board_reading import (
    FieldError,
    read_ends,
    read_node,
    read_port,
    read_revision,
    read_slot,
)
from labkit.kinds.plan_board.data import EthernetKey, PlanBoardAsk, PlanBoardKey, ScannerKey

_LONGEST_TEXT: Final = 200
_FEWEST_LETTERS: Final = 10
_SUBNET: Final = "the plan's subnet"
_PORT: Final = "the Ethernet port"
_MOST_ADDRESSES_TRIED: Final = 70_000
_NAME_SLIPS: Final = {
    Fault.EMPTY: "name-missing",
    Fault.SPACE: "name-with-space",
    Fault.HYPHEN: "name-with-hyphen",
    Fault.CHARACTER: "name-with-odd-character",
    Fault.DIGIT_FIRST: "name-begins-with-digit",
    Fault.DOUBLE_UNDERSCORE: "name-with-two-underscores",
    Fault.LAST_UNDERSCORE: "name-ends-with-underscore",
    Fault.KEYWORD: "name-is-keyword",
    Fault.TOO_LONG: "name-too-long",
}
_NODE_SLIPS: Final = {
    "missing": "node-missing",
    "out of range": "node-out-of-range",
    "reserved": "node-taken",
    "keep free": "node-to-keep-free",
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """One rule on one board: whether it holds, where and why, and the slip it shows."""

    rule: str
    sentence: str
    slip: str = ""

    @property
    def ok(self) -> bool:
        return not self.slip

    def __str__(self) -> str:
        return f"{'✓' if self.ok else '✗'} **{self.rule}:** {self.sentence}"


def labels(ask: PlanBoardAsk) -> dict[str, str]:
    """What to call each module: what it is, with its id behind it where two are alike."""
    whats = [each["what"] for each in ask["modules"]]
    return {
        each["id"]: each["what"]
        if whats.count(each["what"]) == 1
        else f"{each['what']} ({each['id']})"
        for each in ask["modules"]
    }


def chassis_of(ask: PlanBoardAsk) -> Chassis:
    """What is mounted, by label. Raises `PlanError` for a chassis that cannot be."""
    names = labels(ask)
    return Chassis(
        ask["slots"],
        {
            names[each["id"]]: Module(
                each["what"], each["type"], Revision.from_text(each["revision"])
            )
            for each in ask["modules"]
        },
        {names[each["id"]]: each["slot"] for each in ask["modules"]},
    )


def free_address(key: EthernetKey) -> str | None:
    """The lowest address of the subnet that a port may take; None where none is left."""
    low, high = (int(end) for end in host_range(network_of(key["subnet"])))
    for number in range(low, min(high, low + _MOST_ADDRESSES_TRIED) + 1):
        address = str(address_of(".".join(str(byte) for byte in number.to_bytes(4))))
        if address not in key["taken"] and address != key["temporary"]:
            return address
    return None


def text_at(answer: Any, *path: str) -> str:
    """What stands in a field of an answer, "" where there is nothing or no text."""
    for step in path:
        answer = answer.get(step) if isinstance(answer, dict) else None
    if isinstance(answer, bool) or not isinstance(answer, str | int):
        return ""
    if isinstance(answer, int) and answer.bit_length() > 100:
        return "a huge number"
    return str(answer).strip()[:_LONGEST_TEXT]


def unclear_fields(ask: PlanBoardAsk, answer: Any) -> Iterator[str]:
    """A sentence for each field that cannot be read, or has two readings."""
    read: list[tuple[str, str, Callable[[str], object]]] = []
    for name, label in labels(ask).items():
        read += [
            (f"slot of {label}", text_at(answer, "cards", name, "slot"), read_slot),
            (f"revision of {label}", text_at(answer, "cards", name, "revision"), read_revision),
        ]
    if ask["ethernet"]:
        address, prefix = (text_at(answer, "ethernet", at) for at in ("address", "prefix"))
        read.append(("IP address", address, read_port))
        read.append(("prefix", prefix, lambda typed: read_ends(address, typed)))
    if ask["scanner"]:
        read.append(("scanner's node address", text_at(answer, "scanner", "node"), read_node))
    for what, typed, reading in read:
        try:
            if typed:
                reading(typed)
        except FieldError as error:
            yield capital(f"{what}: {error}")


def outcomes(ask: PlanBoardAsk, key: PlanBoardKey, answer: Any) -> Iterator[Outcome]:
    """Every rule of the board, in the order that it is worked through."""
    yield _slots(ask, answer)
    yield _revisions(ask, answer)
    names = {each["id"]: text_at(answer, "cards", each["id"], "name") for each in ask["modules"]}
    yield _names(ask, names)
    yield _unique(names)
    yield _notes(ask, answer, names)
    if ask["ethernet"]:
        yield from _ethernet(key["ethernet"], answer)
    if ask["scanner"]:
        yield _node(allowed_nodes(ask), key["scanner"], text_at(answer, "scanner", "node"))
        yield _rate(key["scanner"]["rate"], text_at(answer, "scanner", "rate"))


def _slots(ask: PlanBoardAsk, answer: Any) -> Outcome:
    rule = "Slots"
    planned: dict[str, int] = {}
    for name, label in labels(ask).items():
        typed = text_at(answer, "cards", name, "slot")
        try:
            if typed:
                planned[label] = read_slot(typed)
        except FieldError as error:
            return Outcome(rule, f"{label}: {error}", "slot-not-a-number")
    chassis = chassis_of(ask)
    faults = chassis.faults(planned)
    if not faults:
        return Outcome(rule, "every card is where its module is mounted.")
    pattern = chassis.pattern(planned)
    if pattern is Pattern.FROM_ONE:
        sentence = "every card is one slot too far: the slot beside the supply is slot 0."
        return Outcome(rule, sentence, "slots-from-1")
    if pattern is Pattern.SWAPPED:
        one, other = (fault.module for fault in faults)
        sentence = f"{one} and {other} are the other way round: compare the nameplates."
        return Outcome(rule, sentence, "modules-swapped")
    missing = [fault for fault in faults if fault.slot is None]
    first = (missing or list(faults))[0]
    more = f" Wrong in all: {len(faults)} cards." if len(faults) > 1 else ""
    slip = "card-missing" if missing else "wrong-slot"
    return Outcome(rule, first.sentence + more, slip)


def _revisions(ask: PlanBoardAsk, answer: Any) -> Outcome:
    rule = "Revisions"
    called = labels(ask)
    for each in ask["modules"]:
        typed = text_at(answer, "cards", each["id"], "revision")
        if not typed:
            return Outcome(rule, f"{called[each['id']]} has no revision yet.", "revision-missing")
        try:
            given = read_revision(typed)
        except FieldError as error:
            return Outcome(rule, f"{called[each['id']]}: {error}", "revision-unreadable")
        mounted = Revision.from_text(each["revision"])
        if given != mounted:
            which = "first" if given.major != mounted.major else "second"
            sentence = (
                f"{called[each['id']]}: '{typed}' is not on its nameplate; "
                f"the {which} number differs."
            )
            return Outcome(rule, sentence, "wrong-revision")
    return Outcome(rule, "all as on the nameplates.")


def _names(ask: PlanBoardAsk, names: Mapping[str, str]) -> Outcome:
    rule = "Valid names"
    called = labels(ask)
    for each in ask["modules"]:
        problem = name_problem(names[each["id"]])
        if problem:
            sentence = f"{called[each['id']]}: {problem.sentence}"
            return Outcome(rule, sentence, _NAME_SLIPS[problem.fault])
    return Outcome(rule, "every name is an identifier of IEC 61131-3.")


def _unique(names: Mapping[str, str]) -> Outcome:
    rule = "Different names"
    given = list(names.values())
    for index, name in enumerate(given):
        if not name:
            return Outcome(rule, "a name is still missing.", "name-missing")
        if any(same_name(name, other) for other in given[:index]):
            sentence = f"'{name}' is there twice; capital and small letters do not differ."
            return Outcome(rule, sentence, "name-twice")
    return Outcome(rule, "no name is there twice.")


def _notes(ask: PlanBoardAsk, answer: Any, names: Mapping[str, str]) -> Outcome:
    """Two words and ten letters at least, and not the name once more."""
    rule = "Descriptions"
    called = labels(ask)
    for each in ask["modules"]:
        note = text_at(answer, "cards", each["id"], "note")
        if not note:
            return Outcome(
                rule, f"{called[each['id']]} has no description yet.", "description-missing"
            )
        echoes = {_letters(text) for text in (names[each["id"]], each["what"], each["type"])}
        short = len(note.split()) < 2 or len(_letters(note)) < _FEWEST_LETTERS
        if short or _letters(note) in echoes:
            sentence = f"'{note}' does not help the next person; say what the module serves, where."
            return Outcome(rule, sentence, "description-of-no-use")
    return Outcome(rule, "every module has one.")


def _letters(text: str) -> str:
    return "".join(letter for letter in text.lower() if letter.isalnum())


def _ethernet(key: EthernetKey, answer: Any) -> Iterator[Outcome]:
    typed, prefix = text_at(answer, "ethernet", "address"), text_at(answer, "ethernet", "prefix")
    subnet = network_of(key["subnet"])
    yield _host(key, typed)
    yield _not_taken(key, typed)
    yield _prefix(subnet.prefixlen, typed, prefix)


def _prefix(right: int, typed: str, prefix: str) -> Outcome:
    rule = "Prefix"
    try:
        given = read_ends(typed, prefix)
    except FieldError as error:
        return Outcome(rule, str(error), "prefix-unreadable")
    if given is None:
        return Outcome(rule, "not filled in yet.", "prefix-unreadable")
    if given == right:
        return Outcome(rule, f"/{given}, as in the plan.")
    sentence = f"/{given} is not the plan's: with it the port takes the wrong hosts for local."
    return Outcome(rule, sentence, "wrong-prefix")


def _conflicts(key: EthernetKey, typed: str) -> list[Conflict]:
    """What is wrong with the port's address in the plan."""
    subnet = network_of(key["subnet"])
    others = [
        Port.of(f"{by} ({address})", _SUBNET, f"{address}/{subnet.prefixlen}")
        for address, by in key["taken"].items()
    ]
    own = Port.of(_PORT, _SUBNET, f"{address_of(typed)}/{subnet.prefixlen}")
    plan = AddressPlan((Subnet(_SUBNET, subnet),), (*others, own))
    return [conflict for conflict in plan.conflicts() if conflict.where == _PORT]


def _host(key: EthernetKey, typed: str) -> Outcome:
    rule = "IP address in the plan"
    subnet = network_of(key["subnet"])
    if not typed:
        return Outcome(rule, "not filled in yet.", "address-missing")
    try:
        typed = read_port(typed).address
    except FieldError as error:
        return Outcome(rule, str(error), "address-unreadable")
    conflicts = _conflicts(key, typed)
    found = {conflict.kind: conflict for conflict in conflicts}
    if ConflictKind.OUTSIDE_SUBNET in found:
        sentence = f"{typed} is outside the subnet of the plan."
        return Outcome(rule, sentence, "address-outside-subnet")
    if ConflictKind.UNUSABLE in found:
        network = address_of(typed) == subnet.network_address
        slip = "network-address" if network else "broadcast-address"
        return Outcome(rule, capital(found[ConflictKind.UNUSABLE].sentence), slip)
    return Outcome(rule, f"{typed} is a host address of the plan.")


def _not_taken(key: EthernetKey, typed: str) -> Outcome:
    rule = "IP address is free"
    try:
        address = read_port(typed).address
    except FieldError:
        return Outcome(rule, "there is no address yet that could be free.", "address-missing")
    conflicts = _conflicts(key, address)
    if address == key["temporary"]:
        sentence = f"{address} is the temporary address of commissioning; give a lasting one."
        return Outcome(rule, sentence, "temporary-address")
    if any(conflict.kind is ConflictKind.DUPLICATE for conflict in conflicts):
        sentence = f"{address} belongs to {key['taken'][address]}."
        return Outcome(rule, sentence, "address-taken")
    return Outcome(rule, "nobody else has it.")


def allowed_nodes(ask: PlanBoardAsk) -> range:
    """The node addresses of the scanner's network."""
    return nodes_for(family_of(ask)).addresses


def _node(allowed: range, key: ScannerKey, typed: str) -> Outcome:
    taken = {int(address): by for address, by in key["taken"].items()}
    try:
        node = read_node(typed) if typed else None
    except FieldError as error:
        return Outcome("Scanner's node address", str(error), "node-unreadable")
    problems = check_addresses(
        [("the scanner", node)], allowed, reserved=tuple(taken), keep_free=tuple(key["free"])
    )
    if not problems:
        return Outcome("Scanner's node address", f"{node} is free.")
    by = taken.get(node) if node is not None else None
    sentence = capital(problems[0].sentence) + (f" It belongs to {by}." if by else "")
    return Outcome("Scanner's node address", sentence, _NODE_SLIPS[problems[0].kind])


def _rate(right: float, typed: str) -> Outcome:
    if typed == str(right):
        return Outcome("Data rate", f"{right} kbit/s, as the network.")
    sentence = f"{typed} kbit/s is not the network's." if typed else "not chosen yet."
    return Outcome("Data rate", sentence, "wrong-rate")
