"""Making up a connector, fitting the terminators, earthing the shield; judged on the bench.

Each of the three parts is right or wrong as a whole: a connector with two conductors exchanged
does not work three fifths. What is wrong is told with what a meter shows.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from typing import Any, Final

from labkit.bench.conductors import WIRES, Wire
from labkit.bench.faults import IN_ORDER, Fault
from labkit.bench.layout import LEFT_END, RIGHT_END, Layout
from labkit.bench.making import ENDS, Made, MeterTest, earth_place, trunk_places
from labkit.bench.setup import Setup
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.common.paper import Mistake
from labkit.kinds.common.paper_bench_line import connector_to_land, trunk_to_mark
from labkit.kinds.wiring.data import PARTS, Answer, Part, Row, WiringAsk, WiringKey

_TO_TICK: Final[dict[Part, str]] = {"terminators": "terminator", "shield": "shield earthed"}
REVERSED: Final = (5, 4, 3, 2, 1)
COLOURS: Final = tuple(sorted(wire.colour for wire in Wire))
"""The colours of the conductors, in an order that says nothing of their terminals."""
_PAIRS: Final = {
    "can-exchanged": (Wire.CAN_H, Wire.CAN_L),
    "power-exchanged": (Wire.V_PLUS, Wire.V_MINUS),
}


class WiringCheck:
    """The connector, the terminators and the shield, on the bench that they make."""

    def unreadable(self, ask: WiringAsk, answer: Any) -> str:
        """Nothing landed, or a place or terminal that is not there."""
        if not isinstance(answer, dict):
            return "Land the conductors first."
        if _asked(ask, "conductors"):
            landed = answer.get("conductors")
            if not isinstance(landed, dict) or not all(_terminal(v) for v in landed.values()):
                return "Land the conductors first."
            if not any(landed.get(colour) for colour in COLOURS):
                return "Land the conductors first."
        known = {place for place, _ in trunk_places(_setup(ask).layout)}
        for part in ("terminators", "shield"):
            places = answer.get(part, [])
            if not _asked(ask, part):
                continue
            if not isinstance(places, list) or not all(
                isinstance(place, str) and place in known for place in places
            ):
                return "The places cannot be read: choose them along the trunk."
        return ""

    def check(self, ask: WiringAsk, key: WiringKey, answer: Any) -> Verdict:  # noqa: ARG002
        """Each part by itself, with the reading that shows what is wrong with it."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        setup = _setup(ask)
        made = made_of(ask, setup.layout, answer)
        credit, lines, slips = 0.0, [], []
        for part in (part for part in PARTS if _asked(ask, part)):
            faults = _faults(setup.layout, ask["device"], made, part)
            if not faults:
                credit += ask["shares"][part]
                continue
            words = _words(part, made, setup.layout)
            lines.append(f"{words} {_shows(ask, part, faults)}")
            slips.append(_slip(part, made, setup.layout))
        if not lines:
            return Verdict(1.0, "Right: the meter reads what it should, everywhere.")
        return Verdict(min(credit, 1.0), "\n\n".join(lines), next(filter(None, slips), ""))

    def shown(self, ask: WiringAsk, answer: Any) -> str:  # noqa: ARG002
        """The three parts in a line."""
        if not isinstance(answer, dict):
            return ""
        landed = answer.get("conductors")
        landed = landed if isinstance(landed, dict) else {}
        order = ", ".join(f"{c} {v}" for c, v in landed.items() if _terminal(v) and v)
        clauses = [order or "nothing landed"]
        for part in ("terminators", "shield"):
            places = answer.get(part)
            texts = [p for p in places if isinstance(p, str)] if isinstance(places, list) else []
            clauses.append(f"{part} at {', '.join(texts) or 'no place'}")
        return "; ".join(clauses)

    def right_answer(self, ask: WiringAsk, key: WiringKey) -> Answer:  # noqa: ARG002
        """Everything as it should be."""
        return _answer(IN_ORDER, ENDS, (earth_place(_setup(ask).layout),))

    def slip_answers(self, ask: WiringAsk, key: WiringKey) -> dict[str, Answer]:  # noqa: ARG002
        """The known mistakes of each part that is asked for."""
        layout = _setup(ask).layout
        right, middle = earth_place(layout), _middle(layout)
        answers = {}
        if _asked(ask, "conductors"):
            for slip, pair in _PAIRS.items():
                answers[slip] = _answer(_exchanged(*pair), ENDS, (right,))
            answers["order-reversed"] = _answer(REVERSED, ENDS, (right,))
        if _asked(ask, "terminators"):
            for slip, places in {
                "terminator-in-the-middle": (LEFT_END, middle),
                "one-terminator": (LEFT_END,),
                "three-terminators": (*ENDS, middle),
                "no-terminator": (),
            }.items():
                answers[slip] = _answer(IN_ORDER, places, (right,))
        if _asked(ask, "shield"):
            answers["shield-both-ends"] = _answer(IN_ORDER, ENDS, ENDS)
            answers["shield-not-earthed"] = _answer(IN_ORDER, ENDS, ())
            answers["shield-elsewhere"] = _answer(IN_ORDER, ENDS, (LEFT_END,))
            answers["shield-twice"] = _answer(IN_ORDER, ENDS, (right, LEFT_END))
        return answers

    def paper(self, ask: WiringAsk) -> str:
        """The conductors and the open connector to join by lines, and the trunk to mark."""
        parts = []
        if _asked(ask, "conductors"):
            parts.append(paper.note("Draw a line from each conductor to the terminal it lands on."))
            parts.append(connector_to_land(COLOURS))
        rows = [words for part, words in _TO_TICK.items() if _asked(ask, part)]
        if rows:
            parts.append(paper.note("Tick where each belongs; leave the other boxes empty."))
            parts.append(trunk_to_mark(trunk_places(_setup(ask).layout), rows))
        return "".join(parts)

    def paper_right(self, ask: WiringAsk, key: WiringKey) -> str:  # noqa: ARG002
        """The terminals in order, and the trunk with what belongs there."""
        layout = _setup(ask).layout
        parts = []
        if _asked(ask, "conductors"):
            order = ", ".join(f"{w.terminal} {w.colour} ({w.words})" for w in WIRES)
            parts.append(paper.filled(order))
        right: dict[Part, frozenset[str]] = {
            "terminators": frozenset(ENDS),
            "shield": frozenset({earth_place(layout)}),
        }
        asked = [part for part in _TO_TICK if _asked(ask, part)]
        if asked:
            rows, ticked = [_TO_TICK[p] for p in asked], [right[p] for p in asked]
            parts.append(trunk_to_mark(trunk_places(layout), rows, ticked))
        return "".join(parts)

    def paper_slips(self, ask: WiringAsk, key: WiringKey) -> list[Mistake]:
        """Each mistake with the part alone that it is in."""
        right = self.shown(ask, self.right_answer(ask, key)).split("; ")
        found = []
        for slip, answer in self.slip_answers(ask, key).items():
            parts = self.shown(ask, answer).split("; ")
            wrong = [part for part, good in zip(parts, right, strict=True) if part != good]
            tell = self.check(ask, key, answer).message
            found.append(Mistake(slip, "\n".join(wrong), tell))
        return found

    def paper_for_marking(self, ask: WiringAsk, key: WiringKey, marks: float) -> str:  # noqa: ARG002
        """The marks of each part, and what is right."""
        right = earth_place(_setup(ask).layout)
        order = ", ".join(f"{wire.terminal} {wire.colour} ({wire.words})" for wire in WIRES)
        words: dict[Part, str] = {
            "conductors": f"Terminals: {order}.",
            "terminators": f"One terminator at the {LEFT_END}, one at the {RIGHT_END}, no other.",
            "shield": f"The shield is earthed at the {right}, and nowhere else.",
        }
        asked = [part for part in PARTS if _asked(ask, part)]
        criteria = [{"text": words[p], "marks_share": ask["shares"][p]} for p in asked]
        return paper.rubric(criteria, marks)


def made_of(ask: WiringAsk, layout: Layout, answer: Answer) -> Made:
    """The wiring that an answer says; parts that are not asked for are as they should be."""
    made = Made.rightly(layout)
    if _asked(ask, "conductors"):
        landed = answer["conductors"]
        first, second, third, fourth, fifth = (landed.get(wire.colour, 0) for wire in WIRES)
        made = replace(made, terminals=(first, second, third, fourth, fifth))
    if _asked(ask, "terminators"):
        made = replace(made, terminators=frozenset(answer.get("terminators", ())))
    if _asked(ask, "shield"):
        made = replace(made, shield=frozenset(answer.get("shield", ())))
    return made


def readings(ask: WiringAsk, answer: Answer) -> list[Row]:
    """The test of an answer that can be read."""
    setup = _setup(ask)
    made = made_of(ask, setup.layout, answer)
    faults = [f for part in PARTS for f in _faults(setup.layout, ask["device"], made, part)]
    return [
        {
            "words": trial.words,
            "shows": shows.text,
            "should": should.text,
            "fits": shows.agrees(should),
        }
        for trial, shows, should in _test(ask).rows(faults)
    ]


def _asked(ask: WiringAsk, part: Part) -> bool:
    return ask["shares"][part] > 0


def _setup(ask: WiringAsk) -> Setup:
    return setup_of(ask["setup"])


def _test(ask: WiringAsk) -> MeterTest:
    return _test_of(json.dumps(ask["setup"], sort_keys=True), ask["device"])


# Every wrong part of every answer to one exercise is held against the same sound bench.
@lru_cache(maxsize=16)
def _test_of(setup: str, device: str) -> MeterTest:
    return MeterTest(setup_of(json.loads(setup)), device)


def _terminal(value: Any) -> bool:
    return type(value) is int and 0 <= value <= 5


def _faults(layout: Layout, device: str, made: Made, part: Part) -> tuple[Fault, ...]:
    if part == "conductors":
        return made.conductor_faults(layout.device_connectors[device].id)
    if part == "terminators":
        return made.terminator_faults(layout)
    return made.shield_faults(layout)


def _shows(ask: WiringAsk, part: Part, faults: tuple[Fault, ...]) -> str:
    found = _test(ask).telling(faults)
    if found is not None:
        trial, reads, should = found
        return f"On the meter: {trial.words} shows {reads.text}; it should be {should.text}."
    unseen = "The meter does not show it: every reading of the test is as it should be."
    if part == "terminators":
        return f"{unseen} But an end without a terminator throws every edge back."
    return unseen


def _words(part: Part, made: Made, layout: Layout) -> str:
    if part == "conductors":
        return _conductor_words(made.terminals)
    if part == "terminators":
        wrong = "The terminators are not right"
        right, found = frozenset(ENDS), made.terminators
    else:
        supply = "the supply" if len(layout.supplies) == 1 else "the supply nearest to the middle"
        wrong = f"The shield must be earthed at one point, at {supply}; its earths are not right"
        right, found = frozenset({earth_place(layout)}), made.shield
    order = [place for place, _ in trunk_places(layout)]
    clauses = [f"none at {_the(p)}" for p in order if p in right - found]
    clauses += [f"one at {_the(p)}, where none belongs" for p in order if p in found - right]
    return f"{wrong}: {'; '.join(clauses)}."


def _the(place: str) -> str:
    return f"the {place}" if place in ENDS or place.startswith("power tap") else place


def _conductor_words(terminals: tuple[int, ...]) -> str:
    for pair in _PAIRS.values():
        if terminals == _exchanged(*pair):
            a, b = pair
            return f"{a.words} and {b.words} are exchanged: {a.colour} and {b.colour}."
    if terminals == REVERSED:
        return "The order is reversed: the connector is made up from 5 to 1."
    astray = [w for w, t in zip(WIRES, terminals, strict=True) if t not in (0, w.terminal)]
    loose = [w for w, t in zip(WIRES, terminals, strict=True) if t == 0]
    clauses = []
    if astray:
        clauses.append(f"not on their terminals: {', '.join(w.colour for w in astray)}")
    if loose:
        clauses.append(f"not landed: {', '.join(w.colour for w in loose)}")
    return f"The conductors are not right; {'; '.join(clauses)}."


def _slip(part: Part, made: Made, layout: Layout) -> str:
    if part == "conductors":
        if made.terminals == REVERSED:
            return "order-reversed"
        return next((s for s, p in _PAIRS.items() if made.terminals == _exchanged(*p)), "")
    if part == "terminators":
        return _terminator_slip(made.terminators)
    return _shield_slip(made.shield, earth_place(layout))


def _terminator_slip(places: frozenset[str]) -> str:
    if len(places) == 2:
        return "terminator-in-the-middle"
    counts = {0: "no-terminator", 1: "one-terminator", 3: "three-terminators"}
    return counts.get(len(places), "")


def _shield_slip(places: frozenset[str], right: str) -> str:
    if not places:
        return "shield-not-earthed"
    if set(ENDS) <= places:
        return "shield-both-ends"
    return "shield-twice" if right in places else "shield-elsewhere"


def _exchanged(a: Wire, b: Wire) -> tuple[int, ...]:
    other = {a: b.terminal, b: a.terminal}
    return tuple(other.get(wire, wire.terminal) for wire in WIRES)


def _middle(layout: Layout) -> str:
    inner = [(place, at) for place, at in trunk_places(layout) if place not in ENDS]
    half = layout.plan.trunk_length / 2
    return min(inner, key=lambda item: abs(item[1] - half))[0]


def _answer(
    terminals: tuple[int, ...], terminators: tuple[str, ...], shield: tuple[str, ...]
) -> Answer:
    landed = {w.colour: t for w, t in zip(WIRES, terminals, strict=True)}
    return {
        "conductors": {colour: landed[colour] for colour in COLOURS},
        "terminators": list(terminators),
        "shield": list(shield),
    }
