"""A bench's frame log, read by python-can and taken apart here by the published identifier bits.

Group 2 of the identifiers is `10 aaaaaa mmm` and group 1 `0 mmmm ssssss` (IEC 62026-3, reference
values of ODVA PUB00027R1): duplicate check 7, allocation 6, explicit request 4, answer 3, poll 5 of
group 2; poll response 15 of group 1. Nothing of labkit's own tables is used.
"""

from io import StringIO
from itertools import groupby, pairwise

import can
import pytest
from can.io.canutils import CanutilsLogReader

from labkit.bench.bench import Bench
from labkit.bench.can.frame_log import frame_log
from labkit.bench.faults import Broken
from labkit.bench.faults.base import Fault
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.equipment import Equipment
from labkit.families.devicenet.bench.faults import AddressSet, RateSet, ScanListAs
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap

ADDRESSES = {"panel": 0, "valves": 9, "scale": 5, "lamp": 33}
PLAN = Network(
    250,
    (Segment("thick", 60.0),),
    tuple(
        Tap(10.0 * at, Drop(1.0, (Device(name, 0.1, address),)))
        for at, (name, address) in enumerate(ADDRESSES.items(), 1)
    ),
    (Supply(30.0),),
)
EQUIPMENT = {
    name: Equipment(vendor=0x0384, serial=0x01020300 + address, input_bytes=2, output_bytes=1)
    for name, address in ADDRESSES.items()
}
SETUP = Setup(PLAN, "panel", EQUIPMENT)
LISTED = sorted(address for name, address in ADDRESSES.items() if name != "panel")
CHECK, ALLOCATE, REQUEST, ANSWER, POLL = 7, 6, 4, 3, 5


def log(*faults: Fault, listener: str = "panel") -> list[can.Message]:
    bench = Bench(SETUP, frozenset(faults), Situation(power=True))
    return list(CanutilsLogReader(StringIO(frame_log(bench.trace, listener=listener))))


def group_2(message: can.Message) -> tuple[int, int] | None:
    """(address, message number) of a group 2 frame."""
    identifier = message.arbitration_id
    if message.is_error_frame or identifier >> 9 != 0b10:
        return None
    return identifier >> 3 & 0x3F, identifier & 7


def of(messages: list[can.Message], address: int, number: int) -> list[can.Message]:
    return [m for m in messages if group_2(m) == (address, number)]


HEALTHY = log()


def test_every_frame_of_a_healthy_log_belongs_to_a_planned_node() -> None:
    assert len(HEALTHY) > 200
    for message in HEALTHY:
        assert not message.is_error_frame
        assert not message.is_extended_id
        found = group_2(message)
        if found:
            assert found[0] in ADDRESSES.values()
            assert found[1] in (CHECK, ALLOCATE, REQUEST, ANSWER, POLL)
        else:
            # 0 1111 ssssss
            assert message.arbitration_id >> 6 == 0b01111
            assert message.arbitration_id & 0x3F in LISTED


@pytest.mark.parametrize("name", ADDRESSES)
def test_each_node_asks_twice_for_its_address_a_second_apart_before_anything_else(
    name: str,
) -> None:
    address = ADDRESSES[name]
    checks = of(HEALTHY, address, CHECK)
    serial = (0x01020300 + address).to_bytes(4, "little")
    # port 0, request; vendor and serial number, low byte first
    assert [bytes(m.data) for m in checks] == [b"\x00\x84\x03" + serial] * 2
    assert checks[1].timestamp - checks[0].timestamp == pytest.approx(1.0, abs=0.002)
    if name != "panel":
        after = [m for m in HEALTHY if (group_2(m) or (0, 0))[0] == address and m not in checks]
        assert min(m.timestamp for m in after) >= checks[1].timestamp + 1.0


@pytest.mark.parametrize("address", LISTED)
def test_each_listed_node_is_allocated_before_it_is_polled(address: int) -> None:
    asked = of(HEALTHY, address, ALLOCATE) + of(HEALTHY, address, REQUEST)
    first = min(asked, key=lambda m: m.timestamp)
    # to node 0's own address; service 0x4B, class 3, instance 1, explicit and poll, allocator 0
    assert bytes(first.data) == bytes([0x00, 0x4B, 0x03, 0x01, 0x03, 0x00])
    answer = next(m for m in of(HEALTHY, address, ANSWER) if m.timestamp > first.timestamp)
    assert answer.data[1] == 0x4B | 0x80
    polls = of(HEALTHY, address, POLL)
    assert polls[0].timestamp > answer.timestamp
    assert {len(m.data) for m in polls} == {1}
    replies = [m for m in HEALTHY if m.arbitration_id == 0b01111 << 6 | address]
    assert {len(m.data) for m in replies} == {2}
    assert abs(len(replies) - len(polls)) <= 1


def test_polls_go_round_in_the_scan_lists_order_every_20_ms() -> None:
    late = [m for m in HEALTHY if m.timestamp > HEALTHY[-1].timestamp - 1]
    order = [found[0] for m in late if (found := group_2(m)) and found[1] == POLL]
    assert len(order) > 100
    start = order.index(LISTED[0])
    rounds = order[start : start + 3 * ((len(order) - start) // 3)]
    assert [rounds[k : k + 3] for k in range(0, len(rounds), 3)] == [LISTED] * (len(rounds) // 3)
    times = [m.timestamp for m in late if group_2(m) == (LISTED[0], POLL)]
    assert [b - a for a, b in pairwise(times)] == pytest.approx([0.02] * (len(times) - 1), abs=1e-4)


def test_no_frame_comes_closer_than_its_own_length() -> None:
    # 47 + 8n bits of 4 µs at least, the pause of 3 among them (ISO 11898-1)
    for before, after in pairwise(HEALTHY):
        shortest = (47 + 8 * len(after.data)) * 4e-6
        assert after.timestamp - before.timestamp >= shortest - 2e-6


def test_a_node_that_is_not_listed_is_left_alone() -> None:
    entries = tuple(entry for entry in SETUP.entries if entry.address != 5)
    messages = log(ScanListAs(entries))
    assert len(of(messages, 5, CHECK)) == 2
    assert not [m for m in messages if group_2(m) in ((5, ALLOCATE), (5, POLL))]
    assert of(messages, 9, POLL)


def test_of_two_that_claim_an_address_the_log_shows_both_and_one_stays_away() -> None:
    messages = log(AddressSet("lamp", 9))
    claims = [int.from_bytes(m.data[3:], "little") - 0x01020300 for m in of(messages, 9, CHECK)]
    # by serial numbers: the valves' two checks; one of the lamp, which hears theirs and gives up
    assert sorted(claims) == [9, 9, 33]
    assert of(messages, 9, POLL)
    assert not of(messages, 33, POLL)


def test_a_wrong_rate_fills_the_log_with_errors_and_then_falls_silent() -> None:
    messages = log(RateSet("lamp", 500))
    errors = [m.timestamp for m in messages if m.is_error_frame]
    assert errors
    assert not [m for m in messages if not m.is_error_frame and group_2(m) == (33, CHECK)]
    assert of(messages, 9, POLL)


def test_behind_a_break_only_the_own_half_is_heard() -> None:
    messages = log(Broken("tap 2, right", CAN_H), listener="lamp")
    heard = {found[0] for m in messages if (found := group_2(m)) and found[1] == CHECK}
    assert heard == {5, 33}
    assert not [m for m in messages if (group_2(m) or (0, 0))[1] == POLL]
    runs = [key for key, _ in groupby(m.is_error_frame for m in messages)]
    assert runs
