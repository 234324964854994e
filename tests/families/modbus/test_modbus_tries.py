"""A master that tries again: what its report says of tries, refusals and bad check sums."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from labkit.bench.bench import Bench
from labkit.bench.faults import BiasMissing, DeviceDead, Fault
from labkit.bench.possible import possible_faults
from labkit.bench.situation import Situation
from labkit.families.modbus.bench.catalogue import CATALOGUE
from labkit.families.modbus.bench.faults import AddressSet, FormSet, RequestSet, SecondMaster
from labkit.families.modbus.bench.measurements import FrameLog, MasterReport
from labkit.families.modbus.bench.setup import Setup
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus import Device, Network, Polarization, Tap, Terminator

PLAN = Network(
    60,
    (
        Tap.to(0, Device("master", master=True)),
        Tap.to(20, Device("pump", 10)),
        Tap.to(40, Device("gauge", 11), derivation=5),
        Tap.to(60, Device("drive", 12)),
    ),
    (Terminator(0.0, 120), Terminator("drive", 120)),
    (Polarization("master", 560, 560),),
    ("master",),
)
SETUP = Setup(PLAN, "master", timeout_ms=300, tries=3)


def bench(*faults: Fault, setup: Setup = SETUP) -> Bench:
    return Bench(setup, frozenset(faults), Situation(power=True))


def report(*faults: Fault) -> dict[int, str]:
    """What the report says of each address."""
    clauses = MasterReport().take(bench(*faults)).text.split("; ")
    pairs = (clause.removeprefix("address ").split(": ", 1) for clause in clauses)
    return {int(address): words for address, words in pairs}


def test_a_sound_line_needs_one_try_each() -> None:
    for words in report().values():
        asked, answered = words.split(", ")
        assert asked.removesuffix(" asked") == answered.removesuffix(" answered")


def test_a_silent_device_is_asked_three_times_before_the_next_one() -> None:
    asked = [
        line[2]
        for line in FrameLog("master").take(bench(DeviceDead("gauge"))).detail["words"]
        if " asks device " in line[2]
    ]
    devices = [int(words.split(" asks device ")[1].split()[0]) for words in asked]
    assert devices[:6] == [10, 11, 11, 11, 12, 10]
    assert report(DeviceDead("gauge"))[11] == (
        "6 asked, 6 without an answer in 3 tries (18 time-outs)"
    )


def test_a_poll_under_way_at_the_end_counts_nothing() -> None:
    for device in ("pump", "gauge", "drive"):
        count = bench(DeviceDead(device)).trace.counts["master"]
        silent = next(each for each in count.values() if each.timeouts)
        assert silent.timeouts == 3 * silent.given_up


def test_bad_check_sums_and_bad_characters_are_counted_apart() -> None:
    doubled = report(AddressSet("gauge", 10))
    count = bench(AddressSet("gauge", 10)).trace.counts["master"][10]
    assert count.bad_crcs == 3 * count.given_up > 0 == count.bad_characters
    assert f"({count.bad_crcs} bad CRCs)" in doubled[10]
    # The device sends with the wrong parity, but hears as little: nobody answers.
    assert "time-outs)" in report(FormSet("gauge", "8O1"))[11]
    # A second master with the wrong parity speaks while the first one waits.
    odd = bench(SecondMaster("gauge"), FormSet("gauge", "8O1")).trace.counts["master"].values()
    assert sum(count.bad_characters for count in odd) > 3


def test_what_a_second_try_heals_is_still_told() -> None:
    counts = bench(BiasMissing("master")).trace.counts["master"].values()
    assert sum(count.repeated for count in counts) > 3
    assert sum(count.bad_crcs for count in counts) > 3
    words = " ".join(report(BiasMissing("master")).values())
    assert "of them not at the first try" in words
    assert "bad CRC" in words


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (
            RequestSet("gauge", 3, 1),
            "refused with exception 02 (the device does not have all of these addresses)",
        ),
        (
            RequestSet("gauge", 4, 0),
            "refused with exception 01 (the device does not have this function)",
        ),
    ],
)
def test_a_request_that_the_device_refuses_is_told_with_its_code(fault: Fault, said: str) -> None:
    told = report(fault)
    number = told[11].split(" asked", 1)[0]
    assert told[11] == f"{number} asked, {number} {said}"
    assert int(number) > 60
    assert "refused" not in told[10] + told[12]
    # A log shows the refusal as the device sends it, with the function's high bit.
    log = FrameLog("master").take(bench(fault)).detail["words"]
    refusals = [line for line in log if "refuses (exception" in line[2]]
    assert refusals
    assert all(line[1].split()[1] in ("83", "84") for line in refusals)


def test_a_wrong_request_is_put_right_and_kept() -> None:
    fault = RequestSet("gauge", 3, 1)
    assert CATALOGUE.fault_from_json({"kind": "request set", "device": "gauge", "function": 3,
                                      "start": 1}) == fault  # fmt: skip
    assert fault.words == "the master asks gauge for holding registers from address 1 (40002) on"
    assert fault.place in SETUP.other_places
    [mended] = SETUP.mend(fault)
    assert not mended.do(bench(fault)).faults
    assert RequestSet("gauge", 3, 1) in possible_faults(SETUP)
    wrong = {"kind": "set request", "device": "pump", "function": 4, "start": 0}
    made = CATALOGUE.action_from_json(wrong).do(bench())
    assert made.faults == {RequestSet("pump", 4, 0)}


@pytest.mark.parametrize(
    ("device", "function", "start", "said"),
    [
        ("gauge", 1, 0, "function 3 or 4, not with 1"),
        ("gauge", 3, 70_000, "70000"),
        ("master", 3, 1, "nobody asks"),
    ],
)
def test_a_request_that_cannot_be_is_refused(
    device: str, function: int, start: int, said: str
) -> None:
    with pytest.raises(PlanError, match=said):
        bench(RequestSet(device, function, start))


def test_an_older_set_up_tries_once_and_reports_as_it_did() -> None:
    older = SETUP.to_json()
    del older["tries"]
    read = Setup.from_json(json.loads(json.dumps(older)))
    assert read == replace(SETUP, tries=1)
    told = MasterReport().take(bench(DeviceDead("gauge"), setup=read)).text
    assert "address 11: 16 asked, 16 timed out" in told
    assert not any(isinstance(fault, RequestSet) for fault in possible_faults(read))
    with pytest.raises(PlanError, match="number of tries"):
        replace(SETUP, tries=0)
