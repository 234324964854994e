"""The lab of wiring: its formulas against the bench's circuit, its sheets against what they say.

121 ohm terminators and the resistance of the signal conductors: ODVA PUB00027R1. 50 to 70 ohm:
common practice, no source. 11 to 25 V at a node: ODVA PUB00027R1.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from labkit.bench.layout import Layout
from labkit.bench.making import earth_place
from labkit.lab.draw import Scenario, draw
from labkit.lab.networks.devicenet_bench import OPEN, ohms_between
from labkit.lab.reading import read_lab

LAB = Path(__file__).parents[2] / "labs" / "wiring-and-terminators" / "lab.md"
DRAWS = 40
SOME_OHMS, SOME_KILOHMS = 40.0, 1000.0
"""Far over a conductor from end to end; just under the receivers of seven devices side by side."""


@cache
def scenarios() -> list[Scenario]:
    lab = read_lab(LAB)
    return [draw(lab, f"wiring {number}") for number in range(DRAWS)]


def given(scenario: Scenario, exercise: str) -> list[list[str]]:
    """The cells of a table that the trainee is given, row by row."""
    asked = next(each for each in scenario.lab.exercises if each.id == exercise)
    rows = scenario.prepare(asked).ask["rows"]
    return [[cell["text"] for cell in row if "text" in cell] for row in rows]


def verdicts(scenario: Scenario, exercise: str) -> list[str]:
    """The right word of each row."""
    asked = next(each for each in scenario.lab.exercises if each.id == exercise)
    return [cell["value"] for cell in scenario.prepare(asked).key["cells"].values()]


SIZES = {"Ω": 1.0, "kΩ": 1e3, "MΩ": 1e6, "V": 1.0, "mV": 1e-3}


def reading(text: str) -> float:
    """Ohm or volts of a display, whose minus is the true one."""
    if text == "OL":
        return float("inf")
    number, unit = text.split()
    return float(number.replace("−", "-")) * SIZES[unit]


def test_the_reading_at_an_end_is_that_of_the_benchs_circuit() -> None:
    for scenario in scenarios():
        names = scenario.names
        # The receivers, which the trainee leaves out, take a little off.
        bench = ohms_between(names["network"], "left end/4", "left end/2")
        assert names["end_ohms"] == pytest.approx(bench, rel=0.02)
        assert bench < names["end_ohms"]
        assert 60.5 < names["end_ohms"] < 70


def test_the_continuity_sheet_tells_each_fault_by_its_readings() -> None:
    for scenario in scenarios():
        for row, verdict in zip(
            given(scenario, "continuity-sheet"), verdicts(scenario, "continuity-sheet"), strict=True
        ):
            high, low, drain, pair, low_drain = map(reading, row[1:])
            told = {
                "CAN_H is open": high > SOME_KILOHMS,
                "CAN_L is open": low > SOME_KILOHMS,
                "the drain is open": drain > SOME_KILOHMS,
                "CAN_H touches CAN_L": pair < SOME_OHMS,
                "CAN_L touches the drain": low_drain < SOME_OHMS,
            }
            assert [word for word, shows in told.items() if shows] == (
                [] if verdict == "nothing" else [verdict]
            )


def test_the_earth_sheet_can_be_read_to_one_decimal() -> None:
    for scenario in scenarios():
        for row, verdict in zip(
            given(scenario, "earth-sheet"), verdicts(scenario, "earth-sheet"), strict=True
        ):
            as_it_is, lifted = map(reading, row[1:])
            if verdict == "no earth at all":
                assert row[1:] == ["OL", "OL"]
            elif verdict == "one earth, at the supply":
                assert as_it_is < SOME_OHMS
                assert row[2] == "OL"
            elif verdict == "a second earth":
                assert lifted - as_it_is > 0.3
            else:
                assert as_it_is == lifted < SOME_OHMS


def test_lifted_means_that_nothing_leads_to_earth_on_a_good_line() -> None:
    for scenario in scenarios()[:10]:
        network, at = scenario.names["network"], scenario.names["drain_at"]
        assert ohms_between(network, at, "earth", earth_lifted=True) == OPEN


def test_the_polarity_sheet_shows_what_its_verdicts_say() -> None:
    for scenario in scenarios():
        for row, verdict in zip(
            given(scenario, "polarity-sheet"), verdicts(scenario, "polarity-sheet"), strict=True
        ):
            volts = reading(row[1])
            assert {
                "good": 11 <= volts <= 25,
                "V+ and V− are exchanged": volts < -11,
                "a power conductor is open": abs(volts) < 1,
                "a contact loses too much": 2 < volts < 11,
            }[verdict], row


def test_the_plugs_are_what_the_verdicts_say() -> None:
    right = ["black", "blue", "bare", "white", "red"]
    exchanged = {
        "as it should be": set(),
        "CAN_H and CAN_L exchanged": {"white", "blue"},
        "V+ and V− exchanged": {"red", "black"},
        "both pairs exchanged": {"red", "black", "white", "blue"},
        "drain and CAN_H exchanged": {"bare", "white"},
        "drain and CAN_L exchanged": {"bare", "blue"},
    }
    for scenario in scenarios():
        for row, verdict in zip(
            given(scenario, "inspect-plugs"), verdicts(scenario, "inspect-plugs"), strict=True
        ):
            found = row[1].split(", ")
            astray = {colour for colour, place in zip(found, right, strict=True) if colour != place}
            assert astray == exchanged[verdict]


def test_the_earth_belongs_to_the_supply_nearer_to_the_middle() -> None:
    earthed: Counter[Any] = Counter()
    for scenario in scenarios():
        names = scenario.names
        layout = Layout(names["network"])
        assert earth_place(layout) == f"power tap of {names['earthed_at']}"
        earthed[names["earthed_at"], names["inner_at"] > names["outer_at"]] += 1
    assert earthed.most_common(1)[0][1] < DRAWS / 2
