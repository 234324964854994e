"""Switches: every setting is judged as a second reading of the positions judges it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_lab import DRAWS, prepared, scenarios

from labkit.doors.installed import check_for

# Six positions of the address, most significant first; two of the rate, 00 = 125, 01 = 250,
# 10 = 500 kbit/s, 11 not allowed (common practice, no source; the reference page says so).
RATE_BITS = {125: "00", 250: "01", 500: "10"}
FACTORY = "11111100"
CHECK = check_for("switches")


def _set(device: str, address: int, rate: int) -> tuple[dict[str, Any], dict[str, Any]]:
    start = {"dip": FACTORY, "rotary": "630"}[device]
    ask = {"device": device, "task": "set", "setting": start}
    return ask, {"address": address, "rate": rate, "tells": {}}


@settings(deadline=None)
@given(st.integers(0, 255), st.integers(0, 63), st.sampled_from([125, 250, 500]))
def test_every_setting_of_the_block_earns_a_half_for_each_half(
    positions: int, address: int, rate: int
) -> None:
    ask, key = _set("dip", address, rate)
    answer = f"{positions:08b}"
    verdict = CHECK.check(ask, key, answer)
    expected = ((positions >> 2 == address) + (answer[6:] == RATE_BITS[rate])) / 2
    if answer == FACTORY and expected < 1:
        expected = 0
    assert verdict.credit == expected
    assert verdict.readable


@settings(deadline=None)
@given(st.integers(0, 999), st.integers(0, 63), st.sampled_from([125, 250, 500]))
def test_every_setting_of_the_rotary_switches_earns_a_half_for_each_half(
    digits: int, address: int, rate: int
) -> None:
    ask, key = _set("rotary", address, rate)
    answer = f"{digits:03d}"
    verdict = CHECK.check(ask, key, answer)
    expected = ((digits // 10 == address) + (digits % 10 == [125, 250, 500].index(rate))) / 2
    if answer == "630" and expected < 1:
        expected = 0
    assert verdict.credit == expected


@pytest.mark.parametrize(
    ("answer", "slip", "words"),
    [
        # Node 5 at 250 kbit/s is 000101 01.
        ("00010101", "", "Right: the device reads node address 5, 250 kbit/s."),
        ("10100001", "address-reversed", "worth 32"),
        ("11101001", "address-inverted", "on counts as 1"),
        ("11101010", "on-off-inverted", "Every position"),
        ("00011001", "address-off-by-one", "one off"),
        ("00010110", "rate-swapped", "7 is the more significant"),
        ("00010111", "no-such-rate", "not allowed"),
        ("00010100", "rate-off-by-one", "lowest setting"),
        ("01000101", "rate-first", "The device reads node address 17, 250 kbit/s"),
        (FACTORY, "not-set", "as the device came"),
        ("01100101", "", "The device reads node address 25, 250 kbit/s."),
    ],
)
def test_a_setting_is_read_back_and_its_mistake_told(answer: str, slip: str, words: str) -> None:
    verdict = CHECK.check(*_set("dip", 5, 250), answer)
    assert verdict.slip == slip
    assert words in verdict.message


@pytest.mark.parametrize("task", ["set", "address", "rate"])
def test_what_is_told_of_dials_speaks_of_dials(task: str) -> None:
    ask, key = _set("rotary", 27, 250)
    if task != "set":
        ask, key = {"device": "rotary", "task": task, "setting": "271"}, {"tells": {}}
    told = [CHECK.check(ask, key, a).message for a in CHECK.slip_answers(ask, key).values()]
    told.append(CHECK.check(ask, key, {"set": "400", "address": "9", "rate": "500"}[task]).message)
    assert len(told) > 1
    for message in told:
        assert "position" not in message
        assert "worth" not in message


def test_a_rate_that_is_not_allowed_costs_the_rate_only() -> None:
    for address in range(64):
        verdict = CHECK.check(*_set("dip", address, 250), f"{address:06b}11")
        assert verdict.credit == 0.5
        assert f"node address {address}, no data rate" in verdict.message


def test_switches_that_nobody_touched_earn_nothing() -> None:
    for device, address, rate in (("dip", 63, 250), ("dip", 5, 125), ("rotary", 63, 500)):
        ask, key = _set(device, address, rate)
        verdict = CHECK.check(ask, key, ask["setting"])
        assert (verdict.credit, verdict.slip) == (0, "not-set")


def test_two_mistakes_at_once_are_both_told() -> None:
    verdict = CHECK.check(*_set("dip", 5, 250), "10100010")
    assert verdict.credit == 0
    assert "back to front" in verdict.message
    assert "exchanged" in verdict.message


def test_a_wrong_setting_is_not_told_with_the_right_one() -> None:
    for number in range(DRAWS):
        check, ask, key = prepared("set-dip", number)
        right = check.right_answer(ask, key)
        for answer in check.slip_answers(ask, key).values():
            assert right not in check.check(ask, key, answer).message


@pytest.mark.parametrize("number", range(0, DRAWS, 10))
def test_a_drawn_switch_reads_as_the_names_say(number: int) -> None:
    names = scenarios()[number].names
    node, rate = names["node"], names["rate"]
    check, ask, key = prepared("read-dip", number)
    assert ask["setting"] == f"{node:06b}{RATE_BITS[rate]}"
    assert key == {"tells": {}}
    for typed in (str(node), f" {node} ", f"0{node}", node):
        assert check.check(ask, key, typed).right
    assert not check.check(ask, key, str(node + 7)).right
    check, ask, key = prepared("read-rotary", number)
    assert ask["setting"][:2] == f"{node:02d}"
    check, ask, key = prepared("read-rate", number)
    assert [r for r in ("125", "250", "500") if check.check(ask, key, r).right] == [str(rate)]


def test_the_authors_words_are_added_to_ours() -> None:
    check, ask, key = prepared("set-dip", 0)
    answer = check.slip_answers(ask, key)["address-reversed"]
    assert check.check(ask, key, answer).message.endswith("worth 32. Position 1 is on the left.")


@pytest.mark.parametrize("answer", ["", "0001010", "000101012", "٠٠٠١٠١٠١", None, 10101, ["1"] * 8])
def test_what_is_no_setting_is_unreadable(answer: Any) -> None:
    assert not CHECK.check(*_set("dip", 5, 250), answer).readable
    ask = {"device": "dip", "task": "rate", "setting": "00010101"}
    assert not CHECK.check(ask, {"tells": {}}, answer).readable
