"""The lab of wiring: its formulas against the bench's circuit, its sheets against what they say.

121 ohm terminators and the resistance of the signal conductors: ODVA PUB00027R1. 50 to 70 ohm:
common practice, no source. 11 to 25 V at a node: ODVA PUB00027R1.
"""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from labkit.bench.bench import Bench
from labkit.bench.layout import Layout
from labkit.bench.making import earth_place
from labkit.bench.situation import Situation, Terminal
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.cabling import CABLING
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_functions import OPEN, meter_ohms, ohms_between
from labkit.families.devicenet.bench_reading import fault_of
from labkit.families.devicenet.node_addresses import addressed
from labkit.fieldbus.devicenet.reading import network_in_words
from labkit.lab.draw import Scenario, draw
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


def test_a_reels_length_to_the_metre_is_right_and_leads_left_in_are_not() -> None:
    """22.6 and 91.9 ohm/km, each signal conductor of thick and thin cable: ODVA PUB00027R1."""
    for scenario in scenarios():
        exercise = next(each for each in scenario.lab.exercises if each.id == "reel")
        prepared, check = scenario.prepare(exercise), check_for("quantity")
        names = scenario.names
        loop = 2 * {"thick": 0.0226, "thin": 0.0919}[names["reel_cable"]]
        metres = (names["reel_shows"] - names["lead_ohms"]) / loop
        for right in (f"{metres:.0f} m", f"{metres:.1f} m"):
            assert check.check(prepared.ask, prepared.key, right).right, right
        leads = check.check(prepared.ask, prepared.key, f"{names['reel_shows'] / loop:.1f} m")
        assert leads.slip == "with-leads"


def test_the_working_of_the_end_reading_adds_up_as_printed() -> None:
    for scenario in scenarios():
        exercise = next(each for each in scenario.lab.exercises if each.id == "end-reading")
        printed = " ".join(exercise.working.render(scenario.names).split())
        there, far = map(
            float, re.findall(r"back ([\d.]+) Ω, so the far way has ([\d.]+)", printed)[0]
        )
        assert far == pytest.approx(there + 121, abs=1e-6)
        a, b, c, d = map(
            float, re.findall(r"([\d.]+) · ([\d.]+) / ([\d.]+) = \*\*([\d.]+)", printed)[0]
        )
        assert b == far
        assert c == pytest.approx(far + 121, abs=1e-6)
        assert a * b / c == pytest.approx(d, abs=0.05 + 1e-9)


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


@pytest.mark.parametrize("sheet", ["earth-sheet", "polarity-sheet"])
def test_the_last_row_of_a_sheet_does_not_follow_from_the_others(sheet: str) -> None:
    twice = 0
    for scenario in scenarios():
        found = set(verdicts(scenario, sheet))
        assert len(found) >= 3
        twice += len(found) < 4
    assert twice > DRAWS / 2


def test_lifted_means_that_nothing_leads_to_earth_on_a_good_line() -> None:
    for scenario in scenarios()[:10]:
        network, at = scenario.names["network"], scenario.names["drain_at"]
        assert ohms_between(network, at, "earth", earth_lifted=True) == OPEN


def test_the_polarity_sheet_shows_what_its_verdicts_say() -> None:
    inside_the_band = 0
    for scenario in scenarios():
        for row, verdict in zip(
            given(scenario, "polarity-sheet"), verdicts(scenario, "polarity-sheet"), strict=True
        ):
            expected, alone = map(reading, row[1:3])
            assert 11 <= expected <= 25
            if row[3] == "not plugged in":
                least, most = {
                    "V+ and V− are exchanged": (-24.01, -23.99),
                    "a power conductor is open": (-0.01, 0.01),
                }[verdict]
                assert least < alone < most
                continue
            assert alone == 24
            loaded = reading(row[3])
            if verdict == "good":
                assert abs(loaded - expected) < 0.9
                assert 11 <= loaded <= 25
            else:
                assert verdict == "a contact loses too much"
                assert expected - loaded > 2
                inside_the_band += loaded >= 11
    assert inside_the_band > 10


def test_the_readings_of_the_polarity_sheet_occur_together_on_one_line() -> None:
    """One bench with all faults at once: what waits for its repair draws no current."""
    for scenario in scenarios()[:10]:
        names = scenario.names
        setup = Setup(addressed(names["network"]), "scanner")
        faults = frozenset(fault_of(each, setup) for each in names["polarity_faults"])
        for unplugged, column in ((names["everyone"], 2), (names["polarity_waits"], 3)):
            bench = Bench(setup, faults, Situation(power=True, unplugged=frozenset(unplugged)))
            for row in given(scenario, "polarity-sheet"):
                if row[column] == "not plugged in":
                    assert row[0] in unplugged
                    continue
                red, black = Terminal(row[0], 5), Terminal(row[0], 1)
                assert row[column] == bench.volts(red, black).text


def test_what_the_sheets_call_good_is_so_on_the_sound_line() -> None:
    """The table of the sheets and the two readings that are good and look bad."""
    for scenario in scenarios()[:20]:
        network, far = scenario.names["network"], scenario.names["far"]
        bare = scenario.names["bare_ends"]
        for number in (1, 2, 3, 4):
            assert reading(meter_ohms(network, bare, f"scanner/{number}", f"{far}/{number}")) < 10
        assert meter_ohms(network, bare, "scanner/5", f"{far}/5") == "OL"
        assert reading(meter_ohms(network, bare, "scanner/1", "scanner/3")) < 10
        pairs = [(5, 1), (5, 2), (5, 3), (5, 4), (4, 1), (4, 2), (4, 3), (2, 1), (2, 3)]
        for a, b in pairs:
            ohm = reading(meter_ohms(network, bare, f"scanner/{a}", f"scanner/{b}"))
            assert ohm > SOME_KILOHMS


def test_no_slip_speaks_of_another_row() -> None:
    """What is told of a wrong verdict fits the readings of its own row."""
    for scenario in scenarios():
        for sheet in ("earth-sheet", "polarity-sheet"):
            exercise = next(each for each in scenario.lab.exercises if each.id == sheet)
            prepared, check = scenario.prepare(exercise), check_for("table")
            rows, right = given(scenario, sheet), verdicts(scenario, sheet)
            good = {"earth-sheet": "one earth, at the supply", "polarity-sheet": "good"}[sheet]
            for row, verdict, cell in zip(rows, right, prepared.key["cells"], strict=True):
                if verdict == good:
                    continue
                told = check.check(prepared.ask, prepared.key, {cell: good}).message
                assert ("OL" in told) == (verdict == "no earth at all"), (row, told)
                assert ("minus" in told) == (verdict == "V+ and V− are exchanged"), (row, told)


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


def test_an_earth_at_the_other_supply_is_told_which_one_it_should_be() -> None:
    scenario = scenarios()[0]
    exercise = next(each for each in scenario.lab.exercises if each.id == "make-up")
    prepared, check = scenario.prepare(exercise), check_for("wiring")
    answer = check.right_answer(prepared.ask, prepared.key)
    other = {**answer, "shield": [f"power tap of {scenario.names['supply_names'][1]}"]}
    told = check.check(prepared.ask, prepared.key, other)
    assert told.slip == "shield-elsewhere"
    assert "at the supply nearest to the middle" in told.message


def test_the_picture_in_words_does_not_call_a_supply_a_supply_twice() -> None:
    words = network_in_words(scenarios()[0].names["network"])
    assert "upply supply" not in words
    assert f"S{scenarios()[0].names['supply_names'][0][1:]} at" in words


def test_the_earth_belongs_to_the_supply_nearer_to_the_middle() -> None:
    earthed: Counter[Any] = Counter()
    for scenario in scenarios():
        names = scenario.names
        layout = Layout(names["network"], CABLING)
        assert earth_place(layout) == f"power tap of {names['earthed_at']}"
        earthed[names["earthed_at"], names["inner_at"] > names["outer_at"]] += 1
    assert earthed.most_common(1)[0][1] < DRAWS / 2
