"""Reading the kind `ladder`: operands, the required behaviour, and a program that shows it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final, Literal

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ladder import Coil, Contact, Program, Rung
from labkit.fieldbus.ladder_text import rung_from_text
from labkit.kinds.common.read_line import LineFields, LineReader
from labkit.kinds.ladder.check import example_problem
from labkit.kinds.ladder.data import PARTS, LadderAsk, LadderKey, Operand, Part, Step
from labkit.kinds.ladder.playing import MOST_REMEMBERED
from labkit.kinds.ladder.program import program_json
from labkit.kinds.ladder.read_panel import InputFields, OperandFields, PanelReader
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Name, Strict, Text
from labkit.language.expression import RESERVED, Formula, Prose, Value
from labkit.language.problems import Place, definition_error, nearest
from labkit.language.stream import Stream

MOST_INPUTS: Final = 6
"""Inputs that a formula may have: every combination of them is tried, up and down again."""
MOST_RUNGS: Final = 12


class StepFields(Strict):
    """The inputs that are on in a step, and the outputs that must be on then."""

    on: list[Name] = Field(default_factory=list, description="The inputs that are on.")
    lit: list[Name] = Field(default_factory=list, description="The outputs that must be on then.")


class LadderFields(ExerciseFields):
    """`when`: for each output a formula of the inputs; or `steps`, from everything off; `presses`.

    `program` is one that does it, a line a rung: motor := (start OR motor) AND NOT stop.
    """

    inputs: list[InputFields] = Field(min_length=1, max_length=16, description="At most 16.")
    outputs: list[OperandFields] = Field(min_length=1, max_length=16, description="At most 16.")
    memory: list[OperandFields] = Field(
        default_factory=list,
        max_length=16,
        description="Operands that are neither input nor output.",
    )
    operands: Literal["names", "addresses"] = Field(
        default="names", description="What the trainee chooses from."
    )
    when: dict[Name, Text] = Field(
        default_factory=dict,
        description="In place of steps, for each output a formula of the inputs: lamp: not mute "
        "and (a or b)",
    )
    steps: list[StepFields] = Field(
        default_factory=list,
        max_length=200,
        description="From everything off; memory stays from step to step.",
    )
    presses: bool = Field(
        default=False,
        description="In place of steps: the program below says what is right, in every order in "
        "which the inputs can be pressed, broken or unplugged.",
    )
    program: list[Text] = Field(
        min_length=1,
        max_length=MOST_RUNGS,
        description="One that does it, a line a rung: motor := (start OR motor) AND stop. The "
        "trainee does not see it.",
    )
    line: LineFields | None = Field(
        default=None,
        description="The lab's network, against which the program runs while it is tried out: "
        "needs an address at each input and output.",
    )
    rungs: Annotated[int, Field(ge=1, le=MOST_RUNGS)] = Field(
        default=4, description="At most so many."
    )


class LadderReader:
    """Reads a `ladder` exercise."""

    fields = LadderFields

    def read(self, fields: LadderFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        operands = _Operands(fields, reader)
        behaviour = _Behaviour(fields, reader)
        line = LineReader(fields.line, reader, "line") if fields.line else None
        panel = PanelReader(fields.inputs, reader, needed=fields.presses or line is not None)
        program = _program(fields, reader)
        place = reader.place("program")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            ids, listed, addresses = operands.for_scenario(values)
            ask: LadderAsk = {
                "inputs": listed["inputs"],
                "outputs": listed["outputs"],
                "memory": listed["memory"],
                "rungs": fields.rungs,
            }
            if line is not None:
                texts = {each["id"]: each["text"] for each in listed["outputs"]}
                ask["line"] = line.for_scenario(values, addresses, texts)
            controls = panel.for_scenario(ids, values, ask.get("line"))
            if controls is not None:
                ask["panel"] = controls
            key: LadderKey = {
                "steps": [
                    {
                        "on": [ids[name] for name in step["on"]],
                        "lit": [ids[name] for name in step["lit"]],
                    }
                    for step in behaviour.steps(values)
                ],
                "example": program_json(_renamed(program, ids)),
            }
            if fields.presses:
                key["presses"] = True
            problem = example_problem(ask, key)
            if problem:
                raise definition_error(
                    place,
                    f"this program does not do what is required: {problem}",
                    "Mend the program, or what is required of it.",
                )
            return Prepared(ask, key)

        return prepare


class _Operands:
    """The operands of the three parts, each with the texts that a scenario fills in."""

    def __init__(self, fields: LadderFields, reader: FieldReader) -> None:
        self._by_address = fields.operands == "addresses"
        self._parts: dict[Part, list[tuple[str, Prose | None, Prose, Place]]] = {}
        seen: set[str] = set()
        for part in PARTS:
            self._parts[part] = []
            for index, item in enumerate(getattr(fields, part)):
                here = (part, index)
                if item.name in seen or item.name in RESERVED:
                    message = f"'{item.name}' is there twice, or a word of the formulas."
                    raise reader.error(message, "Choose another name.", *here, "name")
                if self._by_address and item.address is None:
                    mend = "Add 'address: …', or leave 'operands' out."
                    raise reader.error("the address is missing.", mend, *here, "address")
                seen.add(item.name)
                address = None
                if item.address is not None:
                    address = reader.prose(item.address, *here, "address")
                text = reader.prose(item.text, *here, "text")
                place = reader.place(*here)
                self._parts[part].append((item.name, address, text, place))

    def for_scenario(
        self, values: Mapping[str, Value]
    ) -> tuple[dict[str, str], dict[Part, list[Operand]], dict[str, str]]:
        """Each name's operand as the page shows it, those of each part, and their addresses."""
        ids: dict[str, str] = {}
        addresses: dict[str, str] = {}
        listed: dict[Part, list[Operand]] = {}
        for part, items in self._parts.items():
            listed[part] = []
            for name, address, text, place in items:
                shown = address.render(values) if address else ""
                label = shown if self._by_address else name
                if label in ids.values():
                    raise definition_error(place, f"the operand '{label}' is there twice.")
                ids[name] = label
                if shown and part != "memory":
                    addresses[label] = shown
                words = text.render(values)
                if shown and not self._by_address:
                    words = f"{words}, {shown}" if words else shown
                listed[part].append({"id": label, "text": words})
        return ids, listed, addresses


class _Behaviour:
    """What is required: formulas of the inputs, or steps."""

    def __init__(self, fields: LadderFields, reader: FieldReader) -> None:
        inputs = [item.name for item in fields.inputs]
        outputs = [item.name for item in fields.outputs]
        self._inputs = inputs
        self._steps: list[Step] = [{"on": step.on, "lit": step.lit} for step in fields.steps]
        self._presses = fields.presses
        if [bool(fields.when), bool(fields.steps), fields.presses].count(True) != 1:
            mend = "Write 'when:' with a formula for each output, 'steps:', or 'presses: yes'."
            raise reader.error("what the program must do is not said once.", mend, "steps")
        remembered = len(outputs) + 2 * len(fields.memory)
        if fields.presses and remembered > MOST_REMEMBERED:
            message = "outputs and memory are too many to play every sequence of presses."
            mend = f"Take at most {MOST_REMEMBERED}, each memory bit counted twice, or 'steps'."
            raise reader.error(message, mend, "presses")
        for index, step in enumerate(fields.steps):
            _must_be_known(step.on, inputs, reader, "steps", index, "on")
            _must_be_known(step.lit, outputs, reader, "steps", index, "lit")
        if fields.when and len(inputs) > MOST_INPUTS:
            message = f"formulas of {len(inputs)} inputs have too many cases."
            raise reader.error(message, f"Take at most {MOST_INPUTS} inputs, or 'steps'.", "when")
        if fields.when:
            _must_be_known([*fields.when], outputs, reader, "when")
        known = reader.known | set(inputs)
        self._formulas: dict[str, Formula] = {
            name: reader.language.formula(text, reader.place("when", name), known)
            for name, text in fields.when.items()
        }

    def steps(self, values: Mapping[str, Value]) -> list[Step]:
        """The steps; for formulas every combination of inputs, upwards and down again."""
        if self._steps or self._presses:
            return self._steps
        cases = range(2 ** len(self._inputs))
        # Down again too: a program that remembers what it should not is found out.
        return [self._case(number, values) for number in (*cases, *reversed(cases[:-1]))]

    def _case(self, number: int, values: Mapping[str, Value]) -> Step:
        state = {name: bool(number >> at & 1) for at, name in enumerate(self._inputs)}
        names: dict[str, Value] = {name: values[name] for name in values if callable(values[name])}
        for formula in self._formulas.values():
            names |= {name: values[name] for name in formula.names - {*state}}
        lit = [name for name, f in self._formulas.items() if f.evaluate({**names, **state})]
        return {"on": [name for name, on in state.items() if on], "lit": lit}


def _must_be_known(
    names: list[str], known: list[str], reader: FieldReader, *path: str | int
) -> None:
    for name in names:
        if name not in known:
            raise reader.error(f"'{name}' is none of these here.", nearest(name, known), *path)


def _program(fields: LadderFields, reader: FieldReader) -> Program:
    known = [item.name for part in PARTS for item in getattr(fields, part)]
    if len(fields.program) > fields.rungs:
        message = f"has {len(fields.program)} rungs, but 'rungs' allows {fields.rungs}."
        raise reader.error(message, "Raise 'rungs'.", "program")
    rungs = []
    for index, text in enumerate(fields.program):
        try:
            rung = rung_from_text(text)
        except PlanError as error:
            raise reader.error(str(error), "", "program", index) from error
        used = [rung.coil.operand, *(contact.operand for contact in rung.contacts())]
        _must_be_known(used, known, reader, "program", index)
        rungs.append(rung)
    return Program(tuple(rungs))


def _renamed(program: Program, ids: Mapping[str, str]) -> Program:
    """The program with each name as the page shows it."""

    def contact(old: Contact) -> Contact:
        return Contact(ids[old.operand], old.closed)

    def rung(old: Rung) -> Rung:
        groups = tuple(
            tuple(tuple(map(contact, branch)) for branch in group) for group in old.groups
        )
        return Rung(groups, Coil(ids[old.coil.operand], old.coil.kind))

    return Program(tuple(map(rung, program.rungs)))
