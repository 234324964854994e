"""The bench's frame log, held against python-can, which reads and writes the same text form."""

from io import StringIO

import can
import pytest
from can.io.canutils import CanutilsLogReader, CanutilsLogWriter

from labkit.bench.bench import Bench
from labkit.bench.can.frame_log import frame_log, heard_load
from labkit.bench.can.heard_frames import FLAG_WORDS, UNACKNOWLEDGED_WORDS
from labkit.bench.can.traffic import Outcome
from labkit.bench.ears import Ears
from labkit.bench.faults import Broken
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.bus import Change, simulate
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.equipment import BusDevice, Equipment, Master
from labkit.families.devicenet.bench.log_words import read_frame_log
from labkit.families.devicenet.bench.measurements import FrameLog
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Segment, Supply, Tap
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList
from labkit.fieldbus.errors import PlanError

SCANNER = BusDevice("scanner", 0, 125, Equipment(7, 1000, 0, 0))
VALVE = BusDevice("valve", 1, 125, Equipment(7, 1001, 12, 1))
LAMP = BusDevice("lamp", 2, 125, Equipment(7, 1002, 1, 1))
ENTRIES = (ScanEntry(1, ConnectionKind.POLL, 12, 1), ScanEntry(2, ConnectionKind.POLL, 1, 1))
MASTER = Master("scanner", ENTRIES)
NAMES = ["scanner", "valve", "lamp"]
WRONG_RATE = (SCANNER, VALVE, BusDevice("lamp", 2, 500, Equipment(7, 1002, 1, 1)))


def trace_of(*devices: BusDevice, ears: Ears | None = None, time_s: float = 4.0) -> Trace:
    return simulate(devices, ears or Ears.groups(NAMES), MASTER, time_s)


def read_by_python_can(text: str) -> list[can.Message]:
    return list(CanutilsLogReader(StringIO(text)))


def test_python_can_reads_every_frame_of_a_healthy_log() -> None:
    trace = trace_of(SCANNER, VALVE, LAMP)
    found = read_by_python_can(frame_log(trace, "can3"))
    assert [(m.arbitration_id, bytes(m.data)) for m in found] == [
        (each.frame.identifier, each.frame.data) for each in trace.frames
    ]
    assert [m.timestamp for m in found] == pytest.approx([e.end_s for e in trace.frames], abs=1e-6)
    assert {(m.channel, m.is_error_frame, m.is_extended_id) for m in found} == {
        ("can3", False, False)
    }


def test_python_can_reads_our_errors_as_error_frames() -> None:
    trace = trace_of(*WRONG_RATE)
    found = read_by_python_can(frame_log(trace))
    errors = [each for each in trace.frames if each.error_frame]
    assert errors
    assert sum(m.is_error_frame for m in found) == len(errors)
    assert [m.timestamp for m in found if m.is_error_frame] == pytest.approx(
        [each.end_s for each in errors], abs=1e-6
    )


@pytest.mark.parametrize("devices", [(SCANNER, VALVE, LAMP), WRONG_RATE])
def test_what_python_can_writes_of_our_log_reads_back_with_the_same_meaning(
    devices: tuple[BusDevice, ...],
) -> None:
    text = frame_log(trace_of(*devices))
    out = StringIO()
    writer = CanutilsLogWriter(out)
    for message in read_by_python_can(text):
        writer.on_message_received(message)
    ours = [(e.time_s, e.frame, e.text, e.trouble) for e in read_frame_log(text)]
    back = [(e.time_s, e.frame, e.text, e.trouble) for e in read_frame_log(out.getvalue())]
    assert back == ours


def test_a_healthy_log_in_words_has_no_trouble_in_it() -> None:
    scan = ScanList(0, 125, ENTRIES)
    lines = read_frame_log(frame_log(trace_of(SCANNER, VALVE, LAMP)), scan)
    assert not [str(each) for each in lines if each.trouble]
    said = " | ".join(each.text for each in lines)
    for words in (
        "node 1 asks whether anyone else has address 1",
        "node 1 asks a second time, 1.001 s after the first",
        "wants to take node 1 as its device: explicit, poll",
        "node 1 answers: attribute 7 (produced size) is 12",
        "node 1 has set attribute 9 (expected packet rate)",
        "the master polls node 2, 1 output byte: 00",
        "node 1 answers the poll with the last fragment; 12 input bytes in all",
    ):
        assert words in said


def test_errors_are_said_in_words_and_left_out_on_demand() -> None:
    trace = trace_of(*WRONG_RATE)
    said = read_frame_log(frame_log(trace))
    assert FLAG_WORDS in [each.text for each in said]
    assert all(each.trouble for each in said if each.frame is None)
    plain = read_frame_log(frame_log(trace, whole=False))
    assert [each for each in said if each.frame is not None] == plain


def test_a_lone_device_logs_errors_then_its_check_again_and_again() -> None:
    trace = simulate([VALVE], Ears.groups(["valve", "laptop"]), None, 1.0)
    assert frame_log(trace) == frame_log(trace, listener="laptop")
    lines = read_frame_log(frame_log(trace, listener="laptop"))
    assert [each.text for each in lines[:16]] == [UNACKNOWLEDGED_WORDS] * 16
    assert {each.frame.identifier for each in lines[16:] if each.frame} == {0x40F}
    assert "yet again" in lines[-1].text
    assert lines[-1].trouble


def test_a_listener_behind_a_break_hears_its_own_half_only() -> None:
    ears = Ears.groups(["scanner", "valve", "laptop"], ["lamp", "far laptop"])
    trace = trace_of(SCANNER, VALVE, LAMP, ears=ears)
    near = read_by_python_can(frame_log(trace, listener="laptop"))
    far = read_by_python_can(frame_log(trace, listener="far laptop"))
    assert {m.arbitration_id for m in far if not m.is_error_frame} == {0x417}
    assert 0x417 not in {m.arbitration_id for m in near}
    assert not [m for m in near if m.is_error_frame]


def test_a_device_logs_what_it_took_in_and_what_it_sent() -> None:
    trace = trace_of(SCANNER, VALVE, LAMP)
    assert frame_log(trace, listener="lamp") == frame_log(trace)
    deaf = {pair: pair != ("scanner", "lamp") for pair in Ears.groups(NAMES).hears}
    found = read_by_python_can(
        frame_log(trace_of(SCANNER, VALVE, LAMP, ears=Ears(deaf)), listener="lamp")
    )
    assert {m.arbitration_id for m in found} >= {0x40F, 0x417, 0x3C1}
    assert 0x40D not in {m.arbitration_id for m in found}


def test_a_device_at_another_rate_logs_nothing_but_errors_of_the_others() -> None:
    trace = trace_of(*WRONG_RATE)
    found = read_by_python_can(frame_log(trace, listener="lamp"))
    own = [e for e in trace.frames if e.sender == "lamp" and e.outcome is Outcome.THROUGH]
    assert own == []
    assert found
    assert all(m.is_error_frame for m in found)


def test_time_in_a_log_runs_forward_also_where_two_halves_send_at_once() -> None:
    ears = Ears.groups(["scanner", "valve"], ["lamp"])
    times = [m.timestamp for m in read_by_python_can(frame_log(trace_of(*WRONG_RATE, ears=ears)))]
    assert times == sorted(times)


def test_foreign_frames_and_broken_lines_get_a_sentence() -> None:
    lines = read_frame_log("(1.0) can0 18FEF100#01\n\n(2.0) can0 42F#R4\n(3.0) can0 7F1#\n")
    assert [each.trouble for each in lines] == [True, True, True]
    assert "29-bit" in lines[0].text
    assert "remote" in lines[1].text
    with pytest.raises(PlanError, match="Line 2 of the log"):
        read_frame_log("(1.0) can0 42F#00\nnonsense\n")
    with pytest.raises(PlanError, match="nobody called 'cat'"):
        frame_log(trace_of(SCANNER, VALVE, LAMP, time_s=1.0), listener="cat")


def test_an_instrument_sees_the_errors_that_it_hears() -> None:
    ears = Ears.groups([*NAMES, "laptop"])
    trace = simulate(WRONG_RATE, ears, MASTER, 4.0)
    assert frame_log(trace, listener="laptop") == frame_log(trace)


def test_an_instrument_that_is_unplugged_in_the_run_logs_nothing_more() -> None:
    ears = Ears.groups([*NAMES, "laptop"])
    change = Change(3.5, None, Ears.groups(NAMES, ["laptop"]))
    trace = simulate((SCANNER, VALVE, LAMP), ears, MASTER, 4.0, changes=[change])
    times = [m.timestamp for m in read_by_python_can(frame_log(trace, listener="laptop"))]
    assert 3.4 < times[-1] < 3.51
    assert read_by_python_can(frame_log(trace))[-1].timestamp > 3.9


def test_the_bus_load_at_a_listener_is_of_what_reaches_it() -> None:
    # The lamp is cut off and tries its check again and again; nobody else hears of it.
    cut = trace_of(SCANNER, VALVE, LAMP, ears=Ears.groups(["scanner", "valve"], ["lamp"]))
    without = simulate((SCANNER, VALVE), Ears.groups(["scanner", "valve"]), MASTER, 4.0)
    assert heard_load(cut, "scanner", 3.0) == pytest.approx(without.bus_load(3.0), abs=0.01)
    tries = [each for each in cut.frames if each.sender == "lamp" and each.time_s >= 3.0]
    busy = sum(each.end_s - each.time_s + 3 / 125_000 for each in tries)
    assert heard_load(cut, "lamp", 3.0) == pytest.approx(busy, abs=0.01)
    assert cut.bus_load(3.0) > heard_load(cut, "lamp", 3.0) > heard_load(cut, "scanner", 3.0) + 0.3


def test_a_frame_log_tells_the_load_that_its_listener_hears() -> None:
    network = Network(
        125,
        (Segment("thick", 60.0),),
        tuple(
            Tap(at, Drop(1.0, (Device(name, 0.3, address),)))
            for at, name, address in ((5.0, "scanner", 0), (30.0, "valve", 1), (55.0, "lamp", 2))
        ),
        supplies=(Supply(20.0),),
    )
    broken = Bench(
        Setup(network, "scanner"),
        frozenset({Broken("tap 3, left", CAN_H)}),
        Situation(power=True),
    )
    near, far = (FrameLog(name).take(broken).text for name in ("scanner", "lamp"))
    assert near == "last second: nodes heard 1; error frames none; bus load about 0 %"
    assert far == "last second: nodes heard nobody; error frames many; bus load about 80 %"
