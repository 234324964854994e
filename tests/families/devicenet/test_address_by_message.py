"""Devices without address switches: told their node address by message, over the scanner.

Class 3, attribute 1 of the DeviceNet object, service 0x10: reference page, from memory. So is that
a device drops its connections and checks its new address anew, and that one that is off the network
after its check hears no such message.
"""

import pytest
from four_on_a_line import NAMES, PLAN
from modbus_lines import sound_line

from labkit.bench.actions import Action, NotDoneError, Plug, PowerOff, PowerOn, Unplug
from labkit.bench.bench import Bench
from labkit.bench.faults import Broken, DeviceDead, Fault
from labkit.bench.front import BenchFront
from labkit.bench.mending import mend
from labkit.bench.situation import Situation
from labkit.doors.family import DeviceOnBench
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.actions import ReplaceDevice, SetSwitches
from labkit.families.devicenet.bench.by_message import TellAddress
from labkit.families.devicenet.bench.catalogue import EVERYTHING
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.equipment import Equipment
from labkit.families.devicenet.bench.faults import AddressSet, RateSet
from labkit.families.devicenet.bench.measurements import ScannerReport
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_reading import DeviceNetBenchReading
from labkit.families.modbus.bench_reading import ModbusBenchReading
from labkit.fieldbus.errors import PlanError


def line(*told: str) -> Setup:
    made = {
        name: Equipment(900, 10 + n, address_by_message=name in told)
        for n, name in enumerate(NAMES)
    }
    return Setup(PLAN, "scanner", made)


TOLD = line("clamp", "gate")


def after(action: Action, *faults: Fault, without: str = "") -> frozenset[Fault]:
    out = frozenset({without} if without else ())
    return action.do(Bench(TOLD, frozenset(faults), Situation(power=True, unplugged=out))).faults


def test_a_new_device_at_63_is_told_its_planned_address_and_answers_there() -> None:
    new = AddressSet("gate", 63)
    bench = Bench(TOLD, frozenset({new}), Situation(power=True))
    assert "node 2 no answer" in ScannerReport().take(bench).text
    told = TellAddress(63, 2).do(bench)
    assert told.faults == frozenset()
    assert "node 2 OK" in ScannerReport().take(told).text
    # One that the scanner exchanges data with moves as well: the message knows addresses alone.
    assert after(TellAddress(2, 40)) == {AddressSet("gate", 40)}


def test_who_has_switches_or_is_not_there_or_cannot_hear_keeps_its_address() -> None:
    assert after(TellAddress(3, 40)) == frozenset()
    assert after(TellAddress(50, 40)) == frozenset()
    for deaf in (DeviceDead("gate"), Broken("gate", CAN_H), RateSet("gate", 500)):
        assert after(TellAddress(2, 40), deaf) == {deaf}
    assert after(TellAddress(2, 40), DeviceDead("scanner")) == {DeviceDead("scanner")}


def test_the_second_of_two_at_one_address_is_off_the_network_and_hears_nothing() -> None:
    double = AddressSet("gate", 1)
    # Whoever came first is moved: here the one that was right, or the doubled one itself.
    both = after(TellAddress(1, 40), double)
    assert len(both & {AddressSet("clamp", 40), AddressSet("gate", 40)}) == 1
    # With the right one pulled, the doubled one hears it.
    assert after(TellAddress(1, 2), double, without="clamp") == frozenset()


def test_without_power_nothing_is_sent_and_switches_set_the_rate_alone() -> None:
    with pytest.raises(NotDoneError, match="Not sent: without power nobody hears it"):
        TellAddress(63, 2).do(Bench(TOLD))
    here = Bench(TOLD, frozenset({AddressSet("gate", 63), RateSet("gate", 500)}))
    with pytest.raises(NotDoneError, match="gate has no switches for its node address"):
        SetSwitches("gate", 5, 125).do(here)
    assert SetSwitches("gate", 2, 125).do(here).faults == {AddressSet("gate", 63)}
    assert ReplaceDevice("gate").do(here).faults == {AddressSet("gate", 63)}
    assert SetSwitches("lamp", 9, 125).do(here).faults >= {AddressSet("lamp", 9)}


MENDED = [AddressSet("gate", 63), AddressSet("gate", 1), AddressSet("gate", 0), DeviceDead("clamp")]


@pytest.mark.parametrize("fault", MENDED, ids=str)
def test_every_such_fault_is_mended_by_message_others_at_that_address_pulled(fault: Fault) -> None:
    front = BenchFront(TOLD, faults=[fault])
    for step in mend(TOLD, fault):
        assert not front.take(step)["refused"], step
    assert front.session is not None
    bench = front.session.bench
    assert (bench.faults, bench.situation.at(0.0)) == (frozenset(), Situation())


def test_pulled_and_put_back_in_order() -> None:
    steps = TOLD.mend(AddressSet("gate", 1))
    assert steps == [Unplug("clamp"), PowerOn(), TellAddress(1, 2), PowerOff(), Plug("clamp")]


def test_a_repair_by_message_that_is_only_planned_has_the_power_that_it_needs() -> None:
    check = check_for("diagnosis")
    ask = {"setup": TOLD.to_json(), "power": False, "budget": 60, "costs": {}, "repairs": True}
    key = {
        "faults": [{"kind": "address set", "device": "gate", "address": 63}],
        "shares": {"fault": 0.4, "place": 0.4, "repair": 0.2},
    }
    said = {"fault": "address set", "place": "gate", "wires": []}
    tell = {"kind": "tell address", "node": 63, "address": 2}
    assert check.check(ask, key, {"steps": [], "repairs": [tell], "verdict": said}).right
    wrong = {**tell, "node": 62}
    assert not check.check(ask, key, {"steps": [], "repairs": [wrong], "verdict": said}).right


def test_where_all_have_switches_nothing_is_new() -> None:
    plain = line()
    assert "tell address" not in plain.catalogue.actions
    assert "tell address" not in plain.catalogue.costs
    assert "tell address" not in {work.kind for work in plain.device_work}
    assert "tell address" in {work.kind for work in TOLD.device_work}
    assert "address_by_message" not in str(plain.to_json())
    assert Setup.from_json(TOLD.to_json()) == TOLD
    assert EVERYTHING.action_from_json({"kind": "tell address", "node": 63, "address": 2})
    with pytest.raises(PlanError, match="64"):
        TellAddress(63, 64)
    with pytest.raises(PlanError, match="scanner scans, and tells others"):
        line("scanner")
    gate = DeviceOnBench("gate", 1, 0, "poll", address_by_message=True)
    assert DeviceNetBenchReading().setup(PLAN, "scanner", [gate]).messages
    meter = DeviceOnBench("meter", 2, 0, "poll", address_by_message=True)
    with pytest.raises(PlanError, match="told an address"):
        ModbusBenchReading().setup(sound_line(), "controller", [meter])
