"""Where one supply stands on the trunk: checked by calculating the plan that the trainee made."""

from __future__ import annotations

from typing import Any

from labkit.doors.installed import supply_for
from labkit.doors.supply import Supplied, Trunk
from labkit.doors.verdict import Verdict, unreadable
from labkit.fieldbus.result import RuleResult
from labkit.kinds.common import paper
from labkit.kinds.common.accepted_span import rounded_inwards
from labkit.kinds.common.of_family import family_of
from labkit.kinds.supply_position.data import Answer, SupplyAsk, SupplyKey
from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, form, read_quantity


class PlanData(dict[str, Any]):
    """A plan as JSON that still knows the trunk it was written from: reading it back is slow.

    Nobody changes it: what is read again from a file is a plain dict.
    """

    def __init__(self, trunk: Trunk) -> None:
        super().__init__(trunk.to_json())
        self.trunk = trunk


def trunk_of(ask: SupplyAsk) -> Trunk:
    """The plan that an exercise shows."""
    data = ask["network"]
    return data.trunk if isinstance(data, PlanData) else supply_for(family_of(ask)).from_json(data)


class SupplyPositionCheck:
    """Right is every position where the plan holds."""

    def unreadable(self, ask: SupplyAsk, answer: Any) -> str:  # noqa: ARG002
        """Not a length."""
        if not isinstance(answer, str):
            return "Write a position in metres from the left end, a number and its unit."
        try:
            read_quantity(answer, UNITS["m"])
        except QuantityError as error:
            return str(error)
        return ""

    def check(self, ask: SupplyAsk, key: SupplyKey, answer: Any) -> Verdict:  # noqa: ARG002
        """Every rule of the family, on both sides of the chosen position."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        trunk = trunk_of(ask)
        position = read_quantity(answer, UNITS["m"]).to(UNITS["m"])
        if not 0 <= position <= trunk.length:
            return Verdict(
                0.0,
                f"{position:g} m is not on the trunk, which runs from 0 to {trunk.length:g} m.",
                "off-the-trunk",
            )
        supplied = trunk.supplied_at(position)
        if all(result.ok for result in (*supplied.left, *supplied.right)):
            return Verdict(1.0, f"Right: at {position:g} m the plan holds. {supplied.figures}")
        return _broken(supplied, position)

    def tells_direction(self, ask: SupplyAsk) -> bool:  # noqa: ARG002
        """Which side is overloaded, and so which way to move."""
        return True

    def shown(self, ask: SupplyAsk, answer: Any) -> str:  # noqa: ARG002
        """As the trainee wrote it."""
        return answer if isinstance(answer, str) else ""

    def right_answer(self, ask: SupplyAsk, key: SupplyKey) -> Answer:  # noqa: ARG002
        """The middle of where the supply may stand."""
        return f"{trunk_of(ask).good_position():.12g} m"

    def slip_answers(self, ask: SupplyAsk, key: SupplyKey) -> dict[str, Answer]:
        """Positions that overload a side: either end, and just off the trunk."""
        trunk = trunk_of(ask)
        answers = {"off-the-trunk": f"{trunk.length + 10:.12g} m"}
        for position in (0.0, trunk.length):
            typed = f"{position:.12g} m"
            verdict = self.check(ask, key, typed)
            if verdict.slip:
                answers[verdict.slip] = typed
        return answers

    def examples(self, ask: SupplyAsk) -> list[Answer]:  # noqa: ARG002
        """What the empty line shows: the form of an answer."""
        return [form(UNITS["m"])]

    def paper(self, ask: SupplyAsk) -> str:
        """The trunk and its taps as a table, and a line for the position."""
        trunk = trunk_of(ask)
        pieces = ", then ".join(f"{piece.length:g} m {piece.cable}" for piece in trunk.pieces)
        rows = [[f"{tap.at:g}", paper.text(tap.name), f"{tap.current:.2f}"] for tap in trunk.taps]
        table = paper.table(["Tap at, m", "Device", "Current, A"], rows, "number", "", "number")
        line = paper.line("Supply, from the left end of the trunk, at", "m")
        left_to_right = f"The trunk from left to right: {pieces}."
        return paper.note(left_to_right) + table + paper.working_space() + line

    def paper_for_marking(self, ask: SupplyAsk, key: SupplyKey, marks: float) -> str:  # noqa: ARG002
        """Every stretch of the trunk where the supply keeps all rules."""
        trunk = trunk_of(ask)
        ends = (rounded_inwards(low, high, 1) for low, high in trunk.stretches())
        spans = [f"{low:.1f} to {high:.1f} m" for low, high in ends]
        figures = trunk.supplied_at(trunk.good_position()).figures
        return paper.note(
            f"Accepted: {' or '.join(spans)} from the left end, {paper.marks_in_words(marks)}. "
            f"At the position above: {figures}"
        )


def _broken(supplied: Supplied, position: float) -> Verdict:
    sides: dict[str, tuple[RuleResult, ...]] = {"left": supplied.left, "right": supplied.right}
    broken = [result for results in sides.values() for result in results if not result.ok]
    lines = [_sentence(result, result.where) for result in broken]
    failing = [side for side, results in sides.items() if not all(r.ok for r in results)]
    slip = "-and-".join(f"{side}-overloaded" for side in failing)
    if len(failing) == 2:
        advice = "Both sides fail: compare the load of each side and what each metre costs."
        return Verdict(0.0, "\n".join([*lines, advice]), slip)
    [side] = failing
    advice = f"Move the supply to the {side}, so that this side gets shorter."
    no_side = [_sentence(result, "on one side of the supply") for result in broken]
    no_advice = "The other side keeps every rule: work out both for this position."
    return Verdict(
        0.0,
        "\n".join([*lines, advice]),
        slip,
        directions=(f"{position:.12g} m, {side} side",),
        without_direction="\n".join([*no_side, no_advice]),
    )


def _sentence(result: RuleResult, where: str) -> str:
    unit, beyond = result.unit, "under" if result.at_least else "over"
    return (
        f"The {result.rule} fails {where}: {result.value:.2f} {unit}, "
        f"{-result.margin:.2f} {unit} {beyond} the limit of {result.limit:.2f} {unit}."
    )
