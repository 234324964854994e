"""A first test program in ladder form, checked by executing it."""

from __future__ import annotations

from typing import Any, Final

from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ladder import CoilKind, Program, power_flow, settle
from labkit.fieldbus.ladder_text import text_of
from labkit.kinds.common import paper
from labkit.kinds.ladder.data import Answer, LadderAsk, LadderKey, Part
from labkit.kinds.ladder.judging import (
    ByPresses,
    Judge,
    called,
    judge_of,
    presses_in_words,
    slip_of,
)
from labkit.kinds.ladder.paper import drawn_rungs, empty_rungs, symbols
from labkit.kinds.ladder.program import all_ids, program_json, program_of, unfinished
from labkit.kinds.ladder.repairs import Repair, broken_programs

_STEPS_A_TABLE: Final = 18
_WORDS: Final[dict[Part, str]] = {"inputs": "input", "outputs": "output", "memory": "memory bit"}


class LadderCheck:
    """The program does what is required, step by step."""

    def unreadable(self, ask: LadderAsk, answer: Any) -> str:
        """No rung yet, or one that is not finished."""
        return unfinished(ask, answer)

    def check(self, ask: LadderAsk, key: LadderKey, answer: Any) -> Verdict:
        """Executed step by step: right, or the first step at which an output differs."""
        return self._checked(ask, answer, judge_of(ask, key))

    def _checked(self, ask: LadderAsk, answer: Any, judge: Judge) -> Verdict:
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        program = program_of(answer)
        inputs = {each["id"] for each in ask["inputs"]}
        for number, rung in enumerate(program.rungs, 1):
            if rung.coil.operand in inputs:
                sentence = f"Rung {number} writes {called(ask, rung.coil.operand)}, an input: "
                sentence += "inputs come from the field; a coil writes an output."
                return Verdict(0.0, sentence, "input-written")
        told = judge.wrong(program)
        if not told:
            return Verdict(1.0, judge.right)
        slip = _written_twice(ask, program) or slip_of(ask, judge, program)
        if slip is None:
            return Verdict(0.0, told)
        return Verdict(0.0, f"{told}\n{slip.sentence}", slip.slip)

    def shown(self, ask: LadderAsk, answer: Any) -> str:
        """Rung by rung in one line each."""
        if self.unreadable(ask, answer):
            return ""
        return "; ".join(text_of(rung) for rung in program_of(answer).rungs)

    def right_answer(self, ask: LadderAsk, key: LadderKey) -> Answer:  # noqa: ARG002
        """The author's own program."""
        return key["example"]

    def slip_answers(self, ask: LadderAsk, key: LadderKey) -> dict[str, Answer]:
        """The author's program spoilt in one place, for each mistake that shows so."""
        answers: dict[str, Answer] = {}
        judge = judge_of(ask, key)
        for program in broken_programs(program_of(key["example"]), all_ids(ask)):
            answer = program_json(program)
            verdict = self._checked(ask, answer, judge)
            if verdict.slip and not verdict.right:
                answers.setdefault(verdict.slip, answer)
        return answers

    def paper(self, ask: LadderAsk) -> str:
        """The operands, the symbols, and empty rungs to draw in."""
        rows = [
            [
                paper.text(each["id"]),
                paper.text(f"{words}: {each['text']}" if each["text"] else words),
            ]
            for part, words in _WORDS.items()
            for each in ask[part]
        ]
        rungs = f"At most {ask['rungs']} rungs." if ask["rungs"] > 1 else "One rung."
        table = paper.table(["Operand", "What it is"], rows, "asked")
        return table + symbols() + paper.note(rungs) + empty_rungs(ask["rungs"])

    def paper_right(self, ask: LadderAsk, key: LadderKey) -> str:
        """The author's program, drawn and in a line each."""
        words = paper.filled(self.shown(ask, key["example"]))
        return words + drawn_rungs(program_of(key["example"]))

    def paper_for_marking(self, ask: LadderAsk, key: LadderKey, marks: float) -> str:
        """The steps that a program must pass: go through them with a finger on the rungs."""
        if key.get("presses"):
            return _presses_to_try(ask, key, marks)
        names = [each["id"] for each in (*ask["inputs"], *ask["outputs"])]
        tables = []
        for start in range(0, len(key["steps"]), _STEPS_A_TABLE):
            steps = list(enumerate(key["steps"], 1))[start : start + _STEPS_A_TABLE]
            rows = [
                [
                    paper.text(name),
                    *("1" if name in step["on"] + step["lit"] else "·" for _, step in steps),
                ]
                for name in names
            ]
            tables.append(paper.table(["Step", *(str(number) for number, _ in steps)], rows))
        note = (
            "Any program is right whose outputs do this in every step, inputs held as shown, what "
            f"a rung remembers kept from step to step: {paper.marks_in_words(marks)}, or none."
        )
        return paper.note(note) + "".join(tables)


def try_out(ask: LadderAsk, answer: Any, on: Any, memory: Any) -> dict[str, Any]:
    """What a program does with some inputs on: {"problem", "image", "power"} for the page to draw.

    `memory` is the image of the last try; anything in it that is not of this exercise is left out.
    """
    problem = unfinished(ask, answer)
    if problem:
        return {"problem": problem, "image": {}, "power": []}
    program = program_of(answer)
    pressed = on if isinstance(on, list) else []
    inputs = {each["id"]: each["id"] in pressed for each in ask["inputs"]}
    kept = memory if isinstance(memory, dict) else {}
    before = {name: kept.get(name) is True for name in all_ids(ask) if name not in inputs}
    image = settle(program, before, inputs)
    return {
        "problem": "",
        "image": {name: image.get(name, False) for name in all_ids(ask)},
        "power": [
            {"groups": flow.after, "coil": flow.coil}
            for flow in power_flow(program, {**image, **inputs})
        ],
    }


def _presses_to_try(ask: LadderAsk, key: LadderKey, marks: float) -> str:
    """For each mistake that one change makes the presses that show it, and what is right then."""
    judge, rows = ByPresses(ask, key), {}
    for program in broken_programs(program_of(key["example"]), all_ids(ask)):
        parting = judge.shortest(program)
        if parting is not None and parting.wanted is not None:
            state = f"{parting.output} {'on' if parting.wanted else 'off'}"
            rows[presses_in_words(ask, parting)] = state
    cells = [[paper.text(presses), paper.text(state)] for presses, state in rows.items()]
    note = (
        "Any program is right that does what the drawn one does, whatever is pressed and in "
        f"whichever order: {paper.marks_in_words(marks)}, or none. These presses show mistakes."
    )
    return paper.note(note) + paper.table(["What is done", "Then"], cells)


def _written_twice(ask: LadderAsk, program: Program) -> Repair | None:
    plain = [r.coil.operand for r in program.rungs if r.coil.kind is CoilKind.ASSIGN]
    twice = next((operand for operand in plain if plain.count(operand) > 1), "")
    if not twice:
        return None
    sentence = f"Two rungs have a plain coil of {called(ask, twice)}: the last one decides."
    return Repair("double-coil", sentence, program)


def example_problem(ask: LadderAsk, key: LadderKey) -> str:
    """Why the author's own program is not right; "" where it is."""
    try:
        verdict = LadderCheck().check(ask, key, key["example"])
    except PlanError as error:
        return str(error)
    return "" if verdict.right else verdict.message.split("\n")[0]
