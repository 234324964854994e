"""Scan lists: rules and refusals. The lengths are checked in tests/reference/test_scan_time.py."""

from collections.abc import Callable

import pytest

from labkit.fieldbus.devicenet.connections import (
    Allocation,
    ConnectionKind,
    allocate_request,
    allocation,
    allocation_requests,
    packet_rate_request,
    release_request,
    timeout_ms,
)
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList
from labkit.fieldbus.errors import PlanError

POLL, STROBE = ConnectionKind.POLL, ConnectionKind.BIT_STROBE
COS, CYCLIC = ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC
ONE = ScanEntry(5, POLL, 1, 2)


def test_time_out_rule_holds_and_breaks() -> None:
    scan = ScanList(0, 125, (ONE,), interscan_delay_ms=8.0)
    assert scan.timeout_rule(5, 3).ok
    broken = scan.timeout_rule(5, 2)
    assert not broken.ok
    assert broken.value == pytest.approx(9.12)
    assert (broken.limit, broken.unit) == (8.0, "ms")
    assert "node 5" in broken.where
    assert timeout_ms(0) is None


def test_longer_data_takes_longer() -> None:
    times = [
        ScanList(0, 125, (ScanEntry(5, POLL, size),)).exact_scan_ms({5: bytes(size)})
        for size in range(25)
    ]
    assert times == sorted(times)
    assert len(set(times)) == len(times)


def test_reports_that_fill_the_bus_are_said() -> None:
    scan = ScanList(0, 125, (ONE, ScanEntry(6, CYCLIC, 8, 0, 1.0)))
    with pytest.raises(PlanError, match="alone take 152% of the bus"):
        _ = scan.scan_time
    assert scan.report_load == pytest.approx(190 / 125)


def test_a_list_without_polls_has_no_scan_time() -> None:
    with pytest.raises(PlanError, match="no scan to time"):
        _ = ScanList(0, 125, (ScanEntry(6, COS, 8, 0, 100.0),)).scan_time


def test_allocation_words() -> None:
    choice = allocation(0x51)
    assert choice.words == "explicit, change of state, no acknowledges"
    assert allocate_request(choice, 3).data == bytes([0x51, 3])
    assert release_request(0x51).service == 0x4C
    assert [release_request(each).data for each in (1, 0x7F)] == [b"\x01", b"\x7f"]


@pytest.mark.parametrize(
    "bad",
    [
        lambda: ScanEntry(64, POLL),
        lambda: ScanEntry(5, "poll"),  # type: ignore[arg-type]
        lambda: ScanEntry(5, POLL, -1),
        lambda: ScanEntry(5, POLL, 1.0),  # type: ignore[arg-type]
        lambda: ScanEntry(5, POLL, 1, True),
        lambda: ScanEntry(5, POLL, 1, 1, 10.0),
        lambda: ScanEntry(5, CYCLIC, 1),
        lambda: ScanEntry(5, CYCLIC, 1, 0, 0.0),
        lambda: ScanEntry(5, CYCLIC, 1, 0, float("nan")),
        lambda: ScanEntry(5, CYCLIC, 1, 0, float("inf")),
        lambda: ScanEntry(5, CYCLIC, 1, 0, 10**400),
        lambda: ScanEntry(5, COS, 1, 0, "10"),  # type: ignore[arg-type]
        lambda: ScanEntry(5, STROBE, 9),
        lambda: ScanEntry(5, STROBE, 1, 1),
        lambda: ScanList(0, 125, ()),
        lambda: ScanList(0, 100, (ONE,)),
        lambda: ScanList(5, 125, (ONE,)),
        lambda: ScanList(0, 125, (ONE, ScanEntry(5, STROBE, 1))),
        lambda: ScanList(0, 125, (ONE,), -1.0),
        lambda: ScanList(0, 125, (ONE,)).entry(6),
        lambda: ScanList(0, 125, (ONE,)).timeout_rule(5, 0),
        lambda: ScanList(0, 125, (ONE,)).exact_scan_ms({5: bytes(2)}),
        lambda: allocation(0),
        lambda: allocation(0x08),
        lambda: allocation(0x31),
        lambda: allocation(0x43),
        lambda: release_request(0),
        lambda: release_request(0x80),
        lambda: packet_rate_request(Allocation.EXPLICIT | Allocation.POLL, 10),
        lambda: packet_rate_request(Allocation.POLL, 65536),
        lambda: allocation_requests(5, 0, {}),
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
