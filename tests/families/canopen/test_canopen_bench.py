"""A CANopen bus on the virtual bench: from power-up, and with each thing wrong that can be."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from canopen_bench import (
    LIVE,
    NAMES,
    NODES,
    PLAN,
    SETUP,
    SMALL,
    bench,
    lamps,
    log,
    report,
)
from hypothesis import given
from hypothesis import strategies as st

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.faults import (
    Broken,
    DeviceDead,
    Earthed,
    Fault,
    Loose,
    NotEarthed,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
    swapped,
)
from labkit.bench.front import BenchFront
from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.bench.measurements import Scope
from labkit.bench.mending import mend
from labkit.bench.possible import possible_faults
from labkit.bench.recording import Recording, record
from labkit.bench.situation import Situation, Terminal
from labkit.bench.twins import groups_alike
from labkit.doors.family import DeviceOnBench
from labkit.families.canopen.bench.bus import Bus as PlayedBus
from labkit.families.canopen.bench.catalogue import CATALOGUE
from labkit.families.canopen.bench.conductors import CAN_GND, CAN_H, CAN_L, CONDUCTORS, SHIELD
from labkit.families.canopen.bench.equipment import Equipment
from labkit.families.canopen.bench.faults import (
    AddressSet,
    HeartbeatSet,
    MappingSet,
    NotListed,
    OtherProduct,
    RateSet,
)
from labkit.families.canopen.bench.measurements import ManagerReport
from labkit.families.canopen.bench.setup import Setup
from labkit.families.canopen.bench.shared_play import SharedPlay
from labkit.families.canopen.bench_reading import CanopenBenchReading
from labkit.fieldbus.can.confinement import NodeState
from labkit.fieldbus.canopen import Bus, BusNode
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.bench_setup import setup_of

SOUND = ("green", "off")
OTHERS = {f"node {11 + n}" for n in range(5)}


def volts(on: Bench, device: str, a: Any = CAN_H, b: Any = CAN_L) -> float:
    found = on.volts(Terminal.of(device, a), Terminal.of(device, b)).value
    assert found is not None
    return found


# A sound bus.


def test_a_sound_bus_boots_is_asked_started_and_runs() -> None:
    assert set(lamps().values()) == {SOUND}
    assert report() == dict.fromkeys(OTHERS, "operational")
    lines = log()
    # Boot-up messages, the manager's first: 0x700 + node-ID (CiA 301).
    assert [who for who, _ in lines[:6]] == ["701", "70B", "70C", "70D", "70E", "70F"]
    of_feeder = [line for line in lines if line[0] in ("60B", "58B", "000", "70B")]
    assert [words for _, words in of_feeder][:8] == [
        "node 11 has booted up",
        "the client reads 0x1000 subindex 0 of node 11",
        "node 11 answers: 0x1000 subindex 0 is 197009 (91 01 03 00)",
        "the client reads 0x1018 subindex 1 of node 11",
        "node 11 answers: 0x1018 subindex 1 is 900 (84 03 00 00)",
        "the client reads 0x1018 subindex 2 of node 11",
        "node 11 answers: 0x1018 subindex 2 is 273 (11 01 00 00)",
        "heartbeat of node 11: pre-operational",
    ]
    assert ("000", "the NMT master orders node 11: start") in lines


def test_heartbeats_and_pdos_keep_their_times() -> None:
    frames = bench().trace.frames
    beats = [each.time_s for each in frames if each.frame.identifier == 0x70B]
    gaps = [after - before for before, after in pairwise(beats)]
    assert gaps == pytest.approx([0.5] * len(gaps), abs=0.002)
    syncs = [each for each in frames if each.frame.identifier == 0x080]
    data = [each for each in frames if each.frame.identifier == 0x18B]
    assert len(syncs) > 45
    # One transmit PDO for each SYNC that came after its start command.
    assert len(data) == len(syncs)
    assert {each.sender for each in data} == {"feeder"}


def test_a_device_by_event_sends_by_its_event_time() -> None:
    made = Setup(PLAN, "controller", {"gate": Equipment.usual(4, 0, sync=False)})
    sent = [e.time_s for e in bench(setup=made).trace.frames if e.frame.identifier == 0x18D]
    gaps = [after - before for before, after in pairwise(sent)]
    assert len(gaps) > 20
    assert gaps == pytest.approx([0.2] * len(gaps), abs=0.005)


@pytest.mark.parametrize(("rate", "metres"), [(1000, 25), (500, 100), (125, 500), (50, 1000)])
def test_a_bus_at_its_published_length_plays_at_every_rate(rate: int, metres: float) -> None:
    nodes = (BusNode("boss", 0, 0, 1), BusNode("far", metres, 0, 2), BusNode("near", 1, 0.3, 3))
    made = CanopenBenchReading().setup(Bus(metres, rate, nodes, (0, metres)), "boss")
    assert report(setup=made) == {"node 2": "operational", "node 3": "operational"}
    assert set(lamps(setup=made).values()) == {SOUND}


# Settings and what is stored.


def test_a_wrong_node_id_is_one_silent_and_one_unknown() -> None:
    found = report(AddressSet("gate", 99))
    assert found["node 13"] == "no answer"
    assert found["node 99,"] == "which is not in the list, is there"
    assert lamps(AddressSet("gate", 99))["gate"] == ("blinking green", "off")


def test_two_of_one_node_id_answer_twice_and_their_pdos_destroy_each_other() -> None:
    twice = AddressSet("gate", 12)
    found = report(twice)
    assert (found["node 13"], found["node 12"]) == ("no answer", "operational")
    words = [each for each in log(twice) if each[0] in ("70C", "58C")]
    assert words[1][1].startswith("node 12 has booted up, though nobody ordered a reset")
    assert sum("which nothing before it asked for" in each for _, each in words) == 3
    trace = bench(twice).trace
    # Both are started by one command and send other data on 0x18C after the same SYNC: 8 for each
    # destroyed frame and 1 off for each that goes through, so one of the two ends bus-off
    # (ISO 11898-1), and then the other goes on alone.
    assert trace.counters["gate"].state is NodeState.BUS_OFF
    assert trace.counters["scale"].state is NodeState.ERROR_ACTIVE
    assert lamps(twice)["gate"] == ("blinking green", "red")
    clashes = [each for each in trace.frames if each.others and each.frame.identifier == 0x18C]
    assert {each.sender for each in clashes} | {n for e in clashes for n in e.others} == {
        "gate",
        "scale",
    }


def test_of_two_with_one_node_id_that_send_nothing_one_is_hidden() -> None:
    only_outputs = {name: Equipment.usual(0, 2) for name in ("scale", "gate")}
    made = Setup(PLAN, "controller", only_outputs)
    twice = AddressSet("gate", 12)
    assert set(lamps(twice, setup=made).values()) == {SOUND}
    found = report(twice, setup=made)
    assert (found["node 13"], found["node 12"]) == ("no answer", "operational")


def test_two_of_one_node_id_of_other_products_depend_on_who_answers_first() -> None:
    # The scale answers after 0.7 ms, the gate after 0.4 ms.
    made = Setup(PLAN, "controller", {"gate": Equipment.usual(3, 1)})
    found = report(AddressSet("gate", 12), setup=made)
    assert found["node 12"] == ("another device: its product code is 0x131, the list says 0x111")


def test_a_device_with_the_managers_node_id_is_told() -> None:
    text = ManagerReport().take(bench(AddressSet("gate", 1))).text
    assert "another node has the manager's own node-ID 1" in text


def test_a_device_at_another_rate_goes_bus_off_and_leaves_the_others_alone() -> None:
    wrong = RateSet("gate", 125)
    found = lamps(wrong)
    assert found.pop("gate") == ("blinking green", "red")
    assert set(found.values()) == {SOUND}
    assert report(wrong)["node 13"] == "no answer"
    assert any(who == "error" for who, _ in log(wrong))
    assert bench(wrong).trace.counters["gate"].state is NodeState.BUS_OFF


def test_a_manager_at_another_rate_is_alone() -> None:
    wrong = RateSet("controller", 125)
    assert ManagerReport().take(bench(wrong)).text == "the manager says nothing"
    found = lamps(wrong)
    assert found.pop("controller") == ("blinking green", "red")
    assert {run for run, _ in found.values()} == {"blinking green"}


def test_without_heartbeat_a_node_is_not_started() -> None:
    silent = HeartbeatSet("gate", 0)
    assert report(silent)["node 13"] == "not started: no heartbeat of it within 1500 ms"
    assert lamps(silent)["gate"] == ("blinking green", "off")
    assert lamps(silent)["controller"] == ("green", "double flash red")
    codes = [e.frame.data for e in bench(silent).trace.frames if e.frame.identifier == 0x081]
    assert codes[0] == bytes.fromhex("3081110000000000")


def test_a_heartbeat_slower_than_its_consumer_waits_comes_and_goes() -> None:
    slow = HeartbeatSet("gate", 4000)
    assert report(slow)["node 13"] == "lost: no heartbeat for 1500 ms"
    frames = [each.frame for each in bench(slow).long_trace.frames]
    # Lost, its communication is reset (0x82), and it is asked anew.
    assert sum(f.identifier == 0 and f.data == bytes([0x82, 13]) for f in frames) > 1
    later = report(HeartbeatSet("gate", 5000))["node 13"]
    assert later == "operational, but once its heartbeat did not come in time"


def test_the_manager_waits_its_consumer_time_after_the_last_heartbeat() -> None:
    frames = bench(Loose("gate", CAN_H, every_s=9.0, open_s=3.0)).long_trace.frames
    told = next(e.time_s for e in frames if e.frame.data[:2] == bytes.fromhex("3081"))
    heard = [e for e in frames if "controller" in e.received_by]
    beats = [e.time_s for e in heard if e.frame.identifier == 0x70D]
    # Until the contact opens at 6 s: the last heartbeat before it.
    last = max(at for at in beats if at < told)
    assert told - last == pytest.approx(1.5, abs=0.01)


def test_a_node_that_boots_up_again_is_asked_and_started_again() -> None:
    there = bench()
    off = [replace(each, works=each.works and each.name != "gate") for each in there.devices]
    bus = PlayedBus(there.devices, there.ears, SETUP.managing_on(there))
    for at, devices in ((3.0, off), (3.1, there.devices)):
        bus.run_until(at)
        bus.change(devices, there.ears)
    bus.run_until(6.0)
    frames = [(e.frame.identifier, e.frame.data) for e in bus.trace().frames if e.time_s > 3.1]
    # Without waiting for the consumer time: the second question comes before it would be over.
    asked = [e.time_s for e in bus.trace().frames if e.frame.identifier == 0x60D]
    assert 3.5 < min(at for at in asked if at > 3.1) < 4.0
    assert (0x000, bytes([0x01, 13])) in frames
    said = bus.trace().said
    assert said is not None
    assert said.entries[13] == "operational"


def test_a_manager_whose_heartbeat_is_slow_loses_everybody() -> None:
    slow = HeartbeatSet("controller", 4000)
    found = lamps(slow)
    found.pop("controller")
    assert {error for _, error in found.values()} == {"double flash red"}
    runs = [look.words for _, look in bench(slow).trace.run["gate"]]
    # Started, pre-operational for want of the manager, and started by it again.
    assert runs[:5] == ["off", "blinking", "on", "blinking", "on"]
    frames = bench(slow).trace.frames
    codes = {e.frame.identifier for e in frames if e.frame.data[:2] == bytes.fromhex("3081")}
    assert codes == {0x08B, 0x08C, 0x08D, 0x08E, 0x08F}


@pytest.mark.parametrize(
    ("outputs", "code", "words"),
    [
        (2, 0x8210, "a PDO was too short and was not taken (0x8210)"),
        (0, None, ""),
    ],
)
def test_a_receive_mapping_that_does_not_fit(outputs: int, code: int | None, words: str) -> None:
    other = MappingSet("gate", 1, outputs)
    sent = [e.frame.data for e in bench(other).trace.frames if e.frame.identifier == 0x08D]
    if code is None:
        # Nothing is mapped: the PDO is not used, and nobody says anything.
        assert sent == []
        return
    # Once, though the PDO comes again and again (CiA 301: no more until a new error comes).
    assert sent == [code.to_bytes(2, "little") + b"\x11" + bytes(5)]
    assert report(other)["emergency of"] == f"node 13: {words}"
    assert lamps(other)["gate"] == ("green", "blinking red")


def test_a_pdo_longer_than_its_mapping_is_told_with_0x8220() -> None:
    made = Setup(PLAN, "controller", {"gate": Equipment.usual(1, 4)})
    found = report(MappingSet("gate", 1, 2), setup=made)
    assert found["emergency of"] == "node 13: a PDO was too long (0x8220)"


def test_a_transmit_mapping_that_does_not_fit_is_told_by_the_manager() -> None:
    found = report(MappingSet("gate", 3, 1))["node 13"]
    assert found == "operational, but its PDO has 3 bytes, the list says 1"


def test_another_product_is_not_started() -> None:
    assert report(OtherProduct("gate", 7))["node 13"] == (
        "another device: its product code is 0x7, the list says 0x111"
    )
    assert lamps(OtherProduct("gate", 7))["gate"] == ("blinking green", "off")


def test_whom_the_list_leaves_out_stays_pre_operational() -> None:
    found = report(NotListed("gate"))
    assert found["node 13,"] == "which is not in the list, is there"
    assert lamps(NotListed("gate"))["gate"] == ("blinking green", "off")


def test_a_dead_device_and_a_dead_manager() -> None:
    assert lamps(DeviceDead("gate"))["gate"] == ("off", "off")
    found = lamps(DeviceDead("controller"))
    assert found.pop("controller") == ("off", "off")
    assert set(found.values()) == {("blinking green", "off")}


# The wiring.


def test_at_rest_the_pair_is_held_at_2_5_volts() -> None:
    assert volts(bench(), "gate") == pytest.approx(0, abs=1e-6)
    assert volts(bench(), "gate", CAN_H, CAN_GND) == pytest.approx(2.5, abs=1e-3)
    dead = bench().standing(Situation())
    ohm = dead.ohms(Terminal.of("gate", CAN_H), Terminal.of("gate", CAN_L)).value
    # Two terminators of 120 Ω, the cable between them, six receivers of 30 kΩ beside them.
    assert ohm == pytest.approx(62, abs=2)


@pytest.mark.parametrize(
    "fault", [Broken("gate", CAN_H), swapped("gate", CAN_H, CAN_L, CONDUCTORS)]
)
def test_a_node_with_one_conductor_wrong_is_silent(fault: Fault) -> None:
    assert report(fault)["node 13"] == "no answer"
    found = lamps(fault)
    assert found.pop("gate")[1] in ("red", "single flash red")
    assert set(found.values()) == {SOUND}


def test_an_open_trunk_cuts_off_what_lies_behind() -> None:
    found = report(Broken("tap 3, right", CAN_H))
    assert {node for node, said in found.items() if said == "no answer"} == {
        "node 13",
        "node 14",
        "node 15",
    }


def test_two_conductors_that_touch_stop_everybody() -> None:
    touching = Touching("gate", CAN_H, CAN_L)
    assert set(report(touching).values()) == {"no answer"}
    assert set(lamps(touching).values()) == {("blinking green", "single flash red")}
    dead = bench(touching).standing(Situation())
    ohm = dead.ohms(Terminal.of("gate", CAN_H), Terminal.of("gate", CAN_L)).value
    assert ohm == pytest.approx(0.2, abs=0.1)


@pytest.mark.parametrize(
    "fault", [TerminatorMissing(LEFT_END), TerminatorExtra("gate"), NotEarthed()]
)
def test_what_only_a_meter_shows_leaves_the_traffic_alone(fault: Fault) -> None:
    assert report(fault) == report()
    assert lamps(fault) == lamps()


def test_a_node_with_a_loose_contact_is_lost() -> None:
    there = Loose("gate", CAN_H, every_s=9.0, open_s=3.0)
    looks = [look.words for _, look in bench(there).long_trace.run["gate"]]
    # It runs until the contact opens; with one conductor left it goes bus-off, and stays so.
    assert looks == ["off", "blinking", "on", "blinking"]
    assert lamps(there)["gate"] == SOUND
    late = Bench(SETUP, frozenset({there}), Situation(power=True, clock_s=3.0))
    assert "node 13 lost: no heartbeat for 1500 ms" in ManagerReport().take(late).text


def test_the_scope_sees_a_nodes_boot_up() -> None:
    seen = Scope("gate", "feeder").take(bench())
    assert max(seen.detail["can_h"]) == pytest.approx(3.5, abs=0.1)
    assert min(seen.detail["can_l"]) == pytest.approx(1.5, abs=0.1)
    # Start of frame is dominant, 0x70B begins with three recessive bits.
    assert seen.detail["bits"][:4] == [0, 1, 1, 1]


def test_with_power_off_nothing_is_told() -> None:
    dead = bench().standing(Situation())
    assert ManagerReport().take(dead).text == "the manager says nothing"


# As data.


FAULTS = possible_faults(SMALL)


def test_every_possible_fault_is_told_kept_and_mended() -> None:
    told = [fault.words_on(SMALL.layout) for fault in FAULTS]
    assert len(set(told)) == len(FAULTS)
    for fault in FAULTS:
        assert CATALOGUE.fault_from_json(json.loads(json.dumps(to_json(fault)))) == fault
        front = BenchFront(SMALL, faults=[fault])
        done = [front.take(step) for step in mend(SMALL, fault)]
        assert done
        assert not any(entry["refused"] for entry in done)
        assert front.session is not None
        assert not front.session.bench.faults, fault
    assert {fault.kind for fault in FAULTS} <= set(CATALOGUE.choices)
    assert set(CATALOGUE.choices) == set(CATALOGUE.faults)


def test_no_two_possible_faults_look_alike_and_none_as_a_sound_bus() -> None:
    benches = [Bench(SMALL, frozenset({fault})) for fault in FAULTS]
    alike = groups_alike([*benches, Bench(SMALL)])
    groups = [[FAULTS[n] if n < len(FAULTS) else None for n in group] for group in alike]
    assert [group for group in groups if len(group) > 1] == []


def test_a_recording_shows_what_the_bench_shows() -> None:
    faulty = Bench(SMALL, frozenset({TerminatorMissing(RIGHT_END), AddressSet("scale", 11)}))
    kept = Recording(SMALL, json.loads(json.dumps(record(faulty))))
    live = faulty.standing(LIVE)
    for what in SMALL.watches():
        assert kept.take(what, LIVE).text == what.take(live).text
    at = Terminal.of("scale", CAN_H), Terminal.of("scale", CAN_GND)
    for data in ({"kind": kind, "a": at[0].text, "b": at[1].text} for kind in ("ohms", "volts")):
        what = CATALOGUE.measurement_from_json(data)
        for situation in (LIVE, Situation()):
            assert kept.take(what, situation).text == what.take(faulty.standing(situation)).text


def test_shared_play_gives_each_bench_its_own_run() -> None:
    play = SMALL.shared_play()
    assert isinstance(play, SharedPlay)
    for fault in (*FAULTS[:6], *FAULTS[-14:], TerminatorMissing(LEFT_END)):
        there = Bench(SMALL, frozenset({fault}), LIVE)
        assert play.trace(there) == Bench(SMALL, frozenset({fault}), LIVE).trace


IO = st.integers(0, 8)
MADE = st.builds(
    Equipment,
    *[st.integers(0, 0xFFFF_FFFF)] * 3,
    IO,
    IO,
    st.booleans(),
    st.integers(0, 0xFFFF),
)
SETUPS = st.builds(
    lambda equipment, sync, consumer, live, cable: Setup(
        replace(PLAN, milliohm_per_m=cable, section_mm2=0.5 if cable else None),
        "controller",
        equipment,
        sync,
        consumer,
        live_plugs=live,
    ),
    st.dictionaries(st.sampled_from(NAMES), MADE),
    st.integers(10, 500),
    st.integers(100, 9000),
    st.booleans(),
    st.one_of(st.none(), st.floats(1, 90)),
)


@given(SETUPS)
def test_a_set_up_is_read_back(made: Setup) -> None:
    assert setup_of(json.loads(json.dumps(made.to_json()))) == made


def test_equal_set_ups_show_equal_things() -> None:
    again = setup_of(json.loads(json.dumps(SETUP.to_json())))
    for fault in (AddressSet("gate", 12), Loose("gate", CAN_H), RateSet("scale", 500)):
        one, other = (Bench(made, frozenset({fault}), LIVE) for made in (SETUP, again))
        assert one.trace == other.trace
        assert one.long_trace == other.long_trace


@pytest.mark.parametrize("key", ["plan", "equipment", "consumer_ms"])
def test_json_that_is_no_set_up_is_refused_in_words(key: str) -> None:
    data = SETUP.to_json()
    for wrong in ({k: v for k, v in data.items() if k != key}, {**data, key: 3.5}):
        with pytest.raises(PlanError):
            Setup.from_json(wrong)


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (replace(PLAN, terminators=(0,)), "one terminator at each end"),
        (replace(PLAN, terminators=(0, 50, 100)), "one terminator at each end"),
        (replace(PLAN, bit_rate_kbps=20), "does not play 20 kbit/s"),
        (replace(PLAN, bit_rate_kbps=800), "does not play 800 kbit/s"),
        (replace(PLAN, nodes=(*NODES, BusNode("spare", 90))), "spare needs a node-ID"),
        (replace(PLAN, nodes=(*NODES, BusNode("spare", 90, 0, 12))), "both have node-ID 12"),
        (replace(PLAN, bit_rate_kbps=1000), "does not hear"),
    ],
)  # fmt: skip
def test_a_plan_that_no_bench_is_made_of_is_refused(plan: Bus, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        CanopenBenchReading().setup(plan, "controller")


def test_a_labs_words_become_faults() -> None:
    family = CanopenBenchReading()
    made = family.setup(
        PLAN,
        "controller",
        [DeviceOnBench("gate", 6, 0, "event", (900, 5, 7))],
        (2, 3),
    )
    assert made.equipment["gate"] == Equipment(900, 7, 5, 6, 0, sync=False)
    assert made.equipment["lift"] == Equipment.usual(2, 3)
    assert made.equipment["controller"] == Equipment.usual(0, 0)

    def named(**fields: Any) -> Fault:
        return family.fault_of(fields, made)

    assert named(kind="swapped", connector="lift") == swapped("lift", CAN_L, CAN_H, CONDUCTORS)
    assert named(kind="earthed", connector="lift", wire="shield") == Earthed("lift", SHIELD)
    assert named(kind="rate set", device="lift", rate=125) == RateSet("lift", 125)
    assert family.value("ms", "20") == 20
    assert family.no_such({"device": "lamp"}, made) == ("device", list(made.layout.devices))
    for fields, said in (
        ({"kind": "not listed", "device": "controller"}, "is the manager"),
        ({"kind": "other product", "device": "gate", "code": 7}, "by plan"),
        (
            {"kind": "mapping set", "device": "lift", "input_bytes": 2, "output_bytes": 3},
            "by plan",
        ),
    ):
        with pytest.raises(PlanError, match=said):
            named(**fields)
    with pytest.raises(PlanError, match="outputs"):
        family.setup(PLAN, "controller", outputs=True)
    with pytest.raises(PlanError, match="'sync', or 'event'"):
        family.require_connection("strobe")
    with pytest.raises(PlanError, match="vendor, device type and product code"):
        family.setup(PLAN, "controller", [DeviceOnBench("gate", 1, 1, "sync", (7,))])
