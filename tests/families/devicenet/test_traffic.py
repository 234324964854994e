"""A healthy bench: start-up, allocation, polling, scan times; and the rules every trace keeps.

Frame lengths and scan bounds are those of `fieldbus.devicenet.scanlist` (Davis, Burns, Bril,
Lukkien, Real-Time Systems 35, 2007); the start-up is IEC 62026-3 as the reference page has it.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.bench.can.traffic import Outcome
from labkit.bench.ears import Ears
from labkit.families.devicenet.bench.bus import Bus, Change, simulate
from labkit.families.devicenet.bench.equipment import BusDevice, Equipment, Master
from labkit.families.devicenet.bench.trace import EntryState, Trace
from labkit.fieldbus.can.arbitration import arbitrate
from labkit.fieldbus.can.confinement import ErrorCounters
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.length import exact_bits
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList
from labkit.fieldbus.errors import PlanError

POLL, STROBE = ConnectionKind.POLL, ConnectionKind.BIT_STROBE
COS, CYCLIC = ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC
OFF, GREEN, FLASHING_GREEN = Indicator.OFF, Indicator.GREEN, Indicator.FLASHING_GREEN
SELF_TEST = Indicator.FLASHING_RED_GREEN


def device(address: int, rate: int = 125, **equipment: Any) -> BusDevice:
    made = Equipment(7, 0x1000 + address, **({"input_bytes": 1, "output_bytes": 1} | equipment))
    return BusDevice(f"node {address}", address, rate, made)


def scanner(rate: int = 125) -> BusDevice:
    return BusDevice("scanner", 0, rate, Equipment(7, 0x1000, 0, 0))


def plan_of(devices: Sequence[BusDevice], every_ms: float = 20.0) -> Master:
    """The scan list that fits these devices."""
    entries = []
    for each in devices:
        made = each.equipment
        timed = made.kind in (COS, CYCLIC)
        outputs = 0 if made.kind is STROBE else made.output_bytes
        interval = 50.0 if timed else None
        entries.append(ScanEntry(each.address, made.kind, made.input_bytes, outputs, interval))
    return Master("scanner", tuple(entries), every_ms)


def everyone(devices: Iterable[BusDevice]) -> Ears:
    return Ears.groups([each.name for each in devices])


def healthy(count: int = 4, rate: int = 125, time_s: float = 4.0, **more: Any) -> Trace:
    devices = [device(at, rate) for at in range(1, count)]
    bench = [scanner(rate), *devices]
    return simulate(bench, everyone(bench), plan_of(devices), time_s, **more)


def test_a_healthy_network_goes_from_self_test_to_all_green_without_an_error() -> None:
    trace = healthy()
    for name, looks in trace.network.items():
        assert [look for _, look in looks] == [SELF_TEST, OFF, FLASHING_GREEN, GREEN], name
        times = [time for time, _ in looks]
        assert times[0] == 0.0
        # two checks, each with a second's wait behind its end
        assert times[2] - times[1] == pytest.approx(2.0, abs=0.01)
        assert [look for _, look in trace.module[name]] == [SELF_TEST, GREEN]
    assert {each.state for each in map(trace.report, trace.entries)} == {EntryState.OK}
    assert all(each.through and not each.seen_by for each in trace.frames)
    assert set(trace.counters.values()) == {ErrorCounters()}


def test_every_frame_is_acknowledged_by_all_the_others() -> None:
    names = {"scanner", "node 1", "node 2", "node 3"}
    for each in healthy(time_s=3.0).frames:
        assert set(each.acknowledged_by) == names - {each.sender}


def test_the_two_duplicate_checks_are_the_reference_bytes_one_second_apart() -> None:
    checks = [each for each in healthy().frames if each.frame.identifier == 0x40F]
    assert [each.frame.data.hex(" ") for each in checks] == ["00 07 00 01 10 00 00"] * 2
    assert checks[1].time_s - checks[0].end_s == pytest.approx(1.0, abs=1e-9)


def test_a_device_is_allocated_asked_for_its_sizes_given_a_packet_rate_then_polled() -> None:
    trace = healthy(2)
    sent = [each.frame for each in trace.frames if 2.6 < each.time_s < 3.5]
    shown = [f"{each.identifier_text} {each.data.hex(' ').upper()}".strip() for each in sent]
    assert shown[:10] == [
        "40E 00 4B 03 01 03 00",
        "40B 00 CB 00",
        "40C 00 0E 05 02 07",
        "40B 00 8E 01 00",
        "40C 00 0E 05 02 08",
        "40B 00 8E 01 00",
        "40C 00 10 05 02 09 50 00",
        "40B 00 90 50 00",
        "40D 00",
        "3C1 00",
    ]


def test_polls_come_as_often_as_the_scanner_is_told() -> None:
    for every in (10.0, 20.0, 50.0):
        devices = [device(1), device(2)]
        bench = [scanner(), *devices]
        trace = simulate(bench, everyone(bench), plan_of(devices, every), 4.0)
        polls = [e.time_s for e in trace.frames if e.frame.identifier == 0x40D]
        gaps = [after - before for before, after in pairwise(polls)]
        assert len(gaps) > 20
        assert gaps[1:] == pytest.approx([every / 1000] * (len(gaps) - 1), abs=1e-9)


@settings(deadline=None, max_examples=15)
@given(
    st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=6),
    st.sampled_from([125, 250, 500]),
    st.randoms(use_true_random=False),
)
def test_a_scan_takes_as_long_as_the_scan_list_says(
    sizes: list[tuple[int, int]], rate: int, rnd: Random
) -> None:
    devices = [
        device(at, rate, input_bytes=get, output_bytes=put)
        for at, (get, put) in enumerate(sizes, start=1)
    ]
    bench = [scanner(rate), *devices]
    master = plan_of(devices, 100.0)
    inputs = {e.name: rnd.randbytes(e.equipment.input_bytes) for e in devices}
    outputs = {e.name: rnd.randbytes(e.equipment.output_bytes) for e in devices}
    trace = simulate(bench, everyone(bench), master, 4.0, inputs=inputs, outputs=outputs)
    scan = ScanList(0, rate, master.scan_list)
    last = [each for each in trace.frames if each.time_s > 3.5]
    starts = [
        e.time_s
        for e in last
        if e.frame.identifier
        == min(f.frame.identifier for f in last if f.frame.identifier >= 0x400)
    ]
    begin = next(time for time in starts if time > 3.6)
    frames = [each for each in last if begin <= each.time_s < begin + 0.09]
    took_ms = (frames[-1].end_s - frames[0].time_s) * 1000 + 3 / rate
    by_address = {e.address: inputs[e.name] for e in devices}
    out_by_address = {e.address: outputs[e.name] for e in devices}
    assert took_ms == pytest.approx(scan.exact_scan_ms(by_address, out_by_address), abs=1e-6)
    assert scan.scan_time.shortest_ms - 1e-6 <= took_ms <= scan.scan_time.longest_ms + 1e-6


def test_a_frame_lasts_as_many_bit_times_as_it_has_bits() -> None:
    for rate in (125, 250, 500):
        for each in healthy(3, rate, 3.0).frames:
            bits = exact_bits(each.frame, interframe_space=False)
            assert each.end_s - each.time_s == pytest.approx(bits / rate / 1000, abs=1e-9)


def test_bus_load_follows_from_frames_and_time() -> None:
    # per scan of 20 ms: three polls and three answers of one byte, exact bits with interframe space
    trace = healthy()
    frames = [each for each in trace.frames if 3.2 <= each.time_s < 3.8]
    bits = sum(exact_bits(each.frame) for each in frames)
    assert trace.bus_load(3.2, 3.8) == pytest.approx(bits / 125_000 / 0.6, rel=0.02)


KINDS = {
    POLL: {"input_bytes": 3, "output_bytes": 2},
    STROBE: {"input_bytes": 2, "output_bytes": 1},
    COS: {"input_bytes": 2, "output_bytes": 0},
    CYCLIC: {"input_bytes": 12, "output_bytes": 9},
}


@pytest.mark.parametrize("kind", KINDS)
def test_inputs_and_outputs_travel_over_every_kind_of_connection(kind: ConnectionKind) -> None:
    sizes = KINDS[kind]
    node = device(5, kind=kind, **sizes)
    bench = [scanner(), node]
    bus = Bus(bench, everyone(bench), plan_of([node]), inputs={"node 5": b"\x11" * 12})
    bus.run_until(4.0)
    assert bus.inputs("node 5") == b"\x11" * sizes["input_bytes"]
    bus.set_inputs("node 5", b"\x22" * sizes["input_bytes"])
    if sizes["output_bytes"]:
        bus.set_outputs("node 5", b"\x01" * sizes["output_bytes"])
    bus.run_until(4.5)
    assert bus.inputs("node 5") == b"\x22" * sizes["input_bytes"]
    assert bus.outputs("node 5") == b"\x01" * sizes["output_bytes"]
    bus.run_until(20.0)
    trace = bus.trace()
    assert [look for _, look in trace.network["node 5"]][2:] == [FLASHING_GREEN, GREEN]
    assert trace.report(5).text == "OK"
    assert all(each.through for each in trace.frames)


def test_a_change_of_state_is_reported_at_once() -> None:
    node = device(5, kind=COS, output_bytes=0)
    bench = [scanner(), node]
    bus = Bus(bench, everyone(bench), plan_of([node]))
    bus.run_until(4.0001)
    bus.set_inputs("node 5", b"\x80")
    bus.run_until(4.0021)
    assert bus.inputs("node 5") == b"\x80"
    acknowledged = [each.frame.identifier for each in bus.trace().frames][-2:]
    assert acknowledged == [0x345, 0x42A]


def test_stepping_gives_the_same_trace_as_one_run() -> None:
    devices = [device(1), device(2)]
    bench = [scanner(), *devices]
    bus = Bus(bench, everyone(bench), plan_of(devices))
    for step in range(1, 41):
        bus.run_until(step / 10)
    assert bus.trace() == simulate(bench, everyone(bench), plan_of(devices), 4.0)


def test_a_change_that_changes_nothing_leaves_the_trace_as_it_is() -> None:
    devices = [device(1), device(2)]
    bench = (scanner(), *devices)
    plain = simulate(bench, everyone(bench), plan_of(devices), 4.0)
    change = Change(3.3, bench, everyone(bench))
    assert simulate(bench, everyone(bench), plan_of(devices), 4.0, changes=[change]) == plain


benches = st.fixed_dictionaries(
    {
        "count": st.integers(2, 5),
        "fault": st.sampled_from(
            ["none", "dead", "unpowered", "rate", "address", "babbling", "mute", "deaf", "broken"]
        ),
        "at": st.integers(1, 4),
        "spread": st.sampled_from([0.0, 0.05]),
        "rate": st.sampled_from([125, 500]),
    }
)


def faulty(bench: dict[str, Any]) -> tuple[list[BusDevice], Ears, Master]:
    """A bench of `count` devices, one of them with a fault."""
    rate = bench["rate"]
    devices = [scanner(rate), *(device(at, rate) for at in range(1, bench["count"]))]
    master = plan_of(devices[1:])
    ears = everyone(devices)
    at = min(bench["at"], bench["count"] - 1)
    sick = devices[at]
    names = [each.name for each in devices]
    match bench["fault"]:
        case "dead":
            sick = replace(sick, dead=True)
        case "unpowered":
            sick = replace(sick, powered=False)
        case "rate":
            sick = replace(sick, rate=250)
        case "address":
            sick = replace(sick, address=(at + 1) % bench["count"])
        case "babbling":
            sick = replace(sick, babbling=True)
        case "mute":
            ears = Ears({pair: pair[0] != sick.name for pair in ears.hears})
        case "deaf":
            ears = Ears({pair: pair[1] != sick.name for pair in ears.hears})
        case "broken":
            ears = Ears.groups(names[:at], names[at:])
    devices[at] = sick
    return devices, ears, master


@settings(deadline=None, max_examples=15)
@given(benches)
def test_same_bench_same_trace_and_time_runs_forward(bench: dict[str, Any]) -> None:
    devices, ears, master = faulty(bench)
    spread = bench["spread"]
    first = simulate(devices, ears, master, 3.2, start_spread_s=spread)
    assert simulate(devices, ears, master, 3.2, start_spread_s=spread) == first
    assert all(0.0 <= each.time_s < each.end_s for each in first.frames)
    assert [e.time_s for e in first.frames] == sorted(e.time_s for e in first.frames)
    for looks in (*first.network.values(), *first.module.values()):
        assert [time for time, _ in looks] == sorted({time for time, _ in looks})
        assert all(a[1] is not b[1] for a, b in pairwise(looks))


@settings(deadline=None, max_examples=20)
@given(benches.filter(lambda each: each["fault"] not in ("mute", "deaf", "broken")))
def test_no_two_frames_overlap_where_all_hear_all(bench: dict[str, Any]) -> None:
    devices, ears, master = faulty(bench)
    frames = simulate(devices, ears, master, 3.2, start_spread_s=bench["spread"]).frames
    for before, after in pairwise(frames):
        fastest = 3 / max(before.rate, after.rate) / 1000
        assert after.time_s - before.end_s >= fastest - 1e-9


@settings(deadline=None, max_examples=20)
@given(benches)
def test_with_the_fault_taken_away_the_trace_is_the_healthy_one(bench: dict[str, Any]) -> None:
    devices, ears, master = faulty(bench)
    simulate(devices, ears, master, 3.0)
    assert simulate(*faulty(bench | {"fault": "none"}), 3.0) == healthy(
        bench["count"], bench["rate"], 3.0
    )


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 0x7EF)), min_size=2, max_size=12))
def test_of_frames_ready_together_the_lowest_identifier_goes_first(
    ready: list[tuple[int, int]],
) -> None:
    """Against the bit-by-bit arbitration of `fieldbus.can`, one round after the other."""
    bench = [scanner(), *(device(at) for at in range(1, 4))]
    bus = Bus(bench, everyone(bench), None)
    bus.run_until(3.0)
    before = len(bus.trace().frames)
    # one frame each identifier, at addresses nobody has, so that nobody answers
    frames = {
        f"{at} {number}": Frame(0x200 | identifier & 0x1C0 | 0x3F - number)
        for number, (at, identifier) in enumerate(ready)
    }
    for name, frame in frames.items():
        bus.put(bench[int(name[0])].name, frame)
    bus.run_until(3.1)
    sent = [each.frame for each in bus.trace().frames[before:]]
    left = dict(frames)
    for frame in sent:
        winner = arbitrate(left).winner
        assert winner is not None
        assert frame == left.pop(winner)
    assert not left


def test_many_frames_ready_together_all_go_through_once() -> None:
    trace = healthy(10, 500, 3.5, start_spread_s=0.0)
    assert {each.outcome for each in trace.frames} == {Outcome.THROUGH}
    checks = [each.frame.identifier for each in trace.frames[:10]]
    assert checks == [0x407 + 8 * at for at in range(10)]


BAD = [
    lambda: simulate([device(1), device(1)], Ears({}), None, 1.0),
    lambda: simulate([device(1)], Ears({}), Master("scanner", ()), 1.0),
    lambda: simulate([replace(device(1), rate=100)], Ears({}), None, 1.0),
    lambda: simulate([replace(device(1), address=64)], Ears({}), None, 1.0),
    lambda: simulate([device(1)], Ears({}), None, 0.0),
    lambda: simulate([device(1)], Ears({}), None, 1e6),
    lambda: simulate([device(1)], Ears({}), None, "1"),  # type: ignore[arg-type]
    lambda: simulate([scanner()], Ears({}), Master("scanner", (), 0.0), 1.0),
    lambda: simulate([scanner()], Ears({}), Master("scanner", (ScanEntry(1, POLL),) * 2), 1.0),
    lambda: simulate([scanner()], Ears({}), None, 1.0, outputs={"scanner": b""}),
    lambda: simulate([device(1)], Ears({}), None, 1.0, inputs={"node 1": "x"}),  # type: ignore[dict-item]
    lambda: simulate([device(1)], Ears({}), None, 1.0, inputs={"node 2": b""}),
    lambda: Bus([device(1)], Ears({}), None).inputs("node 2"),
    lambda: Bus([device(1)], Ears({}), None).set_inputs("node 1", b"\x01\x02"),
    lambda: Bus([scanner(), device(1)], Ears({}), plan_of([device(2)])).inputs("node 1"),
    lambda: Bus([scanner(), device(1)], Ears({}), plan_of([device(1)])).set_outputs("node 1", b""),
]


@pytest.mark.parametrize("bad", BAD)
def test_a_bench_that_cannot_be_gets_a_sentence(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()


def test_the_bench_does_not_run_backwards() -> None:
    bus = Bus([device(1)], Ears({}), None)
    bus.run_until(1.0)
    with pytest.raises(PlanError, match="cannot go back"):
        bus.run_until(0.5)
