"""Switch settings, both ways. The coding is common practice, no source."""

from collections.abc import Callable

import pytest

from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.fieldbus.devicenet.switches import (
    DipSwitches,
    RotarySwitches,
    address_mistakes,
)
from labkit.fieldbus.errors import PlanError


@pytest.mark.parametrize("rate", DATA_RATES)
def test_every_setting_goes_round(rate: int) -> None:
    texts = set()
    for address in range(64):
        switches = DipSwitches.from_settings(address, rate)
        assert (switches.address, switches.rate_kbit_s) == (address, rate)
        assert DipSwitches.from_text(switches.text) == switches
        assert int(switches.text[:6], 2) == address
        texts.add(switches.text)
    assert len(texts) == 64


@pytest.mark.parametrize(
    ("text", "address", "rate"),
    [
        ("00000000", 0, 125),
        ("000101 01", 5, 250),
        ("111111 10", 63, 500),
        ("100000 00", 32, 125),
    ],
)
def test_settings_read_by_hand(text: str, address: int, rate: int) -> None:
    switches = DipSwitches.from_text(text)
    assert (switches.address, switches.rate_kbit_s) == (address, rate)


def test_rotary_switches_go_round() -> None:
    for address in range(64):
        rotary = RotarySwitches.from_address(address)
        assert rotary.address == address
        assert f"{rotary.tens}{rotary.ones}" == f"{address:02d}"


def test_slips_of_address_5_at_250() -> None:
    # 000101 01: the other way round 101000, inverted 111010, from position 3 on 010101.
    assert sorted(address_mistakes(5, 250).values()) == sorted([0b101000, 0b111010, 0b010101])


def test_slips_that_hit_the_right_address_are_left_out() -> None:
    assert 33 not in address_mistakes(33, 125).values()
    assert len(address_mistakes(33, 125)) == 2


@pytest.mark.parametrize(
    "bad",
    [
        lambda: DipSwitches.from_text("00010111"),
        lambda: DipSwitches.from_text("0001010"),
        lambda: DipSwitches.from_text("0001010x"),
        lambda: DipSwitches.from_text(101),  # type: ignore[arg-type]
        lambda: DipSwitches((0, 0, 0, 1, 0, 1, 0, 1)),  # type: ignore[arg-type]
        lambda: DipSwitches((True,) * 7),
        lambda: DipSwitches(None),  # type: ignore[arg-type]
        lambda: DipSwitches.from_settings(64, 125),
        lambda: DipSwitches.from_settings(-1, 125),
        lambda: DipSwitches.from_settings(True, 125),
        lambda: DipSwitches.from_settings(5, 1000),
        lambda: DipSwitches.from_settings(5, float("nan")),  # type: ignore[arg-type]
        lambda: RotarySwitches(6, 4),
        lambda: RotarySwitches(9, 9),
        lambda: RotarySwitches(0, 10),
        lambda: RotarySwitches.from_address(64),
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
