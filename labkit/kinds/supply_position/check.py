"""Where one supply stands on the trunk: checked by calculating the plan that the trainee made."""

from __future__ import annotations

from typing import Any

from labkit.doors.verdict import Verdict, unreadable
from labkit.families.devicenet.supply_stretches import good_position, stretches
from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.power import (
    FullCalculation,
    full_calculation,
)
from labkit.fieldbus.result import RuleResult
from labkit.kinds.common import paper
from labkit.kinds.common.accepted_span import rounded_inwards
from labkit.kinds.supply_position.data import Answer, SupplyAsk, SupplyKey
from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, form, read_quantity


class PlanData(dict[str, Any]):
    """A plan as JSON that still knows the network it was written from: reading it back is slow.

    Nobody changes it: what is read again from a file is a plain dict.
    """

    def __init__(self, network: Network) -> None:
        super().__init__(network.to_json())
        self.network = network


def _network_in(ask: SupplyAsk) -> Network:
    data = ask["network"]
    return data.network if isinstance(data, PlanData) else Network.from_json(data)


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
        """Every rule of the full calculation method, on both sides of the chosen position."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        network = _network_in(ask)
        position = read_quantity(answer, UNITS["m"]).to(UNITS["m"])
        if not 0 <= position <= network.trunk_length:
            return Verdict(
                0.0,
                f"{position:g} m is not on the trunk, which runs from 0 to "
                f"{network.trunk_length:g} m.",
                "off-the-trunk",
            )
        full = full_calculation(network, position)
        if full.ok:
            return Verdict(1.0, f"Right: at {position:g} m the plan holds. {_figures(full)}")
        return _broken(full, position)

    def tells_direction(self, ask: SupplyAsk) -> bool:  # noqa: ARG002
        """Which side is overloaded, and so which way to move."""
        return True

    def shown(self, ask: SupplyAsk, answer: Any) -> str:  # noqa: ARG002
        """As the trainee wrote it."""
        return answer if isinstance(answer, str) else ""

    def right_answer(self, ask: SupplyAsk, key: SupplyKey) -> Answer:  # noqa: ARG002
        """The middle of where the supply may stand."""
        return f"{good_position(_network_in(ask)):.12g} m"

    def slip_answers(self, ask: SupplyAsk, key: SupplyKey) -> dict[str, Answer]:
        """Positions that overload a side: either end, and just off the trunk."""
        network = _network_in(ask)
        answers = {"off-the-trunk": f"{network.trunk_length + 10:.12g} m"}
        for position in (0.0, network.trunk_length):
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
        network = _network_in(ask)
        trunk = ", then ".join(f"{piece.length:g} m {piece.cable}" for piece in network.segments)
        rows = [
            [
                f"{tap.position:g}",
                paper.text(", ".join(device.name for device in tap.drop.all_devices)),
                f"{tap.drop.nominal_current:.2f}",
            ]
            for tap in network.taps
        ]
        table = paper.table(["Tap at, m", "Device", "Current, A"], rows, "number", "", "number")
        line = paper.line("Supply, from the left end of the trunk, at", "m")
        left_to_right = f"The trunk from left to right: {trunk}."
        return paper.note(left_to_right) + table + paper.working_space() + line

    def paper_for_marking(self, ask: SupplyAsk, key: SupplyKey, marks: float) -> str:  # noqa: ARG002
        """Every stretch of the trunk where the supply keeps all rules."""
        network = _network_in(ask)
        ends = (rounded_inwards(low, high, 1) for low, high in stretches(network))
        spans = [f"{low:.1f} to {high:.1f} m" for low, high in ends]
        figures = _figures(full_calculation(network, good_position(network)))
        return paper.note(
            f"Accepted: {' or '.join(spans)} from the left end, {paper.marks_in_words(marks)}. "
            f"At the position above: {figures}"
        )


def _figures(full: FullCalculation) -> str:
    sides = [side for side in full.sides if side.rows]
    figures = [
        f"{side.side.capitalize()}: {side.trunk_current:.2f} A, {side.total:.2f} V of "
        f"{full.limit:.2f} V."
        for side in sides
    ]
    # A tap right at the supply may be wired to either side: say which one was calculated.
    counted = [
        f"{row.tap.capitalize()}, right at the supply, is counted to the {side.side}."
        for side in sides
        for row in side.rows
        if row.distance <= TOLERANCE
    ]
    return " ".join([*figures, *counted])


def _broken(full: FullCalculation, position: float) -> Verdict:
    broken = [result for result in full.results if not result.ok]
    lines = [_sentence(result, result.where) for result in broken]
    failing = [side.side for side in full.sides if not all(r.ok for r in side.results)]
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
    return (
        f"The {result.rule} fails {where}: {result.value:.2f} {result.unit}, "
        f"{-result.margin:.2f} {result.unit} over the limit of {result.limit:.2f} {result.unit}."
    )
