"""The life of a node. Indicator looks: IEC 62026-3 (reference page); error codes from memory."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.connections import (
    Allocation,
    BusFrame,
    ConnectionKind,
    allocate_request,
    allocation_requests,
    packet_rate_request,
    poll_exchange,
    release_request,
    request_frames,
    strobe_exchange,
)
from labkit.fieldbus.devicenet.fragments import explicit_frames
from labkit.fieldbus.devicenet.indicators import (
    MODULE_MEANING,
    NETWORK_MEANING,
    Health,
    Indicator,
)
from labkit.fieldbus.devicenet.messages import DuplicateCheck, ExplicitRequest, ExplicitResponse
from labkit.fieldbus.devicenet.node import Fault, Node, NodeState
from labkit.fieldbus.devicenet.objects import GeneralError
from labkit.fieldbus.devicenet.startup import (
    BusOff,
    CheckSent,
    Event,
    InputsChange,
    PowerOff,
    PowerOn,
    Received,
    SelfTestDone,
    TimePasses,
    come_on_line,
    react,
)
from labkit.fieldbus.errors import PlanError

NEW = Node(5, vendor=1, serial=0x11223344, inputs=b"\x03", output_bytes=2, allowed=Allocation(0x77))
CHECK = (0x42F, bytes.fromhex("00 01 00 44 33 22 11"))


def told(node: Node, *frames: BusFrame) -> Node:
    for frame in frames:
        node = react(node, Received(*frame.pair)).node
    return node


def answer(
    node: Node, body: ExplicitRequest, master: int = 0, *, unconnected: bool = False
) -> tuple[Node, ExplicitResponse]:
    for frame in request_frames(body, node.address, master, unconnected=unconnected):
        reaction = react(node, Received(*frame.pair))
    assert len(reaction.frames) == 1
    identifier, data = reaction.frames[0].pair
    assert identifier == 0x42B
    return reaction.node, ExplicitResponse.from_bytes(data[1:])


@pytest.fixture
def online() -> Node:
    return come_on_line(NEW).node


@pytest.fixture
def polled(online: Node) -> Node:
    return told(online, *allocation_requests(5, 0, {ConnectionKind.POLL: 100}))


def test_start_up_step_by_step() -> None:
    node = NEW
    looks = []
    frames = []
    for event in (
        PowerOn(),
        SelfTestDone(),
        CheckSent(),
        TimePasses(0.999),
        TimePasses(0.001),
        CheckSent(),
        TimePasses(1.0),
    ):
        reaction = react(node, event)
        node = reaction.node
        looks.append((node.state.name, node.network_status.value, node.module_status.value))
        frames += [frame.pair for frame in reaction.frames]
    assert looks == [
        ("SELF_TEST", "flashing red and green", "flashing red and green"),
        ("FIRST_CHECK", "off", "green"),
        ("FIRST_CHECK", "off", "green"),
        ("FIRST_CHECK", "off", "green"),
        ("SECOND_CHECK", "off", "green"),
        ("SECOND_CHECK", "off", "green"),
        ("ON_LINE", "flashing green", "green"),
    ]
    assert frames == [CHECK, CHECK]


def test_a_node_alone_never_goes_on_line() -> None:
    node = react(react(NEW, PowerOn()).node, SelfTestDone()).node
    for _ in range(100):
        node = react(node, TimePasses(10.0)).node
    assert node.state is NodeState.FIRST_CHECK
    assert node.network_status is Indicator.OFF


def test_a_second_acknowledge_does_not_begin_the_wait_anew() -> None:
    node = NEW
    for event in (PowerOn(), SelfTestDone(), CheckSent(), TimePasses(0.6), CheckSent()):
        node = react(node, event).node
    assert react(node, TimePasses(0.4)).node.state is NodeState.SECOND_CHECK


@pytest.mark.parametrize("response", [True, False])
@pytest.mark.parametrize("done", [2, 4])
def test_a_taken_address_faults_the_newcomer(response: bool, done: int) -> None:
    node = NEW
    for event in (PowerOn(), SelfTestDone(), CheckSent(), TimePasses(1.0))[:done]:
        node = react(node, event).node
    other = DuplicateCheck(2, 7, response=response).to_bytes()
    node = react(node, Received(0x42F, other)).node
    assert (node.state, node.fault) == (NodeState.FAULTED, Fault.DUPLICATE_ADDRESS)
    assert node.network_status is Indicator.RED
    assert react(node, Received(*CHECK)).frames == ()
    assert react(node, TimePasses(100.0)).node == node


def test_the_owner_answers_with_its_own_numbers_and_stays(polled: Node) -> None:
    reaction = react(polled, Received(0x42F, DuplicateCheck(2, 7).to_bytes()))
    assert reaction.node == polled
    assert [frame.pair for frame in reaction.frames] == [
        (0x42F, bytes.fromhex("80 01 00 44 33 22 11"))
    ]
    response = DuplicateCheck(2, 7, response=True).to_bytes()
    assert react(polled, Received(0x42F, response)).frames == ()


def test_two_nodes_of_one_address_on_one_bus() -> None:
    first = come_on_line(NEW).node
    second = replace(NEW, vendor=9, serial=42)
    second = react(second, PowerOn()).node
    asked = react(second, SelfTestDone())
    heard = react(first, Received(*asked.frames[0].pair))
    second = react(asked.node, CheckSent()).node
    second = react(second, Received(*heard.frames[0].pair)).node
    assert heard.node.network_status is Indicator.FLASHING_GREEN
    assert second.network_status is Indicator.RED


def test_other_addresses_do_not_concern_it(online: Node) -> None:
    check = DuplicateCheck(2, 7).to_bytes()
    assert react(online, Received(0x437, check)).frames == ()
    assert react(online, Received(0x7F1, b"")).node == online
    assert react(online, Received(0x42F, b"short")).node == online


def test_allocation_and_packet_rate_bring_it_to_io(online: Node) -> None:
    node, response = answer(online, allocate_request(0x02, 0), unconnected=True)
    assert (response.service, response.data) == (0x4B, b"\x00")
    assert node.state is NodeState.ALLOCATED
    assert node.network_status is Indicator.FLASHING_GREEN  # poll connection only configured
    node, _ = answer(node, allocate_request(0x01, 0), unconnected=True)
    assert node.network_status is Indicator.GREEN  # explicit connection established at once
    poll = poll_exchange(5, b"\x01\x02", b"")[0]
    assert react(node, Received(*poll.pair)).frames == ()
    node, response = answer(node, packet_rate_request(Allocation.POLL, 75))
    assert (response.service, response.data) == (0x10, b"\x4b\x00")
    assert [f.pair for f in react(node, Received(*poll.pair)).frames] == [(0x3C5, b"\x03")]


def test_poll_connection_times_out_after_four_packet_rates(polled: Node) -> None:
    poll = poll_exchange(5, b"\x01\x02", b"")[0]
    node = react(polled, TimePasses(0.399)).node
    assert node.network_status is Indicator.GREEN
    node = react(node, Received(*poll.pair)).node
    node = react(node, TimePasses(0.399)).node
    assert node.network_status is Indicator.GREEN
    reaction = react(node, TimePasses(0.001))
    node = reaction.node
    assert (node.state, node.network_status) == (NodeState.TIMED_OUT, Indicator.FLASHING_RED)
    assert reaction.said == ("its poll connection times out",)
    assert react(node, Received(*poll.pair)).frames == ()
    # State attribute of a connection: 4 timed out (from memory of IEC 62026-3).
    _, response = answer(node, ExplicitRequest.get_attribute(5, 2, 1))
    assert response.data == b"\x04"
    _, response = answer(node, packet_rate_request(Allocation.POLL, 100))
    assert response.error_codes == (GeneralError.OBJECT_STATE_CONFLICT, 0xFF)


@pytest.mark.parametrize("fresh", ["release", "allocate"])
def test_a_timed_out_connection_is_made_anew(polled: Node, fresh: str) -> None:
    node = react(polled, TimePasses(0.4)).node
    if fresh == "release":
        node, response = answer(node, release_request(0x03), unconnected=True)
        assert response.error_codes is None
        assert (node.state, node.master) == (NodeState.ON_LINE, None)
    node, response = answer(node, allocate_request(0x02, 0), unconnected=True)
    assert response.error_codes is None
    assert node.state is NodeState.ALLOCATED


def test_explicit_connection_alone_times_out_and_is_gone(online: Node) -> None:
    node, _ = answer(online, allocate_request(0x01, 0), unconnected=True)
    assert react(node, TimePasses(9.9)).node.network_status is Indicator.GREEN
    node = react(node, TimePasses(10.0)).node
    assert (node.state, node.network_status) == (NodeState.ON_LINE, Indicator.FLASHING_GREEN)


def test_a_packet_rate_of_zero_never_times_out(polled: Node) -> None:
    node, _ = answer(polled, packet_rate_request(Allocation.POLL, 0))
    node = react(node, TimePasses(1e6)).node
    assert node.network_status is Indicator.GREEN


@pytest.mark.parametrize(
    ("body", "master", "codes"),
    [
        (allocate_request(0x03, 7), 7, (0x0C, 0x01)),  # another master has it
        (allocate_request(0x02, 0), 0, (0x0B, 0x02)),  # it has that connection already
        (allocate_request(0x03, 7), 0, (0x09, 0x02)),  # sender and allocator differ
        (ExplicitRequest(0x4B, 3, 1, b"\x31\x00"), 0, (0x09, 0x02)),
        (ExplicitRequest(0x4B, 3, 1, b"\x03"), 0, (0x13, 0xFF)),
        (ExplicitRequest(0x4B, 3, 1, b"\x03\x00\x00"), 0, (0x15, 0xFF)),
        (ExplicitRequest(0x4B, 3, 2, b"\x03\x00"), 0, (0x16, 0xFF)),
        (release_request(0x03), 7, (0x0C, 0x01)),
        (release_request(0x04), 0, (0x0B, 0xFF)),
        (ExplicitRequest(0x4C, 3, 1, b""), 0, (0x13, 0xFF)),
        (ExplicitRequest(0x0E, 3, 1, b"\x01"), 0, (0x08, 0xFF)),  # needs a connection
    ],
)
def test_refused_unconnected_requests(
    polled: Node, body: ExplicitRequest, master: int, codes: tuple[int, int]
) -> None:
    node, response = answer(polled, body, master, unconnected=True)
    assert response.error_codes == codes
    assert node == polled


def test_a_connection_that_the_device_lacks_is_refused(online: Node) -> None:
    node = replace(online, allowed=Allocation.EXPLICIT | Allocation.POLL)
    _, response = answer(node, allocate_request(0x05, 0), unconnected=True)
    assert response.error_codes == (0x02, 0x02)


@pytest.mark.parametrize(
    ("body", "data"),
    [
        (ExplicitRequest.get_attribute(1, 1, 1), "01 00"),
        (ExplicitRequest.get_attribute(1, 1, 6), "44 33 22 11"),
        (ExplicitRequest.get_attribute(3, 1, 1), "05"),
        (ExplicitRequest.get_attribute(5, 2, 9), "64 00"),
        (ExplicitRequest.get_attribute(5, 2, 1), "03"),
        (ExplicitRequest.get_attribute(1, 1, 99), (0x14, 0xFF)),
        (ExplicitRequest.get_attribute(9, 1, 1), (0x16, 0xFF)),
        (ExplicitRequest(0x0E, 1, 1), (0x13, 0xFF)),
        (ExplicitRequest.set_attribute(1, 1, 6, b"\1"), (0x0E, 0xFF)),
        (ExplicitRequest.set_attribute(5, 3, 9, b"\1\0"), (0x16, 0xFF)),
        (ExplicitRequest.set_attribute(5, 2, 7, b"\1\0"), (0x0E, 0xFF)),
        (ExplicitRequest.set_attribute(5, 2, 9, b"\1"), (0x13, 0xFF)),
        (ExplicitRequest.set_attribute(5, 2, 9, b"\1\0\0"), (0x15, 0xFF)),
        (ExplicitRequest(0x32, 1, 1), (0x08, 0xFF)),
    ],
)
def test_connected_requests(polled: Node, body: ExplicitRequest, data: str) -> None:
    _, response = answer(polled, body)
    if isinstance(data, str):
        assert response.data == bytes.fromhex(data)
        assert response.service == body.service
    else:
        assert response.error_codes == data


def test_an_io_connection_tells_its_sizes_and_the_explicit_one_has_none(polled: Node) -> None:
    # Attributes 7 and 8 of a connection: produced and consumed size (from memory of IEC 62026-3).
    sized = replace(polled, inputs=bytes(3), output_bytes=2)
    for attribute, size in ((7, "03 00"), (8, "02 00")):
        request = ExplicitRequest.get_attribute(5, 2, attribute)
        assert answer(sized, request)[1].data == bytes.fromhex(size)
        frame = request_frames(request, 5, 0)[0]
        assert react(sized, Received(*frame.pair)).said == ("it tells an attribute",)
        _, refused = answer(sized, ExplicitRequest.get_attribute(5, 1, attribute))
        assert refused.error_codes == (0x14, 0xFF)


def test_the_transaction_id_comes_back(polled: Node) -> None:
    data = bytes([0x40]) + ExplicitRequest.get_attribute(3, 1, 1).to_bytes()
    assert react(polled, Received(0x42C, data)).frames[0].data.hex(" ") == "40 8e 05"


def test_only_the_master_is_served_over_the_connection(polled: Node) -> None:
    for frame in request_frames(ExplicitRequest.get_attribute(3, 1, 1), 5, 7):
        assert react(polled, Received(*frame.pair)).frames == ()


def test_a_fragmented_request_is_turned_down_with_an_acknowledge(polled: Node) -> None:
    first = explicit_frames(0, bytes(9))[0]
    reaction = react(polled, Received(0x42C, first))
    assert [f.pair for f in reaction.frames] == [(0x42B, bytes.fromhex("80 C0 01"))]


def test_reset_takes_it_back_to_the_self_test(polled: Node) -> None:
    node, response = answer(polled, ExplicitRequest.reset())
    assert response.service == 0x05
    assert node.state is NodeState.SELF_TEST


def test_long_outputs_are_answered_once_at_the_last_fragment(polled: Node) -> None:
    node = replace(polled, output_bytes=20, inputs=bytes(9))
    command = poll_exchange(5, bytes(20), b"")[:3]
    counts = [len(react(node, Received(*frame.pair)).frames) for frame in command]
    assert counts == [0, 0, 2]


def test_strobe_of_its_master_only(online: Node) -> None:
    node = told(online, *allocation_requests(5, 2, {ConnectionKind.BIT_STROBE: 100}))
    right, wrong = strobe_exchange(2, {}, {})[0], strobe_exchange(3, {}, {})[0]
    assert [f.pair for f in react(node, Received(*right.pair)).frames] == [(0x385, b"\x03")]
    assert react(node, Received(*wrong.pair)).frames == ()
    assert react(node, Received(0x410, bytes(7))).frames == ()
    unset = told(online, *allocation_requests(5, 2, {ConnectionKind.BIT_STROBE: 100})[:1])
    assert react(unset, Received(*right.pair)).frames == ()


def test_whatever_it_sends_is_not_from_the_master(polled: Node) -> None:
    poll = poll_exchange(5, b"\x01\x02", b"")[0]
    ask = request_frames(ExplicitRequest.get_attribute(3, 1, 1), 5, 0)[0]
    for heard in (poll, ask):
        assert heard.from_master
        assert [each.from_master for each in react(polled, Received(*heard.pair)).frames] == [False]


def test_change_of_state_reports_a_change_once(online: Node) -> None:
    node = told(online, *allocation_requests(5, 0, {ConnectionKind.CHANGE_OF_STATE: 250}))
    reaction = react(node, InputsChange(b"\x07"))
    assert [f.pair for f in reaction.frames] == [(0x345, b"\x07")]
    assert react(reaction.node, InputsChange(b"\x07")).frames == ()
    quiet = react(reaction.node, TimePasses(0.9)).node
    quiet = react(quiet, Received(0x42A, b"")).node  # master's acknowledge keeps it alive
    assert react(quiet, TimePasses(0.9)).node.network_status is Indicator.GREEN
    assert react(online, InputsChange(b"\x07")).frames == ()


def test_bus_off_and_power(polled: Node) -> None:
    node = react(polled, BusOff()).node
    assert (node.fault, node.network_status) == (Fault.BUS_OFF, Indicator.RED)
    assert react(node, PowerOn()).node == node
    node = react(node, PowerOff()).node
    assert (node.network_status, node.module_status) == (Indicator.OFF, Indicator.OFF)
    assert react(node, BusOff()).node == node
    assert come_on_line(node).node.state is NodeState.ON_LINE


def test_a_failed_self_test_leaves_the_network_dark() -> None:
    node = react(react(NEW, PowerOn()).node, SelfTestDone(passed=False)).node
    assert (node.network_status, node.module_status) == (Indicator.OFF, Indicator.RED)


@pytest.mark.parametrize(
    ("health", "look"),
    [
        # Module status indicator, from memory of IEC 62026-3.
        (Health.WORKING, Indicator.GREEN),
        (Health.NEEDS_COMMISSIONING, Indicator.FLASHING_GREEN),
        (Health.RECOVERABLE_FAULT, Indicator.FLASHING_RED),
        (Health.UNRECOVERABLE_FAULT, Indicator.RED),
    ],
)
def test_module_status(online: Node, health: Health, look: Indicator) -> None:
    assert replace(online, health=health).module_status is look


EVENTS = st.one_of(
    st.sampled_from([PowerOn(), PowerOff(), SelfTestDone(), CheckSent(), BusOff()]),
    st.builds(TimePasses, st.floats(0, 20)),
    st.builds(
        Received,
        st.sampled_from([0x400, 0x42A, 0x42C, 0x42D, 0x42E, 0x42F, 0x345, 0x7F0]),
        st.one_of(
            st.binary(max_size=8),
            st.sampled_from(
                [
                    frame.data
                    for kind in ConnectionKind
                    for frame in allocation_requests(5, 0, {kind: 50})
                ]
            ),
        ),
    ),
    st.builds(InputsChange, st.binary(max_size=12)),
)


@settings(deadline=None, max_examples=300)
@given(st.lists(EVENTS, max_size=40))
def test_no_row_of_events_breaks_it(events: list[Event]) -> None:
    node = NEW
    for event in events:
        before = node
        reaction = react(node, event)
        node = reaction.node
        assert node.network_status in NETWORK_MEANING
        assert node.module_status in MODULE_MEANING
        assert bool(node.links) == (node.state in (NodeState.ALLOCATED, NodeState.TIMED_OUT))
        assert (node.master is not None) == bool(node.links)
        assert react(before, event) == reaction
        assert not (reaction.frames and node.state in (NodeState.OFF, NodeState.FAULTED))


@pytest.mark.parametrize(
    "bad",
    [
        lambda: Node(64, 1, 1),
        lambda: Node(5, -1, 1),
        lambda: Node(5, 1, 2**32),
        lambda: Node(5, 1, 1, inputs="3"),  # type: ignore[arg-type]
        lambda: Node(5, 1, 1, state=NodeState.FAULTED),
        lambda: Node(5, 1, 1, fault=Fault.BUS_OFF),
        lambda: TimePasses(-1.0),
        lambda: TimePasses(float("nan")),
        lambda: TimePasses(True),
        lambda: Received(2048, b""),
        lambda: Received(1, bytes(9)),
        lambda: InputsChange(7),  # type: ignore[arg-type]
        lambda: react(NEW, "power on"),  # type: ignore[arg-type]
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
