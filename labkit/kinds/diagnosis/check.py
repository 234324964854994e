"""Finding a fault on the virtual bench, saying what and where it is, and repairing it.

The fault and its place are held against the faults in the bench; the repair is tried by taking
the steps on that bench again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from operator import itemgetter
from typing import Any, Final

from labkit.bench.actions import Action, NotDoneError
from labkit.bench.bench import Bench
from labkit.bench.conductors import printed
from labkit.bench.faults import Fault, Loose
from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.bench.mending import mend
from labkit.bench.setup import Setup
from labkit.bench.twins import twins_of, unseen
from labkit.doors.check import Caveat
from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common import paper
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.common.paper import Mistake
from labkit.kinds.common.paper_bench_line import bench_line
from labkit.kinds.diagnosis.data import Answer, DiagnosisAsk, DiagnosisKey, Part, Said, Shares, Step
from labkit.kinds.diagnosis.look_back import looked_back
from labkit.kinds.diagnosis.naming import (
    ELSEWHERE,
    NEITHER,
    TEST_AGAIN,
    WITH_WIRES,
    accepted_places,
    other_sort,
    said_wires,
    several_named,
    texts,
    wires_of,
)
from labkit.kinds.diagnosis.paper import readings_sheet
from labkit.kinds.diagnosis.replaying import carried_over, to_replay

STEPS_ALLOWED: Final = 300
LOG_ROWS: Final = 9
"""Rows of the log on paper: with the line drawn above it, a case fits on a page of Letter. Each
fault more that may be named takes the place of two."""

_EACH_ITS_PART: Final = (
    "Each fault in the bench earns an equal part of the marks for kind and place by being named, "
    "and of those for the repair by being mended. A fault named beyond them takes its part away."
)


class DiagnosisCheck:
    """The fault named, its place, and the bench whole again."""

    def unreadable(self, ask: DiagnosisAsk, answer: Any) -> str:
        """No verdict, or one that names nothing on the bench."""
        if not isinstance(answer, dict) or not isinstance(answer.get("verdict"), dict):
            return "Say what the fault is and where it is."
        setup, several = _setup(ask), ask.get("names", 1)
        more = answer.get("more", [])
        if not isinstance(more, list) or len(more) > several - 1:
            return "More faults are named than can be read here."
        for number, said in enumerate([answer["verdict"], *more], 1):
            sentence = _not_named(said, setup)
            if sentence:
                return f"Fault {number}: {sentence}" if several > 1 else sentence
        steps = answer.get("steps", [])
        if not isinstance(steps, list) or len(steps) > STEPS_ALLOWED:
            return "The steps at the bench cannot be read: make the verdict again."
        planned = answer.get("repairs", [])
        if not isinstance(planned, list) or len(planned) > STEPS_ALLOWED:
            return "The repairs cannot be read: choose them again."
        return ""

    def check(self, ask: DiagnosisAsk, key: DiagnosisKey, answer: Any) -> Verdict:
        """What was found of the fault, and whether the bench is whole again."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        setup = _setup(ask)
        faults = faults_of(setup, key)
        said: Said = answer["verdict"]
        if ask.get("names", 1) > 1:
            return _check_several(setup, faults, key["shares"], answer)
        shares, cable = key["shares"], setup.layout.conductors
        sort = [
            f for f in faults if f.kind == said["fault"] and wires_of(f, cable) == said_wires(said)
        ]
        same_sort = [f for f in faults if f.kind == said["fault"]]
        place = [f for f in faults if said["place"] in accepted_places(setup.layout, f)]
        hit = [f for f in sort if f in place]
        credit, lines = 0.0, []
        if hit:
            credit += shares["fault"] + shares["place"]
            lines.append(f"The fault is found: {hit[0].words_on(setup.layout)}.")
        elif sort:
            credit += shares["fault"]
            lines.append(ELSEWHERE)
        elif place:
            credit += shares["place"]
            lines.append(other_sort(same_sort, place))
        else:
            lines.append(NEITHER)
        repaired, sentence = _tried(setup, faults, answer)
        if shares["repair"]:
            credit += shares["repair"] if repaired == 1 else 0.0
            lines.append(sentence)
        whole = credit > 1 - 1e-9
        return Verdict(
            1.0 if whole else credit, " ".join(lines), _slip(hit, sort, place, repaired == 1)
        )

    def shown(self, ask: DiagnosisAsk, answer: Any) -> str:
        """The verdict in a line, and how many steps led to it."""
        if not isinstance(answer, dict) or not isinstance(answer.get("verdict"), dict):
            return ""
        choices, more = _setup(ask).catalogue.choices, answer.get("more")
        told = [_said_in_words(answer["verdict"], choices)]
        if isinstance(more, list):
            told += [_said_in_words(said, choices) for said in more if isinstance(said, dict)]
        steps = answer.get("steps")
        count = len(steps) if isinstance(steps, list) else 0
        return f"{'; '.join(told)}; {count} steps"

    def right_answer(self, ask: DiagnosisAsk, key: DiagnosisKey) -> Answer:
        """The first fault named, each where several may be, and a repair of all."""
        setup = _setup(ask)
        faults = faults_of(setup, key)
        right: Answer = {
            "steps": [{"kind": "power off"}, *repairs(setup, faults)],
            "verdict": _said(setup, faults[0]),
        }
        if ask.get("names", 1) > 1:
            right["more"] = [_said(setup, fault) for fault in faults[1:]]
        return right

    def slip_answers(self, ask: DiagnosisAsk, key: DiagnosisKey) -> dict[str, Answer]:
        """The right kind at the wrong place, the wrong kind at the right place, no repair."""
        setup = _setup(ask)
        faults = faults_of(setup, key)
        right = self.right_answer(ask, key)
        taken = {place for fault in faults for place in accepted_places(setup.layout, fault)}
        elsewhere = [place for place in places(setup) if place not in taken]
        kinds = {fault.kind for fault in faults}
        others = [
            kind for kind in setup.catalogue.choices if kind not in kinds and kind not in WITH_WIRES
        ]
        said = right["verdict"]
        answers: dict[str, Answer] = {}
        more = right.pop("more", [])
        if more:
            first = [{"kind": "power off"}, *repairs(setup, faults[:1])]
            answers["one-left"] = {**right, "steps": first}
        # Where everything is faulty, no place and no kind is wrong.
        if elsewhere:
            answers["wrong-place"] = {**right, "verdict": {**said, "place": elsewhere[0]}}
        if elsewhere and others and len(faults) < ask.get("names", 1):
            stray: Said = {"fault": others[0], "wires": [], "place": elsewhere[0]}
            answers["one-too-many"] = {**right, "more": [*more, stray]}
        if others:
            answers["wrong-fault"] = {**right, "verdict": {**said, "fault": others[0], "wires": []}}
        if key["shares"]["repair"]:
            answers["not-repaired"] = {**self.right_answer(ask, key), "steps": []}
        return answers

    def places(self, ask: DiagnosisAsk) -> list[str]:
        """Every place that a verdict can name, in a fixed order."""
        return places(_setup(ask))

    def right_places(self, ask: DiagnosisAsk, key: DiagnosisKey) -> frozenset[str]:
        """The places that count as a fault's own."""
        setup = _setup(ask)
        faults = faults_of(setup, key)
        return frozenset().union(*(accepted_places(setup.layout, fault) for fault in faults))

    def looked_back(self, ask: DiagnosisAsk, key: DiagnosisKey, answer: Any) -> list[str]:
        """What each step told, and a good path, as lines of text. Takes seconds."""
        return looked_back(ask, key, answer)

    def carried_over(
        self, ask: DiagnosisAsk, key: DiagnosisKey, steps: Sequence[Any], other: DiagnosisAsk
    ) -> list[Any]:
        """What was measured, in order until the first repair, as it is on the other bench."""
        return carried_over(ask, key, steps, other)

    def to_replay(
        self, ask: DiagnosisAsk, key: DiagnosisKey, ways: Sequence[Any]
    ) -> dict[str, Any]:
        """What is asked of the page, so that it plays ways at this bench."""
        return to_replay(ask, key, ways)

    def caveats(self, ask: DiagnosisAsk, key: DiagnosisKey) -> list[Caveat]:
        """The faults that no instrument shows, and those that have twins elsewhere."""
        setup = _setup(ask)
        faults = faults_of(setup, key)
        bench = Bench(setup, frozenset(faults))
        hidden = unseen(bench)
        told = {fault: fault.words_on(setup.layout) for fault in faults}
        found = [Caveat("unseen", f"No instrument shows this: {told[fault]}.") for fault in hidden]
        found += [
            Caveat(
                "unseen",
                f"In an assessed class nothing shows this: {told[fault]}. What is measured there "
                "was recorded at the start, while a loose contact is shut.",
                assessed_only=True,
            )
            for fault in faults
            if isinstance(fault, Loose) and fault not in hidden
            if fault in unseen(bench, recorded=True)
        ]
        for fault in faults:
            places = [twin.place for twin in twins_of(setup.layout, fault)]
            if places:
                text = f"No measurement tells '{told[fault]}' from the same at {', '.join(places)}."
                found.append(Caveat("twins", text))
        return found

    def paper(self, ask: DiagnosisAsk) -> str:
        """The line, how it is done without a laptop, a log to fill in, and the verdict."""
        heads = ["What was measured or done", "What it showed", "Minutes"]
        names = ask.get("names", 1)
        rows_of_log = [["", "", ""]] * (LOG_ROWS - 2 * (names - 1))
        log = paper.table(heads, rows_of_log, "fill", "fill", "fill tick")
        power = "on" if ask["power"] else "off"
        how = (
            "On paper your instructor is the meter. Say what you look at and where: an "
            "instrument, or two terminals of a connector and whether the power is on. Write down "
            f"every step; at most {ask['budget']:g} minutes of the bench's time. It begins with "
            f"the power {power}."
        )
        named = (
            "A place is a connector (its tap and “left”, “right” or “drop”), a device, an end, the "
            f"supply, {_other_places(_setup(ask))}."
        )
        rows = [
            [paper.line(words) for words in (which, "Conductors", "Its place")]
            for which in ([f"Fault {n + 1}" for n in range(names)] if names > 1 else ["The fault"])
        ]
        rows[-1] += [paper.line("The repair")] if ask["repairs"] else []
        fields = "".join(map(paper.side_by_side, rows))
        line = bench_line(_setup(ask).layout)
        return paper.note(how) + line + log + paper.note(named) + fields

    def paper_slips(self, ask: DiagnosisAsk, key: DiagnosisKey) -> list[Mistake]:  # noqa: ARG002
        """None: the marks of each part say what a half-right verdict earns."""
        return []

    def paper_for_marking(self, ask: DiagnosisAsk, key: DiagnosisKey, marks: float) -> str:
        """The faults that are in the bench, which places count, and the marks of each part."""
        setup = _setup(ask)
        faults = faults_of(setup, key)
        rows = [
            [
                paper.text(fault.words_on(setup.layout)),
                paper.text("; ".join(sorted(accepted_places(setup.layout, fault)))),
                paper.text("; ".join(_repair_words(setup, fault))),
            ]
            for fault in faults
        ]
        words: dict[Part, str] = {
            "fault": "The kind of the fault, and its conductors.",
            "place": "A place that counts as the fault's own.",
            "repair": "A repair that takes away every fault, and nothing made worse.",
        }
        shares = key["shares"]
        criteria = [{"text": words[n], "marks_share": shares[n]} for n in words if shares[n]]
        table = paper.table(["Fault in the bench", "Places that count", "A repair"], rows)
        catalogue = setup.catalogue
        costs = {**catalogue.costs, **ask["costs"]}
        minutes = ", ".join(
            f"{catalogue.spoken.get(kind, kind)} {costs[kind]:g}" for kind in catalogue.costs
        )
        return (
            table
            + paper.rubric(criteria, marks)
            + (paper.note(_EACH_ITS_PART) if ask.get("names", 1) > 1 else "")
            + paper.note(f"Minutes of the bench's time: {minutes}.")
            + readings_sheet(setup, faults)
        )


def faults_of(setup: Setup, key: DiagnosisKey) -> list[Fault]:
    """The faults that are in the bench."""
    return [setup.catalogue.fault_from_json(data) for data in key["faults"]]


def places(setup: Setup) -> list[str]:
    """Every place that a verdict can name: ends, connectors, devices, supplies, cables."""
    layout = setup.layout
    named = [LEFT_END, RIGHT_END, *layout.connectors, *layout.devices, *layout.supplies]
    named += [piece.id for piece in layout.pieces.values() if piece.runs]
    return list(dict.fromkeys([*named, "earth at the supply", *setup.other_places]))


def _other_places(setup: Setup) -> str:
    named = ["a cable between two places", *(f"the {place}" for place in setup.other_places)]
    *first, last = named
    return f"{', '.join(first)}, or {last}" if first else f"or {last}"


def repairs(setup: Setup, faults: list[Fault]) -> list[Step]:
    """Steps that take the faults away, as JSON."""
    return [step for fault in faults for step in mend(setup, fault)]


def _repair_words(setup: Setup, fault: Fault) -> list[str]:
    steps = map(setup.catalogue.step_from_json, mend(setup, fault))
    return [step.words_on(setup.layout) for step in steps]


def _said(setup: Setup, fault: Fault) -> Said:
    wires = sorted(wires_of(fault, setup.layout.conductors))
    return {"fault": fault.kind, "wires": wires, "place": fault.place}


def _said_in_words(said: dict[str, Any], choices: Mapping[str, str]) -> str:
    words = choices.get(str(said.get("fault")), "no fault named")
    wires = ", ".join(printed(w) for w in texts(said.get("wires")))
    return f"{words}{f' ({wires})' if wires else ''}, {said.get('place') or 'no place'}"


def _setup(ask: DiagnosisAsk) -> Setup:
    return setup_of(ask["setup"])


def _not_named(said: Any, setup: Setup) -> str:
    """What is missing in what is said of a fault."""
    fault = said.get("fault") if isinstance(said, dict) else None
    if not isinstance(fault, str) or fault not in setup.catalogue.choices:
        return "Choose what kind of fault it is."
    if said.get("place") not in places(setup):
        return "Choose the place of the fault."
    if fault in WITH_WIRES and not _named_wires(said.get("wires"), setup):
        return "Mark the conductor or the conductors that the fault concerns."
    return ""


def _named_wires(value: Any, setup: Setup) -> bool:
    named = texts(value)
    known = {wire.label for wire in setup.layout.conductors.wires}
    return bool(named) and known.issuperset(named)


def _check_several(setup: Setup, faults: list[Fault], shares: Shares, answer: Answer) -> Verdict:
    """Each fault earns its part by being named, and by being repaired."""
    said = [answer["verdict"], *answer.get("more", [])]
    named = several_named(setup.layout, faults, said, shares)
    credit, lines, slip = named.credit, named.lines, named.slip
    if shares["repair"]:
        repaired, sentence = _tried(setup, faults, answer)
        credit += shares["repair"] * repaired
        lines.append(sentence)
        slip = slip or ("" if repaired == 1 else "not-repaired")
    return Verdict(1.0 if credit > 1 - 1e-9 else credit, " ".join(lines), slip)


def _planned(setup: Setup, answer: Answer) -> list[Step]:
    """The repairs that were only named: with the power off, but for those that need it."""
    found: list[Step] = []
    for step in answer.get("repairs", []):
        kind = step.get("kind") if isinstance(step, dict) else None
        action = setup.catalogue.actions.get(kind) if isinstance(kind, str) else None
        needs = action is not None and action.needs_power
        found += [{"kind": "power on"}, step, {"kind": "power off"}] if needs else [step]
    return [{"kind": "power off"}, *found] if found else []


def _after(bench: Bench, steps: list[Step]) -> Bench:
    """The bench after the actions among the steps; a step that makes no sense changes nothing."""
    for data in steps:
        try:
            did = bench.setup.catalogue.step_from_json(data)
            if isinstance(did, Action):
                bench = did.do(bench)
        except (NotDoneError, PlanError):
            continue
    return bench


def _tried(setup: Setup, faults: list[Fault], answer: Answer) -> tuple[float, str]:
    """What share of the faults the steps leave repaired, all of it on a bench that is whole.

    Repairs that were only planned, on a bench that is recorded, are as good at a twin of the
    fault: nobody could know.
    """
    planned = _planned(setup, answer)
    done = [*answer.get("steps", []), *planned]
    before = frozenset(faults)
    told = _repair(before, _after(Bench(setup, before), done))
    if told[0] == 1 or not planned:
        return told
    for other in product(*((fault, *twins_of(setup.layout, fault)) for fault in faults)):
        twin = frozenset(other)
        if len(twin) == len(before):
            told = max(told, _repair(twin, _after(Bench(setup, twin), done)), key=itemgetter(0))
        if told[0] == 1:
            return 1.0, "That repairs what no measurement could tell from the fault: it counts."
    return told


def _repair(before: frozenset[Fault], left: Bench) -> tuple[float, str]:
    if not left.faults and not left.situation.unplugged and not left.situation.earth_lifted:
        return 1.0, "The bench is whole again."
    new = left.faults - before
    if new:
        words = min(fault.words_on(left.layout) for fault in new)
        return 0.0, f"Something is wrong that was not before: {words}."
    if not left.faults:
        return 0.0, "The fault is repaired, but the bench is not put together again."
    if left.faults < before:
        gone = 1 - len(left.faults) / len(before)
        return gone, f"A fault is repaired, and another is still in the bench. {TEST_AGAIN}"
    return 0.0, "The fault is still in the bench: repair it, and test again."


def _slip(hit: list[Fault], sort: list[Fault], place: list[Fault], repaired: bool) -> str:
    if hit:
        return "" if repaired else "not-repaired"
    if sort:
        return "wrong-place"
    return "wrong-fault" if place else "not-found"
