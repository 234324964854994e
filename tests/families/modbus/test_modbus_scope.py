"""The scope on a Modbus line: a character on D1 and D0, read off the picture by its own rules.

Start bit 0, eight data bits with the least significant first, parity, stop bit 1: MODBUS over
Serial Line V1.02, 2.5.1. The frames are made by pymodbus.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest

from labkit.bench.bench import Bench
from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    DeviceDead,
    Fault,
    TerminatorMissing,
    swapped,
)
from labkit.bench.layout import RIGHT_END
from labkit.bench.measurements import Scope
from labkit.bench.situation import Situation, Terminal
from labkit.families.modbus.bench.conductors import COMMON, CONDUCTORS, D0, D1
from labkit.families.modbus.bench.faults import FormSet, RateSet, RequestSet
from labkit.families.modbus.bench.setup import Setup
from labkit.fieldbus.modbus import Device, Network, Polarization, Tap, Terminator

PLAN = Network(
    60,
    (
        Tap.to(0, Device("master", master=True)),
        Tap.to(20, Device("pump", 10)),
        Tap.to(40, Device("gauge", 75), derivation=5),
        Tap.to(60, Device("drive", 12)),
    ),
    (Terminator(0.0, 120), Terminator("drive", 120)),
    (Polarization("master", 560, 560),),
    ("master",),
)
SETUP = Setup(PLAN, "master", tries=3)
BIT_US = 1e6 / 19_200


def bench(*faults: Fault) -> Bench:
    return Bench(SETUP, frozenset(faults), Situation(power=True))


def seen(at: str, talker: str, *faults: Fault) -> Any:
    """The picture, with the difference of the two."""
    detail = Scope(at, talker).take(bench(*faults)).detail
    pairs = zip(detail["can_h"], detail["can_l"], strict=True)
    return {**detail, "difference": [high - low for high, low in pairs]}


def middles(picture: Any, bit_us: float = BIT_US) -> list[float]:
    """Volts of D1 above D0 in the middle of each bit, until the picture ends."""
    count = round(picture["us"][-1] / bit_us)
    at = [
        min(range(len(picture["us"])), key=lambda k: abs(picture["us"][k] - (n + 0.5) * bit_us))
        for n in range(count)
    ]
    return [picture["difference"][k] for k in at]


def read_off(picture: Any, bit_us: float = BIT_US) -> tuple[list[int], int]:
    """Bits of the character as a receiver has them (EIA/TIA-485: 0.2 V), and what they say."""
    volts = middles(picture, bit_us)
    assert all(abs(volt) > 0.2 for volt in volts)
    bits = [int(volt > 0) for volt in volts][1:12]
    return bits, sum(bit << place for place, bit in enumerate(bits[1:9]))


def first_bytes() -> dict[str, int]:
    """What the master and the gauge send first, by pymodbus."""
    framer = FramerRTU(DecodePDU(is_server=True))
    asked = ReadHoldingRegistersRequest(address=0, count=4, dev_id=10)
    return {"master": framer.buildFrame(asked)[0], "gauge": 75}


@pytest.mark.parametrize("talker", ["master", "gauge"])
def test_a_character_is_read_off_the_picture(talker: str) -> None:
    bits, value = read_off(seen("drive", talker))
    assert value == first_bytes()[talker]
    assert (bits[0], bits[-1]) == (0, 1)
    # Even parity, 8E1: data and parity bit have an even number of ones.
    assert sum(bits[1:10]) % 2 == 0


def test_odd_parity_is_read_off_as_well() -> None:
    bits, value = read_off(seen("drive", "master", FormSet("master", "8O1")))
    assert value == first_bytes()["master"]
    assert sum(bits[1:10]) % 2 == 1


def test_before_the_start_bit_the_pair_rests_as_the_meter_shows() -> None:
    for faults in ((), (BiasMissing("master"),), (BiasExtra("drive"),)):
        for at in ("master", "gauge", "drive"):
            ends = Terminal.of(at, D1), Terminal.of(at, D0)
            rest = bench(*faults).volts(*ends).value
            assert middles(seen(at, "master", *faults))[0] == pytest.approx(rest, abs=1.1e-3)
    assert seen("drive", "master", BiasMissing("master"))["difference"][0] == 0
    assert seen("drive", "master")["bits"][0] is None


def test_levels_are_those_of_the_driver_at_the_probed_plug() -> None:
    live = bench().live
    assert live is not None
    picture = seen("drive", "master")
    for bit, up in ((0, False), (1, True)):
        where = [k for k, b in enumerate(picture["bits"]) if b == bit]
        found = live.driven("master", up=up)
        for wire, name in ((D1, "can_h"), (D0, "can_l")):
            node, common = (
                bench().wiring.node(Terminal.of("drive", each)) for each in (wire, COMMON)
            )
            k = round((where[0] + 0.5) / 13 * 400)
            assert picture[name][k] == pytest.approx(found.between(node, common), abs=1e-3)


def test_a_wrong_rate_is_read_off_the_length_of_a_bit() -> None:
    there = seen("drive", "master", RateSet("master", 9600))
    assert read_off(there, 2 * BIT_US)[1] == 10
    assert there["us"][-1] == pytest.approx(13 * 2 * BIT_US, abs=0.01)


def test_without_parity_the_next_start_bit_comes_at_once() -> None:
    volts = middles(seen("drive", "master", FormSet("master", "8N1")))
    # At rest, start, eight data bits, stop, and the start bit of the second character.
    assert [volt > 0.2 for volt in volts[10:12]] == [True, False]


def test_an_exchanged_pair_stands_on_its_head_at_that_plug_alone() -> None:
    there = swapped("drive", D0, D1, CONDUCTORS)
    upright, turned = seen("pump", "master", there), seen("drive", "master", there)
    assert all(a * b < 0 for a, b in zip(middles(upright), middles(turned), strict=True))
    assert all(volt < 0 for volt in turned["difference"][:30])


def test_with_one_terminator_the_levels_are_larger() -> None:
    assert max(seen("pump", "master", TerminatorMissing(RIGHT_END))["difference"]) > 1.2 * max(
        seen("pump", "master")["difference"]
    )


@pytest.mark.parametrize("fault", [DeviceDead("gauge"), RateSet("gauge", 9600)])
def test_who_never_sends_moves_nothing(fault: Fault) -> None:
    picture = seen("drive", "gauge", fault)
    assert picture["bits"] == [None] * 12
    assert len({*picture["can_h"]}) == len({*picture["can_l"]}) == 1


def test_what_is_refused_is_sent_all_the_same() -> None:
    assert read_off(seen("drive", "gauge", RequestSet("gauge", 3, 1)))[1] == 75


def test_with_power_off_nothing_is_there() -> None:
    dead = bench().standing(Situation())
    reading = Scope("drive", "master").take(dead)
    assert reading.text == "D1 0.0 to 0.0 V, D0 0.0 to 0.0 V, difference 0.0 to 0.0 V"


def test_an_older_set_up_has_the_scope_as_well() -> None:
    read = Setup.from_json(replace(SETUP, tries=1).to_json())
    assert "scope" in read.catalogue.costs


def test_a_meter_on_the_busy_line_shows_the_mean_of_what_is_sent() -> None:
    """Worked out again from the frames: levels times the time in which they are there."""
    on = bench()
    ends = Terminal.of("drive", D1), Terminal.of("drive", D0)
    live = on.live
    assert live is not None
    nodes = [on.wiring.node(each) for each in ends]
    idle, mean = live.idle.between(*nodes), live.idle.between(*nodes)
    for talk in on.trace.talks:
        if talk.start_s < 5:
            continue
        for value in talk.data:
            # Start bit, data, even parity, stop bit.
            ones = value.bit_count() + value.bit_count() % 2 + 1
            for up, count in ((True, ones), (False, 11 - ones)):
                moved = live.driven(talk.sender, up=up).between(*nodes) - idle
                mean += moved * count / 19_200
    shown, rest = on.busy_volts(*ends).value, on.volts(*ends).value
    assert shown is not None
    assert rest is not None
    assert shown == pytest.approx(mean, abs=1e-3)
    # Zeros are more than ones in these frames, so the meter shows less than at rest.
    assert shown < rest
    assert (
        bench(DeviceDead("master")).busy_volts(*ends).value
        == bench(DeviceDead("master")).volts(*ends).value
    )
