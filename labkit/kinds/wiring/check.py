"""Making up a connector, fitting the terminators, earthing the shield; judged on the bench.

Each of the three parts is right or wrong as a whole: a connector with two conductors exchanged
does not work three fifths. What is wrong is told with what a meter shows.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import lru_cache
from typing import Any, Final

from labkit.bench.conductors import Conductors, Landing, Wire
from labkit.bench.faults import Fault
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


class WiringCheck:
    """The connector, the terminators and the shield, on the bench that they make."""

    def unreadable(self, ask: WiringAsk, answer: Any) -> str:
        """Nothing landed, or a place or terminal that is not there."""
        if not isinstance(answer, dict):
            return "Land the conductors first."
        if _asked(ask, "conductors"):
            conductors, landed = _setup(ask).layout.conductors, answer.get("conductors")
            most = len(conductors.wires)
            if not isinstance(landed, dict) or not all(_terminal(v, most) for v in landed.values()):
                return "Land the conductors first."
            if not any(landed.get(colour) for colour in colours(conductors)):
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

    def check(self, ask: WiringAsk, key: WiringKey, answer: Any) -> Verdict:
        """Each part by itself, with the reading that shows what is wrong with it."""
        verdict = self.judged(ask, key, answer)
        if verdict.right or not verdict.readable:
            return verdict
        layout = _setup(ask).layout
        made = made_of(ask, layout, answer)
        wrong = _wrong(ask, layout, made)
        lines = [f"{_words(part, made, layout)} {_shows(ask, part, wrong[part])}" for part in wrong]
        return replace(verdict, message="\n\n".join(lines))

    def judged(self, ask: WiringAsk, key: WiringKey, answer: Any) -> Verdict:  # noqa: ARG002
        """As `check`, without looking for the reading that shows what is wrong."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        layout = _setup(ask).layout
        made = made_of(ask, layout, answer)
        wrong = _wrong(ask, layout, made)
        if not wrong:
            return Verdict(1.0, "Right: the meter reads what it should, everywhere.")
        credit = math.fsum(ask["shares"][part] for part in PARTS if part not in wrong)
        slips = (_slip(part, made, layout) for part in wrong)
        return Verdict(min(credit, 1.0), "", next(filter(None, slips), ""))

    def shown(self, ask: WiringAsk, answer: Any) -> str:
        """The three parts in a line."""
        if not isinstance(answer, dict):
            return ""
        landed = answer.get("conductors")
        landed = landed if isinstance(landed, dict) else {}
        most = len(_setup(ask).layout.conductors.wires)
        order = ", ".join(f"{c} {v}" for c, v in landed.items() if _terminal(v, most) and v)
        clauses = [order or "nothing landed"]
        for part in ("terminators", "shield"):
            places = answer.get(part)
            texts = [p for p in places if isinstance(p, str)] if isinstance(places, list) else []
            clauses.append(f"{part} at {', '.join(texts) or 'no place'}")
        return "; ".join(clauses)

    def right_answer(self, ask: WiringAsk, key: WiringKey) -> Answer:  # noqa: ARG002
        """Everything as it should be."""
        layout = _setup(ask).layout
        return _answer(layout.conductors, layout.conductors.in_order, ENDS, (earth_place(layout),))

    def slip_answers(self, ask: WiringAsk, key: WiringKey) -> dict[str, Answer]:  # noqa: ARG002
        """The known mistakes of each part that is asked for."""
        layout = _setup(ask).layout
        right, middle = earth_place(layout), _middle(layout)
        conductors = layout.conductors

        def answer(terminators: tuple[str, ...], shield: tuple[str, ...]) -> Answer:
            return _answer(conductors, conductors.in_order, terminators, shield)

        answers = {}
        if _asked(ask, "conductors"):
            for slip, pair in _pairs(conductors).items():
                landing = conductors.exchanged(*pair)
                answers[slip] = _answer(conductors, landing, ENDS, (right,))
            landing = _reversed(conductors)
            answers["order-reversed"] = _answer(conductors, landing, ENDS, (right,))
        if _asked(ask, "terminators"):
            for slip, places in {
                "terminator-in-the-middle": (LEFT_END, middle),
                "one-terminator": (LEFT_END,),
                "three-terminators": (*ENDS, middle),
                "no-terminator": (),
            }.items():
                answers[slip] = answer(places, (right,))
        if _asked(ask, "shield"):
            answers["shield-both-ends"] = answer(ENDS, ENDS)
            answers["shield-not-earthed"] = answer(ENDS, ())
            answers["shield-elsewhere"] = answer(ENDS, (LEFT_END,))
            answers["shield-twice"] = answer(ENDS, (right, LEFT_END))
        return answers

    def paper(self, ask: WiringAsk) -> str:
        """The conductors and the open connector to join by lines, and the trunk to mark."""
        parts = []
        if _asked(ask, "conductors"):
            parts.append(paper.note("Draw a line from each conductor to the terminal it lands on."))
            conductors = _setup(ask).layout.conductors
            parts.append(connector_to_land(colours(conductors), conductors))
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
            parts.append(paper.filled(_in_order(layout.conductors)))
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
        layout = _setup(ask).layout
        right = earth_place(layout)
        words: dict[Part, str] = {
            "conductors": f"Terminals: {_in_order(layout.conductors)}.",
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
        terminals = tuple(landed.get(wire.colour, 0) for wire in layout.conductors.wires)
        made = replace(made, terminals=terminals)
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


def _terminal(value: Any, most: int) -> bool:
    return type(value) is int and 0 <= value <= most


def colours(conductors: Conductors) -> tuple[str, ...]:
    """Those of the conductors, in an order that says nothing of their terminals."""
    return tuple(sorted(wire.colour for wire in conductors.wires))


def _in_order(conductors: Conductors) -> str:
    return ", ".join(f"{w.terminal} {w.colour} ({w.words})" for w in conductors.wires)


def _pairs(conductors: Conductors) -> dict[str, tuple[Wire, Wire]]:
    """The pairs that are known to be exchanged, by the id of the mistake."""
    found = {f"{conductors.pair_name}-exchanged": conductors.pair}
    return found | ({"power-exchanged": conductors.power} if conductors.power else {})


def _reversed(conductors: Conductors) -> Landing:
    return conductors.in_order[::-1]


def _wrong(ask: WiringAsk, layout: Layout, made: Made) -> dict[Part, tuple[Fault, ...]]:
    """The parts that are not as they should be, each with its faults."""
    asked = [part for part in PARTS if _asked(ask, part)]
    found = {part: _faults(layout, ask["device"], made, part) for part in asked}
    return {part: faults for part, faults in found.items() if faults}


def _faults(layout: Layout, device: str, made: Made, part: Part) -> tuple[Fault, ...]:
    if part == "conductors":
        return made.conductor_faults(layout, device)
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
        return _conductor_words(layout.conductors, made.terminals)
    if part == "terminators":
        wrong = "The terminators are not right"
        right, found = frozenset(ENDS), made.terminators
    else:
        several = len(layout.supplies) > 1
        where = "the supply nearest to the middle" if several else layout.earthed_words
        wrong = f"The shield must be earthed at one point, at {where}; its earths are not right"
        right, found = frozenset({earth_place(layout)}), made.shield
    order = [place for place, _ in trunk_places(layout)]
    clauses = [f"none at {_the(p)}" for p in order if p in right - found]
    clauses += [f"one at {_the(p)}, where none belongs" for p in order if p in found - right]
    return f"{wrong}: {'; '.join(clauses)}."


def _the(place: str) -> str:
    return f"the {place}" if place in ENDS or place.startswith("power tap") else place


def _conductor_words(conductors: Conductors, terminals: Landing) -> str:
    for a, b in _pairs(conductors).values():
        if terminals == conductors.exchanged(a, b):
            return f"{a.words} and {b.words} are exchanged: {a.colour} and {b.colour}."
    if terminals == _reversed(conductors):
        most = len(conductors.wires)
        return f"The order is reversed: the connector is made up from {most} to 1."
    landed = [*zip(conductors.wires, terminals, strict=True)]
    astray = [w for w, t in landed if t not in (0, w.terminal)]
    loose = [w for w, t in landed if t == 0]
    clauses = []
    if astray:
        clauses.append(f"not on their terminals: {', '.join(w.colour for w in astray)}")
    if loose:
        clauses.append(f"not landed: {', '.join(w.colour for w in loose)}")
    return f"The conductors are not right; {'; '.join(clauses)}."


def _slip(part: Part, made: Made, layout: Layout) -> str:
    if part == "conductors":
        conductors = layout.conductors
        if made.terminals == _reversed(conductors):
            return "order-reversed"
        pairs = _pairs(conductors).items()
        return next((s for s, p in pairs if made.terminals == conductors.exchanged(*p)), "")
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


def _middle(layout: Layout) -> str:
    inner = [(place, at) for place, at in trunk_places(layout) if place not in ENDS]
    half = layout.plan.trunk_length / 2
    return min(inner, key=lambda item: abs(item[1] - half))[0]


def _answer(
    conductors: Conductors,
    terminals: Landing,
    terminators: tuple[str, ...],
    shield: tuple[str, ...],
) -> Answer:
    landed = {w.colour: t for w, t in zip(conductors.wires, terminals, strict=True)}
    return {
        "conductors": {colour: landed[colour] for colour in colours(conductors)},
        "terminators": list(terminators),
        "shield": list(shield),
    }
