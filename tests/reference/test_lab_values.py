"""What the lab's text prints is what the library holds, and what the publication says.

Source: ODVA, Planning and Installation Manual, DeviceNet Cable System, PUB00027R1.
"""

import re
from pathlib import Path

import pytest

from labkit.fieldbus.devicenet.cable import CABLES, CUMULATIVE_DROP_LIMIT, DROP_LIMIT
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Tap
from labkit.fieldbus.devicenet.power import full_calculation, look_up_current, look_up_row

TEXT = (Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md").read_text(
    encoding="utf-8"
)


def test_the_table_of_lengths() -> None:
    rows = re.findall(r"^\| (\d+) kbit/s \| (.*) \|$", TEXT, re.MULTILINE)
    assert [int(rate) for rate, _ in rows] == [125, 250, 500]
    for rate, cells in rows:
        thick, thin, drop, drops = (float(cell.split()[0]) for cell in cells.split("|"))
        assert thick == CABLES["thick"].max_trunk_length[int(rate)]
        assert thin == CABLES["thin"].max_trunk_length[int(rate)]
        assert drop == DROP_LIMIT
        assert drops == CUMULATIVE_DROP_LIMIT[int(rate)]


def test_the_look_up_table() -> None:
    lengths = re.search(r"^\| length, m \| (.*) \|$", TEXT, re.MULTILINE)
    currents = re.search(r"^\| current, A \| (.*) \|$", TEXT, re.MULTILINE)
    assert lengths
    assert currents
    pairs = list(zip(lengths[1].split("|"), currents[1].split("|"), strict=True))
    assert len(pairs) == 6
    for length, current in pairs:
        assert look_up_current("thick", float(length)) == float(current)


def test_the_worked_example_of_the_text() -> None:
    taps = (
        Tap(20.0, Drop(1.0, (Device("a", 1.0),))),
        Tap(60.0, Drop(1.0, (Device("b", 0.5),))),
    )
    network = Network(125, (Segment("thick", 70.0),), taps)
    assert full_calculation(network, 0.0).right.total == pytest.approx(0.76)
    assert "0.305 + 0.455 = 0.76 V" in TEXT


def test_the_sentence_on_the_straight_line() -> None:
    """The resistance grows evenly from row to row, so the current that it allows does not."""
    line = 5.42 + (2.93 - 5.42) * (80 - 50) / (100 - 50)
    curve = 4.65 / (4.65 / 5.42 + (4.65 / 2.93 - 4.65 / 5.42) * (80 - 50) / (100 - 50))
    assert look_up_current("thick", 80) == pytest.approx(line)
    assert f"At 80 m the line gives {line:.2f} A, the curve {curve:.2f} A" in TEXT
    assert "86 m goes by the row of 100 m" in TEXT
    assert look_up_row("thick", 86) == 100
