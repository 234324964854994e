"""Whether outputs follow: run and idle, a lost connection, crossed addresses. All from the bus.

Sources (public device and scanner manuals, on the reference page): outputs go off when their
connection is lost or the scanner is idle, unless object class 9, attributes 5 to 8, says otherwise;
an idle scanner polls without output data; a connection times out after four times its expected
packet rate; a scanner reports an idle node as a state of its own.
"""

from dataclasses import replace

import pytest

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.debrief import look_back
from labkit.bench.faults import Broken, DeviceDead, Fault
from labkit.bench.front import BenchFront
from labkit.bench.measurements import Reading
from labkit.bench.mending import mend
from labkit.bench.possible import possible_faults
from labkit.bench.recording import record
from labkit.bench.session import Session
from labkit.bench.situation import Situation
from labkit.bench.twins import unseen
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.equipment import Equipment
from labkit.families.devicenet.bench.faults import (
    AddressSet,
    HoldsInIdle,
    HoldsOutputs,
    IoSizes,
    ScanListAs,
    ScannerIdle,
)
from labkit.families.devicenet.bench.measurements import (
    CommandOutputs,
    FrameLog,
    GoIdle,
    Indicators,
    LoseScanner,
    ScannerReport,
)
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.scanlist import ScanEntry

LIVE = Situation(power=True)
NAMES = ("scanner", "clamp", "gate", "lamp", "drive")
KINDS = (
    ConnectionKind.POLL,
    ConnectionKind.POLL,
    ConnectionKind.POLL,
    ConnectionKind.BIT_STROBE,
    ConnectionKind.CHANGE_OF_STATE,
)
PLAN = Network(
    125,
    (Segment("thick", 30.0),),
    tuple(Tap(3.0 + 6 * n, Drop(1.0, (Device(name, 0.1, n),))) for n, name in enumerate(NAMES)),
    (Supply(14.0),),
)
EQUIPMENT = {
    name: Equipment(900, 10 + n, 1, 0 if name == "scanner" else 1, kind)
    for n, (name, kind) in enumerate(zip(NAMES, KINDS, strict=True))
}
SETUP = Setup(PLAN, "scanner", EQUIPMENT, outputs=True)
WITHOUT = replace(SETUP, outputs=False)
OUTPUTS = NAMES[1:]


def on(*faults: Fault) -> Bench:
    return Bench(SETUP, frozenset(faults), LIVE)


def moved(bench: Bench, device: str) -> list[str]:
    detail = CommandOutputs(device).take(bench).detail
    found: list[str] = detail["on"]
    return found


@pytest.mark.parametrize("device", OUTPUTS)
def test_on_a_sound_line_the_commanded_output_comes_on_and_no_other(device: str) -> None:
    assert moved(on(), device) == [device]


@pytest.mark.parametrize("device", OUTPUTS)
def test_while_the_scanner_is_idle_nothing_moves_and_every_light_is_green(device: str) -> None:
    bench = on(ScannerIdle())
    assert CommandOutputs(device).take(bench) == Reading("no output is on", detail={"on": []})
    assert Indicators().take(bench).text == Indicators().take(on()).text
    assert "red" not in Indicators().take(bench).text


def test_an_idle_scanner_reports_every_node_as_idle_and_polls_without_data() -> None:
    idle, running = on(ScannerIdle()), on()
    assert ScannerReport().take(running).text.count("OK") == 4
    assert ScannerReport().take(idle).text.count("idle") == 4
    assert poll_data(running.trace) == {1: {b"\0"}, 2: {b"\0"}}
    assert poll_data(idle.trace) == {1: {b""}, 2: {b""}}
    commanding = SETUP.commanding(running, "gate")
    assert poll_data(commanding) == {1: {b"\0"}, 2: {b"\xff"}}


def poll_data(trace: Trace) -> dict[int, set[bytes]]:
    """What polled nodes 1 and 2 get (group 2, message ID 5: 0x400 + address * 8 + 5)."""
    return {
        node: {f.frame.data for f in trace.frames if f.frame.identifier == 0x405 + 8 * node}
        for node in (1, 2)
    }


def test_crossed_addresses_move_the_wrong_thing_while_all_else_looks_right() -> None:
    bench = on(AddressSet("clamp", 2), AddressSet("gate", 1))
    assert moved(bench, "clamp") == ["gate"]
    assert moved(bench, "gate") == ["clamp"]
    assert moved(bench, "drive") == ["drive"]
    for measurement in (Indicators(), ScannerReport()):
        assert measurement.take(bench).text == measurement.take(on()).text


@pytest.mark.parametrize(
    "fault",
    [
        DeviceDead("gate"),
        Broken("gate", CAN_H),
        IoSizes("gate", 1, 2),
        ScanListAs(tuple(e for e in SETUP.entries if e.address != 2)),
    ],
    ids=lambda fault: fault.kind,
)
def test_what_is_not_connected_does_not_move(fault: Fault) -> None:
    assert moved(on(fault), "gate") == []


def test_with_the_power_off_nothing_moves() -> None:
    assert moved(Bench(SETUP), "clamp") == []
    assert LoseScanner().take(Bench(SETUP)).text == "no output is on"


@pytest.mark.parametrize("device", OUTPUTS)
def test_a_lost_connection_switches_outputs_off_unless_the_device_holds_them(device: str) -> None:
    assert LoseScanner().take(on()).text == "no output is on"
    holding = on(HoldsOutputs(device))
    assert LoseScanner().take(holding).detail == {"on": [device]}
    assert moved(holding, device) == [device]


def test_going_to_idle_switches_outputs_off_and_every_light_stays_green() -> None:
    told = GoIdle().take(on())
    assert told.detail == {"run": list(OUTPUTS), "on": []}
    assert told.text == (
        "in run on: clamp, gate, lamp, drive; in idle no output is on; "
        f"then {Indicators().take(on()).text}"
    )
    assert "red" not in told.text


@pytest.mark.parametrize("device", OUTPUTS)
def test_in_idle_a_device_holds_if_it_is_set_so_and_its_connection_can_say_it(device: str) -> None:
    detail = GoIdle().take(on(HoldsInIdle(device))).detail
    # A strobe has a bit for each node and nothing else: the lamp cannot tell idle from off.
    assert detail == {"run": list(OUTPUTS), "on": [] if device == "lamp" else [device]}
    assert LoseScanner().take(on(HoldsInIdle(device))).text == "no output is on"
    assert GoIdle().take(on(HoldsOutputs(device))).detail["on"] == []


def test_a_scanner_that_is_idle_from_the_start_has_nothing_on_to_hold() -> None:
    told = GoIdle().take(on(ScannerIdle(), HoldsInIdle("clamp")))
    assert told.detail == {"run": [], "on": []}


def test_outputs_go_off_in_idle_at_the_next_poll() -> None:
    trace = SETUP.going_idle(on())
    for name in ("clamp", "gate"):
        (at, _), *_ = [each for each in reversed(trace.driven[name]) if not any(each[1])]
        assert 6.0 <= at <= 6.0 + 2 * SETUP.scan_every_ms / 1000, name


def test_outputs_go_off_when_the_connection_times_out_and_not_before() -> None:
    trace = SETUP.losing_scanner(on())
    for name, rate_ms in (("clamp", 80), ("gate", 80), ("lamp", 80), ("drive", 250)):
        (at, _), *_ = [each for each in reversed(trace.driven[name]) if not any(each[1])]
        # Four times the packet rate, from the last message before the scanner went (6 s).
        assert 4 * rate_ms / 1000 - rate_ms / 1000 <= at - 6.0 <= 4 * rate_ms / 1000 + 0.001, name


def test_a_repair_takes_the_fault_away_and_nothing_else() -> None:
    for fault in (ScannerIdle(), HoldsOutputs("lamp"), HoldsInIdle("clamp")):
        front = BenchFront(SETUP, faults=[fault, DeviceDead("gate")])
        for step in mend(SETUP, fault):
            assert not front.take(step)["refused"]
        session = front.session
        assert session is not None
        assert session.bench.faults == frozenset({DeviceDead("gate")})


def test_faults_and_steps_come_back_from_json() -> None:
    catalogue = SETUP.catalogue
    for fault in (ScannerIdle(), HoldsOutputs("lamp"), HoldsInIdle("clamp")):
        assert catalogue.fault_from_json(to_json(fault)) == fault
    for step in (CommandOutputs("lamp"), LoseScanner(), GoIdle()):
        assert catalogue.step_from_json(to_json(step)) == step
    assert Setup.from_json(SETUP.to_json()) == SETUP


def test_a_set_up_of_an_older_lab_knows_nothing_of_it() -> None:
    assert "outputs" not in WITHOUT.to_json()
    assert "idle" not in WITHOUT.catalogue.choices
    assert WITHOUT.other_places == ("scan list",)
    assert not {"idle", "holds outputs", "holds in idle"} & {
        fault.kind for fault in possible_faults(WITHOUT)
    }
    assert {"idle", "holds outputs", "holds in idle"} < {
        fault.kind for fault in possible_faults(SETUP)
    }


def test_every_one_of_them_shows_and_an_assessed_class_has_it_recorded() -> None:
    for fault in (ScannerIdle(), HoldsOutputs("lamp"), HoldsInIdle("clamp")):
        assert unseen(on(fault)) == ()
    front = BenchFront(SETUP, recording=record(on(ScannerIdle())), start=LIVE)
    told = front.take(to_json(CommandOutputs("gate")))
    assert told["text"] == "no output is on"
    frames = front.take(to_json(FrameLog("scanner")))
    assert "idle" not in frames["text"]


def test_a_look_back_counts_what_commanding_told() -> None:
    session = Session.at(on(ScannerIdle())).take(CommandOutputs("clamp"))
    idle, holds = ScannerIdle(), HoldsOutputs("gate")
    (look,) = look_back(session, [idle, holds, DeviceDead("clamp"), DeviceDead("gate")], [])
    assert (look.before, look.after) == (4, 2)


def test_the_scan_list_may_know_an_address_that_nobody_has() -> None:
    entries = (*SETUP.entries, ScanEntry(40, ConnectionKind.POLL, 1, 1))
    assert moved(on(ScanListAs(entries)), "gate") == ["gate"]
