"""What the meter should show in `troubleshooting`: Ohm's law, the bench's display, and the key."""

from __future__ import annotations

from itertools import product
from typing import Any

from course_draws import lab, scenario, scenarios

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault, TerminatorExtra, TerminatorMissing
from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.bench.situation import Terminal
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.setup import Setup
from labkit.lab.definition import Exercise

LAB = "troubleshooting"
TERMINATOR = 121.0
RECEIVER = 30_000.0
"""One device between CAN_H and CAN_L on the bench: 15 kΩ from each wire to its middle."""
DRAWS = 50
"""With 300, which takes minutes, all hold too."""


def exercise(name: str) -> Exercise:
    return next(each for each in lab(LAB).exercises if each.id == name)


def beside(terminators: int, devices: int) -> float:
    """Ω of so many terminators and receivers in parallel."""
    return 1 / (terminators / TERMINATOR + devices / RECEIVER)


def test_by_sum_with_and_without_receivers_and_by_the_display_the_table_is_right() -> None:
    check = check_for("table")
    for made in scenarios(LAB, DRAWS):
        prepared = made.prepare(exercise("terminators-table"))
        names: Any = made.names
        devices, at = names["others"] + 1, names["meter_name"]
        network = names["network"]
        faults: list[list[Fault]] = [
            [TerminatorMissing(LEFT_END), TerminatorMissing(RIGHT_END)],
            [TerminatorMissing(RIGHT_END)],
            [],
            [TerminatorExtra(at)],
        ]
        setup = Setup(network, "scanner")
        shown = [
            Bench(setup, frozenset(each)).ohms(Terminal(at, 4), Terminal(at, 2)).text
            for each in faults
        ]
        none = f"{beside(0, devices) / 1000:.2f} kΩ"
        for answer in (
            shown,
            [none, *(f"{beside(count, devices):.1f} Ω" for count in (1, 2, 3))],
            [none, "121 Ω", "60.5 Ω", "40.3 Ω"],
            [none, "120 Ω", "60 Ω", "40 Ω"],
        ):
            cells = check.right_answer(prepared.ask, prepared.key)
            typed = dict(zip(cells, answer, strict=True))
            verdict = check.check(prepared.ask, prepared.key, typed)
            assert verdict.right, (made.seed, answer, verdict.message)


def test_a_training_bench_reads_right_with_its_devices_plugged_in() -> None:
    check: Any = check_for("measured")
    seen = set()
    for number in range(8):
        made = scenario(LAB, number)
        prepared, fitted = made.prepare(exercise("real-terminators")), made.names["fitted"]
        seen.add(fitted)
        for devices, each, leads in product((0, 1, 6, 10), (0.99, 1.0, 1.01), (0.0, 0.4, 0.8)):
            for there in (1, 2, 3, 4):
                ohm = 1 / (there / (each * TERMINATOR) + devices / RECEIVER) + leads
                for meter in ("bench", "hand"):
                    typed = {"value": f"{ohm:.1f} Ω", "meter": meter}
                    verdict = check.check(prepared.ask, prepared.key, typed)
                    assert verdict.right == (there == fitted), (number, there, typed)
    assert seen == {1, 2, 3}
