"""Scan time by frame lengths: Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007).

Lengths: 47 + 8n bits unstuffed, 8n + 47 + floor((34 + 8n - 1)/4) at worst, interframe space
included; 135 bits at most for eight bytes is their published figure. The sums are by hand.
"""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList

POLL, STROBE = ConnectionKind.POLL, ConnectionKind.BIT_STROBE
COS, CYCLIC = ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC


def unstuffed(n: int) -> int:
    return 47 + 8 * n


def worst(n: int) -> int:
    return 8 * n + 47 + math.floor((34 + 8 * n - 1) / 4)


def test_the_published_worst_frame() -> None:
    assert worst(8) == 135


# entries, data bytes of every frame of one scan, by hand from the reference page's message set
BY_HAND = [
    # one polled node: command of 2, response of 1
    ([ScanEntry(5, POLL, 1, 2)], [2, 1]),
    # polled without outputs: the empty command still goes out
    ([ScanEntry(5, POLL, 8, 0)], [0, 8]),
    # twelve input bytes: fragments of 7 and 5 with their fragment byte
    ([ScanEntry(5, POLL, 12, 9)], [8, 3, 8, 6]),
    # two strobed nodes share one command of eight bytes
    ([ScanEntry(7, STROBE, 2), ScanEntry(8, STROBE, 1)], [8, 2, 1]),
    # all together
    (
        [ScanEntry(7, STROBE, 2), ScanEntry(5, POLL, 1, 2), ScanEntry(8, STROBE, 1)],
        [8, 2, 1, 2, 1],
    ),
]


@pytest.mark.parametrize("rate", [125, 250, 500])
@pytest.mark.parametrize(("entries", "lengths"), BY_HAND)
def test_scan_time_is_the_sum_of_its_frames(
    entries: list[ScanEntry], lengths: list[int], rate: int
) -> None:
    scan = ScanList(0, rate, tuple(entries), interscan_delay_ms=3.0)
    assert sorted(len(frame.data) for frame in scan.scan_frames) == sorted(lengths)
    low, high = sum(map(unstuffed, lengths)), sum(map(worst, lengths))
    assert scan.scan_time.shortest_ms == pytest.approx(low / rate + 3.0, rel=1e-12)
    assert scan.scan_time.longest_ms == pytest.approx(high / rate + 3.0, rel=1e-12)
    assert scan.bus_load == pytest.approx((high / rate) / (high / rate + 3.0), rel=1e-12)


def test_one_polled_node_in_numbers() -> None:
    # 63 + 55 = 118 bits and 75 + 65 = 140 bits at 125 kbit/s.
    time = ScanList(0, 125, (ScanEntry(5, POLL, 1, 2),)).scan_time
    assert time.shortest_ms == pytest.approx(0.944)
    assert time.longest_ms == pytest.approx(1.12)


def test_what_a_report_puts_on_the_bus() -> None:
    scan = ScanList(
        0,
        500,
        (
            ScanEntry(1, COS, 4, 0, 10.0),
            ScanEntry(2, COS, 4, 0, 10.0, acknowledged=False),
            ScanEntry(3, CYCLIC, 2, 3, 10.0),
        ),
    )
    got = [[each.pair[0] for each in entry.frames] for entry in scan.traffic]
    # group 1 message 13 of the device, group 2 message 2 of the master; then messages 5 and 15.
    assert got == [[0x341, 0x40A], [0x342], [0x343, 0x41A, 0x41D, 0x3C3]]
    assert [[len(f.data) for f in e.frames] for e in scan.traffic] == [[4, 0], [4], [2, 0, 3, 0]]
    bits = worst(4) + worst(0) + worst(4) + worst(2) + worst(0) + worst(3) + worst(0)
    assert scan.report_load == pytest.approx(bits / 5000)
    assert scan.bus_load == scan.report_load


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.integers(1, 8), st.integers(2, 60)), max_size=5),
    st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=6),
    st.integers(0, 8),
)
def test_longest_scan_is_the_smallest_solution_of_the_equation(
    reports: list[tuple[int, int]], polls: list[tuple[int, int]], delay: int
) -> None:
    """Against a search bit by bit from the scan's own length upward."""
    entries = [ScanEntry(at, POLL, *each) for at, each in enumerate(polls, start=1)]
    entries += [
        ScanEntry(at, CYCLIC, size, 0, float(interval))
        for at, (size, interval) in enumerate(reports, start=20)
    ]
    scan = ScanList(0, 125, tuple(entries), float(delay))
    costs = [(worst(size) + worst(0), interval * 125) for size, interval in reports]
    if sum(Fraction(cost, every) for cost, every in costs) > Fraction(9, 10):
        return
    own = sum(worst(len(frame.data)) for frame in scan.scan_frames) + delay * 125
    time = own
    while own + sum(cost * -(-time // every) for cost, every in costs) > time:
        time += 1
    assert scan.scan_time.longest_ms == pytest.approx(time / 125, rel=1e-12)


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_real_data_lies_between_the_bounds(data: st.DataObject) -> None:
    sizes = data.draw(st.lists(st.tuples(st.integers(0, 16), st.integers(0, 16)), min_size=1))
    entries = [ScanEntry(at, POLL, *each) for at, each in enumerate(sizes[:20], start=1)]
    entries.append(ScanEntry(40, STROBE, 3))
    scan = ScanList(0, 250, tuple(entries), 1.0)
    inputs = {
        e.address: data.draw(st.binary(min_size=e.input_bytes, max_size=e.input_bytes))
        for e in entries
    }
    exact = scan.exact_scan_ms(inputs)
    assert scan.scan_time.shortest_ms <= exact <= scan.scan_time.longest_ms


def test_an_interval_is_taken_as_it_is_written() -> None:
    # 140 bits of scan and 65 bits of one report are 205 bits, 0.41 ms at 500 kbit/s: exactly one
    # interval of 0.41 ms. In binary 0.41 is a little less, which must not count a second report.
    entries = (ScanEntry(5, POLL, 1, 2), ScanEntry(6, CYCLIC, 1, 0, 0.41, acknowledged=False))
    assert ScanList(0, 500, entries).scan_time.longest_ms == pytest.approx(0.41)
