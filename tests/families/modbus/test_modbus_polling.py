"""The master's time-out and tries as a plan sets them: how long a round takes, and who is late."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from labkit.bench.bench import Bench
from labkit.bench.faults import BiasMissing, DeviceDead, Fault
from labkit.bench.situation import Situation
from labkit.families.modbus.bench.catalogue import CATALOGUE
from labkit.families.modbus.bench.faults import TimeoutSet
from labkit.families.modbus.bench.measurements import FrameLog, MasterReport
from labkit.families.modbus.bench.setup import Setup
from labkit.families.modbus.bench_reading import ModbusBenchReading
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus import (
    Device,
    Function,
    MasterSettings,
    Network,
    Polarization,
    Poll,
    ReadRequest,
    Tap,
    Terminator,
    poll_cycle,
)
from labkit.fieldbus.serial.silence import silence

RESPONSES = {"pump": 20.0, "gauge": 160.0, "drive": 35.0}
PLAN = Network(
    60,
    (
        Tap.to(0, Device("master", master=True)),
        Tap.to(20, Device("pump", 10, response_ms=RESPONSES["pump"])),
        Tap.to(40, Device("gauge", 11, response_ms=RESPONSES["gauge"]), derivation=5),
        Tap.to(60, Device("drive", 12, response_ms=RESPONSES["drive"])),
    ),
    (Terminator(0.0, 120), Terminator("drive", 120)),
    (Polarization("master", 560, 560),),
    ("master",),
    timeout_ms=300,
    tries=2,
)
SETUP = ModbusBenchReading().setup(PLAN, "master")
SILENCE_S = silence(PLAN.bit_rate, PLAN.form).between_s


def bench(*faults: Fault, setup: Any = SETUP) -> Bench:
    return Bench(setup, frozenset(faults), Situation(power=True))


def report(*faults: Fault, setup: Any = SETUP) -> dict[str, str]:
    """What is set, and what the report says of each address."""
    first, *clauses = MasterReport().take(bench(*faults, setup=setup)).text.split("; ")
    return {"set": first, **dict(clause.split(": ", 1) for clause in clauses)}


def calculated_s(*dead: str, timeout_s: float = 0.3, tries: int = 2) -> float:
    """A round by MODBUS over Serial Line V1.02, 2.4.1 and 2.5.1.1."""
    read = ReadRequest(Function.READ_HOLDING_REGISTERS, 0, 4)
    polls = [
        Poll(10 + n, read, None if name in dead else response / 1000)
        for n, (name, response) in enumerate(RESPONSES.items())
    ]
    settings = MasterSettings(PLAN.bit_rate, PLAN.form, timeout_s, tries - 1)
    return poll_cycle(polls, settings).total_s


def test_a_round_takes_what_is_calculated() -> None:
    found = bench().trace.longest_round_s("master")
    assert found == pytest.approx(calculated_s(), abs=1e-9)
    assert report()["set"] == "time-out 300 ms, 2 tries, longest round 0.26 s"


@pytest.mark.parametrize(("timeout_ms", "tries"), [(300, 1), (300, 2), (250, 3), (1000, 3)])
def test_a_dead_device_costs_time_out_times_tries(timeout_ms: float, tries: int) -> None:
    setup = Setup(replace(PLAN, timeout_ms=timeout_ms, tries=tries), "master")
    found = bench(DeviceDead("pump"), setup=setup).trace.longest_round_s("master")
    whole = calculated_s("pump", timeout_s=timeout_ms / 1000, tries=tries)
    # The bench's master waits for the silence that would end a reply of the last moment.
    assert found == pytest.approx(whole + tries * SILENCE_S, abs=1e-9)


def test_of_rounds_that_differ_the_longest_is_told() -> None:
    trace = bench(BiasMissing("master")).trace
    begun = trace.rounds_s["master"]
    rounds = [end - start for start, end in pairwise(begun)]
    assert min(rounds) + 0.25 < max(rounds) == trace.longest_round_s("master")


def test_a_time_out_shorter_than_the_slow_devices_answer_is_seen_and_mended() -> None:
    there = TimeoutSet(100)
    told = report(there)
    assert told["set"] == "time-out 100 ms, 2 tries, longest round 0.26 s"
    number = told["address 11"].split(" asked", 1)[0]
    assert int(number) > 20
    assert told["address 11"] == (
        f"{number} asked, {number} answered, {number} of them not at the first try "
        f"({number} time-outs)"
    )
    assert "time-out" not in told["address 10"] + told["address 12"]
    # Too short by less than the reply takes is too short as well: all of it must be there.
    assert "time-out" in report(TimeoutSet(167))["address 11"]
    assert "time-out" not in report(TimeoutSet(170))["address 11"]
    mended = CATALOGUE.action_from_json({"kind": "set time-out", "ms": 300}).do(bench(there))
    assert not mended.faults
    [action] = SETUP.mend(there)
    assert not action.do(bench(there)).faults
    other = CATALOGUE.action_from_json({"kind": "set time-out", "ms": 90}).do(bench())
    assert other.faults == {TimeoutSet(90)}


def test_a_device_at_work_takes_no_other_request() -> None:
    log = FrameLog("master").take(bench(TimeoutSet(100))).detail["words"]
    told = [line[2] for line in log if "device 11" in line[2]][:5]
    ask = "the master asks device 11 for 4 holding registers from address 0 (40001) on"
    assert told[:3] == [ask, "device 11 has not answered", ask]
    assert told[3].startswith("device 11 answers: 16000")
    assert told[4] == ask


def test_a_single_try_lets_the_late_reply_into_the_next_wait() -> None:
    setup = Setup(replace(PLAN, tries=1), "master")
    found = bench(TimeoutSet(140), setup=setup).trace
    assert found.counts["master"][11].answered == 0
    assert found.unasked["master"] + found.counts["master"][12].spoilt > 5


def test_what_the_plan_says_of_the_master_holds_and_is_kept() -> None:
    assert (SETUP.timeout_ms, SETUP.tries) == (300, 2)
    assert Setup.from_json(json.loads(json.dumps(SETUP.to_json()))) == SETUP
    [waits] = next(work for work in SETUP.device_work if work.kind == "set time-out").asks
    assert waits.value == 300
    only_tries = Setup(replace(PLAN, timeout_ms=None, tries=1), "master")
    assert (only_tries.timeout_ms, only_tries.tries) == (1000, 1)
    assert report(setup=only_tries)["set"] == "time-out 1000 ms, 1 try, longest round 0.26 s"


def test_a_plan_that_says_nothing_of_the_master_reports_as_before() -> None:
    older = Setup(replace(PLAN, timeout_ms=None, tries=None), "master", tries=3)
    assert "longest" not in MasterReport().take(bench(setup=older)).text
    plan = older.to_json()["plan"]
    assert "timeout_ms" not in plan
    assert "tries" not in plan


def test_a_round_that_does_not_end_is_said_so() -> None:
    never = Setup(replace(PLAN, timeout_ms=7000, tries=1), "master")
    assert report(DeviceDead("pump"), setup=never)["set"].endswith("1 try, no round ended yet")
    with pytest.raises(PlanError, match=r"1 times 7000 ms.*5000 ms or less"):
        ModbusBenchReading().setup(never.network, "master")


@pytest.mark.parametrize(
    ("field", "value"), [("timeout_ms", 0), ("timeout_ms", "long"), ("tries", 0), ("tries", 1.5)]
)
def test_what_no_master_can_be_set_to_is_refused(field: str, value: Any) -> None:
    with pytest.raises(PlanError):
        replace(PLAN, **{field: value})
    with pytest.raises(PlanError):
        Device("pump", 10, response_ms=-1)
