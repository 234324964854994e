"""A similar device in the place of the planned one: what the scanner asks, says and takes.

Attributes 1 to 3 of the identity object: public device manuals (reference page). That a scanner
compares them before it takes a device, and goes on with the others: common practice, no source.
"""

from dataclasses import replace

import pytest
from four_on_a_line import PLAN
from modbus_lines import sound_line

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.debrief import Suspects
from labkit.bench.faults import Fault
from labkit.bench.front import BenchFront
from labkit.bench.mending import mend
from labkit.bench.possible import possible_faults
from labkit.bench.recording import record
from labkit.bench.situation import Situation
from labkit.bench.twins import unseen
from labkit.doors.family import DeviceOnBench
from labkit.families.devicenet.bench.actions import ReplaceDevice, SetSwitches
from labkit.families.devicenet.bench.catalogue import EVERYTHING
from labkit.families.devicenet.bench.equipment import Equipment
from labkit.families.devicenet.bench.faults import AddressSet, IoSizes, OtherProduct
from labkit.families.devicenet.bench.measurements import FrameLog, ScannerReport
from labkit.families.devicenet.bench.products import another_product
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import EntryState, Trace
from labkit.families.devicenet.bench_reading import DeviceNetBenchReading, fault_of
from labkit.families.modbus.bench_reading import ModbusBenchReading
from labkit.fieldbus.devicenet.identity import Identity
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.errors import PlanError

LIVE = Situation(power=True)
EQUIPMENT = {
    "scanner": Equipment(900, 10, 1, 0),
    "clamp": Equipment(412, 11, 1, 1, device_type=7, product_code=1047),
    "gate": Equipment(413, 12, 1, 1, device_type=9, product_code=5892),
    "lamp": Equipment(900, 13, 1, 1),
}
SETUP = Setup(PLAN, "scanner", EQUIPMENT)


def on(*faults: Fault, setup: Setup = SETUP) -> Bench:
    return Bench(setup, frozenset(faults), LIVE)


def played(bench: Bench) -> Trace:
    trace = bench.trace
    assert isinstance(trace, Trace)
    return trace


def asked(trace: Trace, address: int) -> list[str]:
    """What the scanner's explicit requests to a node say, while it works at taking it."""
    identifier = 0x400 | address << 3 | 4
    return [e.frame.data.hex(" ") for e in trace.frames if e.frame.identifier == identifier]


def test_a_planned_product_is_asked_who_it_is_and_taken() -> None:
    trace = played(on())
    assert {trace.report(address).state for address in (1, 2, 3)} == {EntryState.OK}
    questions = ["00 0e 01 01 01", "00 0e 01 01 02", "00 0e 01 01 03"]
    assert asked(trace, 1)[:3] == asked(trace, 2)[:3] == questions
    assert not [each for each in asked(trace, 3) if each.startswith("00 0e 01")]


def test_another_product_is_told_by_its_code_and_not_taken_while_the_others_work_on() -> None:
    trace = played(on(OtherProduct("gate", 5893)))
    said = "another product: its product code is 5893, the scan list says 5892"
    assert trace.report(2).text == said
    assert trace.network_status("gate") is Indicator.FLASHING_GREEN
    assert not [e for e in trace.frames if e.frame.identifier == 0x400 | 2 << 3 | 5]
    assert {trace.report(address).state for address in (1, 3)} == {EntryState.OK}
    assert trace.network_status("scanner") is Indicator.GREEN


def test_every_number_that_differs_is_told() -> None:
    planned = Identity(412, 7, 1047)
    assert another_product((414, 8, 1047), planned) == (
        "its vendor id is 414, the scan list says 412; its device type is 8, the scan list says 7"
    )
    assert another_product((412, 7, 1047), planned) == ""


def test_product_is_compared_before_sizes_and_a_node_at_a_wrong_address_by_its_own() -> None:
    both = played(on(OtherProduct("gate", 17), IoSizes("gate", 4, 0)))
    assert both.report(2).state is EntryState.ANOTHER_PRODUCT
    crossed = played(on(AddressSet("clamp", 2), AddressSet("gate", 1)))
    assert {crossed.report(n).state for n in (1, 2)} == {EntryState.ANOTHER_PRODUCT}


def test_the_log_tells_the_numbers_in_words() -> None:
    said = FrameLog("scanner").take(on(OtherProduct("gate", 5893))).detail["words"]
    assert "node 2 answers: attribute 3 (product code) is 5893 (05 17)" in str(said)


def test_a_new_device_of_the_planned_product_mends_it() -> None:
    fault = OtherProduct("clamp", 4)
    front = BenchFront(SETUP, faults=[fault])
    steps = mend(SETUP, fault)
    assert steps == [to_json(ReplaceDevice("clamp")), to_json(SetSwitches("clamp", 1, 125))]
    for step in steps:
        assert not front.take(step)["refused"]
    assert front.session is not None
    assert front.session.bench.faults == frozenset()


def test_it_is_a_fault_of_its_own_and_shows_without_a_meter() -> None:
    mine = [each for each in possible_faults(SETUP) if isinstance(each, OtherProduct)]
    assert [each.device for each in mine] == ["clamp", "gate"]
    assert all(unseen(on(fault)) == () for fault in mine)
    reports = {fault: ScannerReport().take(on(fault)).text for fault in possible_faults(SETUP)}
    for fault in mine:
        assert list(reports.values()).count(reports[fault]) == 1


def test_where_no_product_is_planned_nobody_asks_and_nothing_is_new() -> None:
    bare = {name: replace(each, device_type=0, product_code=0) for name, each in EQUIPMENT.items()}
    setup = replace(SETUP, equipment=bare)
    assert "other product" not in setup.catalogue.faults
    assert "other product" in SETUP.catalogue.faults
    assert "other product" not in setup.catalogue.choices
    assert not [each for each in possible_faults(setup) if isinstance(each, OtherProduct)]
    questions = [each for n in (1, 2, 3) for each in asked(played(on(setup=setup)), n)]
    assert questions
    assert not [each for each in questions if each.startswith("00 0e 01")]
    assert "product_code" not in setup.to_json()["equipment"]["clamp"]


def test_set_up_and_fault_are_read_back_and_recorded() -> None:
    assert Setup.from_json(SETUP.to_json()) == SETUP
    fault = OtherProduct("gate", 5893)
    assert EVERYTHING.fault_from_json(to_json(fault)) == fault
    assert "5893" in str(record(on(fault)))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"device": "lamp", "code": 4}, "does not know which product lamp is by plan"),
        ({"device": "gate", "code": 5892}, "gate has product code 5892 by plan; name another"),
        ({"device": "gate", "code": 0}, "cannot have product code 0; 1 to 65535"),
    ],
)
def test_what_cannot_be_is_told(fields: dict[str, object], said: str) -> None:
    with pytest.raises(PlanError, match=said):
        fault_of({"kind": "other product", **fields}, SETUP)


@pytest.mark.parametrize("product", [(412, 7), (412, 7, 0), (412, 7, 70_000), (412, 7, 1, 2)])
def test_a_product_is_three_numbers(product: tuple[int, ...]) -> None:
    device = DeviceOnBench("clamp", 1, 1, "poll", product)
    with pytest.raises(PlanError, match="product"):
        DeviceNetBenchReading().setup(PLAN, "scanner", [device])


def test_a_modbus_bench_knows_no_product() -> None:
    meter = DeviceOnBench("meter", 2, 0, "poll", (1, 2, 3))
    with pytest.raises(PlanError, match="leave 'product' out"):
        ModbusBenchReading().setup(sound_line(), "controller", [meter])


def test_a_look_back_plays_each_fault_as_its_own_bench_does() -> None:
    faults = [OtherProduct("gate", 5893), AddressSet("clamp", 0)]
    suspects = Suspects(Bench(SETUP), faults, [ScannerReport()])
    for fault in faults:
        own = ScannerReport().take(on(fault))
        assert suspects.reading(fault, ScannerReport(), LIVE) == own
