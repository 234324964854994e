"""The sheet of the person who plays the meter has what hints and workings of the labs ask for."""

from __future__ import annotations

import html
import re

from labkit.bench.bench import Bench
from labkit.bench.faults import Corroded, Draws, Fault, Loose, TerminatorValue, Touching
from labkit.bench.layout import RIGHT_END
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L, V_PLUS
from labkit.families.devicenet.bench.faults import AddressSet, Babbling
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Network
from labkit.kinds.diagnosis.paper import readings_sheet

DEVICES = ("scanner", "infeed", "capper", "labeller", "reject")
SETUP = Setup(
    Network.from_json(
        {
            "data_rate": 250,
            "segments": [{"cable": "thick", "length": 50.0}],
            "taps": [
                {
                    "position": 5.0 + 9 * at,
                    "drop": {
                        "cable": "thin",
                        "length": 2.0,
                        "devices": [{"name": name, "current": 0.4, "address": at}],
                    },
                }
                for at, name in enumerate(DEVICES)
            ],
            "supplies": [{"position": 20.0, "rating": 8.0}],
        }
    ),
    "scanner",
)


def rows(fault: Fault) -> list[list[str]]:
    """Every row of the sheet as text; what a sound bench would not show begins with a star."""
    sheet = readings_sheet(SETUP, [fault])
    found = []
    for row in re.findall(r"<tr>(.*?)</tr>", sheet):
        cells = re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row)
        marked = [re.sub(r"<(?:b|strong|span)\b[^>]*>", "*", cell) for cell in cells]
        found.append([html.unescape(re.sub(r"<[^>]+>", "", cell)) for cell in marked])
    return found


def row(found: list[list[str]], head: str, columns: int) -> list[str]:
    [only] = [cells for cells in found if cells and cells[0] == head and len(cells) == columns]
    return only[1:]


def test_with_one_end_pulled_the_other_ends_resistor_is_left() -> None:
    found = rows(TerminatorValue(RIGHT_END, 330.0))
    alone = 1 / (1 / 330 + len(DEVICES) / 30_000)
    left = row(found, "left end", 5)[0]
    assert left.startswith("*")
    assert abs(float(left.strip("*").split()[0]) - alone) < 5
    assert not row(found, "right end", 5)[0].startswith("*")


def test_a_short_in_a_plug_is_gone_with_its_drop_pulled() -> None:
    found = rows(Touching("capper", CAN_H, CAN_L))
    assert float(row(found, "tap 2", 5)[0].strip("*").split()[0]) < 5
    assert 55 < float(row(found, "tap 3", 5)[0].strip("*").split()[0]) < 65
    assert "node 1 OK" in row(found, "capper", 2)[0]


def test_a_device_that_draws_too_much_is_missing_from_the_display_with_its_drop_pulled() -> None:
    found = rows(Draws("capper", 2.0))
    assert row(found, "tap 3", 7)[2] == "1.600 A"
    assert row(found, "tap 2", 7)[2] == "*3.200 A"


def test_a_bad_contact_shows_in_volts_from_tap_to_tap_and_the_supply_is_measured() -> None:
    found = rows(Corroded("tap 4, left", V_PLUS, 10.0))
    assert row(found, "capper to labeller", 8)[5].startswith("*8.")
    assert row(found, "supply", 6)[2] == "24.00 V"


def test_who_checks_for_which_address_is_on_it() -> None:
    found = rows(AddressSet("capper", 3))
    assert row(found, "Duplicate checks in the log", 2) == ["*asked for: 0, 1, 3 by 2 devices, 4"]
    assert row(found, "Module indicators", 2) == ["green: all"]


def test_who_babbles_lets_the_others_come_up_when_it_is_pulled() -> None:
    found = rows(Babbling("capper"))
    assert "node 1 OK" in row(found, "capper", 2)[0]
    assert "not asked yet" in row(found, "The scanner's report", 2)[0]


def test_a_loose_contact_is_watched_shut_and_open_and_each_says_which() -> None:
    fault = Loose("tap 3, left", CAN_H, 7.0, 2.5)
    found = rows(fault)
    at = next(n for n, cells in enumerate(found) if cells[0] == "Power on, while it is open")
    shut, opened = (row(part, "The scanner's report", 2)[0] for part in (found[:at], found[at:]))
    assert "silent" not in shut
    assert "answer" not in shut
    assert opened.count("silent now") == 3
    for seconds, silent in ((4.4, False), (6.9, True)):
        clock = (seconds - 6.0) % 7.0
        bench = Bench(SETUP, frozenset({fault}), Situation(power=True, clock_s=clock))
        assert ("silent" in bench.trace.report(3).text) == silent
