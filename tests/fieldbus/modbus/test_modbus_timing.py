"""Times of polls and rounds, against sums by hand."""

from dataclasses import replace

import pytest

from labkit.fieldbus import PlanError
from labkit.fieldbus.modbus import (
    Function,
    MasterSettings,
    Poll,
    ReadRequest,
    WriteCoil,
    WriteRegisters,
    poll_cycle,
    poll_time,
)
from labkit.fieldbus.serial import CharacterFormat

TEN = ReadRequest(Function.READ_HOLDING_REGISTERS, 0, 10)
MOST = ReadRequest(Function.READ_INPUT_REGISTERS, 0, 125)
AT_9600 = MasterSettings(9600)


@pytest.mark.parametrize(
    ("request_", "bit_rate", "ms"),
    [(TEN, 9600, 45.83), (TEN, 19_200, 22.92), (MOST, 9600, 309.4), (MOST, 19_200, 154.7)],
)
def test_polls_as_on_the_reference_page(request_: ReadRequest, bit_rate: int, ms: float) -> None:
    found = poll_time(Poll(1, request_), MasterSettings(bit_rate)).total_s
    assert 1000 * found == pytest.approx(ms, rel=2e-4)


def test_the_parts_of_a_poll() -> None:
    found = poll_time(Poll(1, TEN, response_s=0.02), AT_9600)
    character_s = 11 / 9600
    assert found.request_s == pytest.approx(8 * character_s)
    assert found.reply_s == pytest.approx(25 * character_s)
    assert found.silence_s == pytest.approx(7 * character_s)
    assert found.response_s == 0.02
    assert found.total_s == pytest.approx(0.02 + 40 * character_s)
    assert not found.late


def test_above_19200_silences_no_longer_shrink() -> None:
    """115,200 bit/s: 33 characters of 10 bits and twice 1.75 ms."""
    settings = MasterSettings(115_200, CharacterFormat.from_text("8N1"))
    assert poll_time(Poll(1, TEN), settings).total_s == pytest.approx(330 / 115_200 + 0.0035)


@pytest.mark.parametrize(("retries", "seconds"), [(0, 1), (2, 3)])
def test_a_silent_device_costs_the_time_out_at_each_try(retries: int, seconds: int) -> None:
    found = poll_time(Poll(1, TEN, None), MasterSettings(9600, retries=retries))
    assert found.total_s == pytest.approx(seconds * (1 + 88 / 9600))
    assert found.waited_s == seconds
    assert not found.late


def test_a_device_that_answers_too_late_costs_as_much_and_is_told() -> None:
    just = 1 - (25 + 3.5) * 11 / 9600
    assert not poll_time(Poll(1, TEN, just - 1e-6), AT_9600).late
    late = poll_time(Poll(1, TEN, just + 1e-6), AT_9600)
    assert late.late
    assert replace(late, late=False) == poll_time(Poll(1, TEN, None), AT_9600)


def test_after_a_broadcast_the_master_waits() -> None:
    found = poll_time(Poll(0, WriteCoil(0, True)), MasterSettings(9600, turnaround_s=0.2))
    assert found.total_s == pytest.approx(0.2 + 88 / 9600)


def test_a_round_is_the_sum_of_its_polls() -> None:
    polls = [
        Poll(1, TEN, 0.01),
        Poll(2, TEN, None),
        Poll(3, WriteRegisters(0, (1, 2)), 0.01),
        Poll(0, WriteCoil(0, True)),
    ]
    found = poll_cycle(polls, AT_9600)
    assert found.polls == tuple(poll_time(poll, AT_9600) for poll in polls)
    # 8 + 25, 8, 13 + 8 and 8 characters; two silences twice; two response times; two waits.
    assert found.total_s == pytest.approx((70 + 14) * 11 / 9600 + 0.02 + 1.1)
    assert found.waited_s == pytest.approx(1.1)
    assert poll_cycle([], AT_9600).total_s == 0


def test_what_cannot_be_polled() -> None:
    with pytest.raises(PlanError, match=r"time-out is 4 ms, shorter than the silence of 4\.01 ms"):
        MasterSettings(9600, timeout_s=0.004)
    with pytest.raises(PlanError, match="wait after a broadcast is 1 ms, shorter"):
        MasterSettings(9600, turnaround_s=0.001)
    with pytest.raises(PlanError, match="number of retries is -1"):
        MasterSettings(9600, retries=-1)
    with pytest.raises(PlanError, match="nothing can be read by it"):
        Poll(0, TEN)
    with pytest.raises(PlanError, match="The response time of device 1 is -1 s"):
        Poll(1, TEN, -1)
