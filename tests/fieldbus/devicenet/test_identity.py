"""Who a device is: what it answers, what may stand in for it, and its data sheet.

Attribute numbers: public device manuals (reference page). Their lengths, the refusals, and how a
node takes another address: from memory of IEC 62026-3 and the CIP common specification. The data
sheet's form is our own; the standard library's INI reader reads it back.
"""

from configparser import ConfigParser
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.connections import Allocation, ConnectionKind, request_frames
from labkit.fieldbus.devicenet.device_sheet import DeviceSheet, Sizes
from labkit.fieldbus.devicenet.identity import PRODUCT_KEYS, Identity, IdentityKey
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.messages import DuplicateCheck, ExplicitRequest
from labkit.fieldbus.devicenet.node import EXPLICIT_LINK, Link, Node, NodeState, Reaction
from labkit.fieldbus.devicenet.startup import CheckSent, Received, TimePasses, react
from labkit.fieldbus.errors import PlanError

PLANNED = Identity(412, 7, 1047, (2, 4), 0x01020304)
POLL, STROBE, CYCLIC = ConnectionKind.POLL, ConnectionKind.BIT_STROBE, ConnectionKind.CYCLIC
BITS = st.integers(0, 255 * 8)

identities = st.builds(
    Identity,
    st.integers(0, 0xFFFF),
    st.integers(0, 0xFFFF),
    st.integers(0, 0xFFFF),
    st.tuples(st.integers(1, 127), st.integers(1, 255)),
)


def test_attributes_stand_low_byte_first_and_the_revision_major_first() -> None:
    held = {number: value.hex(" ") for number, value in PLANNED.attributes.items()}
    assert held == {1: "9c 01", 2: "07 00", 3: "17 04", 4: "02 04", 6: "04 03 02 01"}


@pytest.mark.parametrize(
    ("attribute", "answer"),
    [(1, "00 8e 9c 01"), (2, "00 8e 07 00"), (3, "00 8e 17 04"), (7, "00 94 14 ff")],
)
def test_a_device_answers_its_master_with_them(attribute: int, answer: str) -> None:
    node = replace(
        Node(5, 412, 0x01020304, device_type=7, product_code=1047),
        state=NodeState.ALLOCATED,
        master=0,
        links=(EXPLICIT_LINK,),
    )
    [asked] = request_frames(ExplicitRequest.get_attribute(1, 1, attribute), 5, 0)
    [said] = react(node, Received(*asked.pair)).frames
    assert (said.identifier.value, said.data.hex(" ")) == (0x42B, answer)


@pytest.mark.parametrize(
    ("changed", "wrong"),
    [
        ({}, ()),
        ({"serial": 9}, ()),
        ({"vendor": 413}, (IdentityKey.VENDOR,)),
        ({"device_type": 8}, (IdentityKey.DEVICE_TYPE,)),
        ({"product_code": 5892}, (IdentityKey.PRODUCT_CODE,)),
        ({"vendor": 1, "product_code": 2}, (IdentityKey.VENDOR, IdentityKey.PRODUCT_CODE)),
        ({"revision": (3, 4)}, (IdentityKey.REVISION,)),
        ({"revision": (1, 9)}, (IdentityKey.REVISION,)),
        ({"revision": (2, 3)}, (IdentityKey.REVISION,)),
        ({"revision": (2, 5)}, ()),
    ],
)
def test_what_keeps_a_device_from_another_ones_place(
    changed: dict[str, object], wrong: tuple[IdentityKey, ...]
) -> None:
    found = replace(PLANNED, **changed)  # type: ignore[arg-type]
    assert found.differs_from(PLANNED, tuple(IdentityKey)) == wrong
    assert found.differs_from(PLANNED) == tuple(key for key in wrong if key in PRODUCT_KEYS)
    assert found.differs_from(PLANNED, ()) == ()


@given(identities, identities)
def test_a_product_takes_the_place_of_its_own_kind_alone(one: Identity, other: Identity) -> None:
    alike = all(one.attribute(n) == other.attribute(n) for n in (1, 2, 3))
    assert (one.differs_from(other) == ()) is alike
    assert one.differs_from(one, tuple(IdentityKey)) == ()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"vendor": 65536}, "The vendor id"),
        ({"product_code": -1}, "The product code"),
        ({"revision": (0, 1)}, "The major revision"),
        ({"revision": (1, 256)}, "The minor revision"),
    ],
)
def test_numbers_that_cannot_be_are_refused(wrong: dict[str, object], said: str) -> None:
    with pytest.raises(PlanError, match=said):
        replace(PLANNED, **wrong)  # type: ignore[arg-type]


def test_an_attribute_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(PlanError, match="no attribute 7 here; ask 1, 2, 3, 4, 6"):
        PLANNED.attribute(7)


@given(
    identities,
    st.dictionaries(st.sampled_from(ConnectionKind), st.builds(Sizes, BITS, BITS), min_size=1),
)
def test_a_sheet_is_read_back_by_a_reader_of_ini_files(
    identity: Identity, connections: dict[ConnectionKind, Sizes]
) -> None:
    reader = ConfigParser()
    reader.read_string(DeviceSheet("Alder valve block", identity, connections).to_text())
    device = reader["device"]
    assert device["name"] == "Alder valve block"
    numbers = (device["maker"], device["type"], device["code"])
    assert tuple(map(int, numbers)) == (
        identity.vendor,
        identity.device_type,
        identity.product_code,
    )
    assert tuple(map(int, device["revision"].split("."))) == identity.revision
    assert {*reader.sections()} == {"device", *(kind.value for kind in connections)}
    for kind, sizes in connections.items():
        section = reader[kind.value]
        found = (section.getint("input bits"), section.getint("output bits", fallback=0))
        assert found == (sizes.input_bits, sizes.output_bits)


def test_the_entry_counts_whole_bytes_of_the_connections_own_section() -> None:
    sheet = DeviceSheet(
        "valves", PLANNED, {POLL: Sizes(20, 12), STROBE: Sizes(8), CYCLIC: Sizes(9)}
    )
    polled, strobed = sheet.entry(5, POLL), sheet.entry(5, STROBE)
    assert (polled.input_bytes, polled.output_bytes, polled.interval_ms) == (3, 2, None)
    assert (strobed.input_bytes, strobed.output_bytes) == (1, 0)
    cyclic = sheet.entry(5, CYCLIC, 500.0)
    assert (cyclic.input_bytes, cyclic.interval_ms) == (2, 500.0)
    assert Allocation.of(cyclic.kind) is Allocation.CYCLIC
    with pytest.raises(PlanError, match="valves cannot do change of state; it can do poll, bit-st"):
        sheet.entry(5, ConnectionKind.CHANGE_OF_STATE)


def test_a_sheet_without_a_connection_is_refused() -> None:
    with pytest.raises(PlanError, match="names no connection"):
        DeviceSheet("valves", PLANNED, {})


def taken(*, by_message: bool) -> Node:
    """A new device at node 63 that the master has."""
    new = Node(63, 412, 9, inputs=b"\1", address_by_message=by_message)
    links = (EXPLICIT_LINK, Link(Allocation.POLL, 100))
    return replace(new, state=NodeState.ALLOCATED, master=0, links=links)


def told_to_move(node: Node, value: bytes) -> Reaction:
    [frame] = request_frames(ExplicitRequest.set_attribute(3, 1, 1, value), node.address, 0)
    return react(node, Received(*frame.pair))


def test_a_message_gives_a_node_its_address_and_it_checks_anew_there() -> None:
    reaction = told_to_move(taken(by_message=True), b"\x14")
    answer, check = reaction.frames
    assert (answer.identifier.value, answer.data.hex(" ")) == (0x400 | 63 << 3 | 3, "00 90 14")
    assert check.identifier.value == 0x400 | 20 << 3 | 7
    node = reaction.node
    assert (node.address, node.state, node.links, node.master) == (
        20,
        NodeState.FIRST_CHECK,
        (),
        None,
    )
    for event in (CheckSent(), TimePasses(1.0), CheckSent(), TimePasses(1.0)):
        node = react(node, event).node
    assert node.network_status is Indicator.FLASHING_GREEN


def test_at_a_new_address_that_somebody_has_it_turns_red() -> None:
    node = told_to_move(taken(by_message=True), b"\x14").node
    owner = Node(20, 900, 1, state=NodeState.ON_LINE)
    [answer] = react(owner, Received(0x4A7, DuplicateCheck(412, 9).to_bytes())).frames
    assert react(node, Received(*answer.pair)).node.network_status is Indicator.RED


@pytest.mark.parametrize(
    ("by_message", "value", "answer"),
    [
        (False, b"\x14", "00 94 0e ff"),
        (True, b"\x40", "00 94 09 ff"),
        (True, b"\x14\x00", "00 94 15 ff"),
    ],
)
def test_a_refusal_leaves_it_where_it_is(by_message: bool, value: bytes, answer: str) -> None:
    node = taken(by_message=by_message)
    reaction = told_to_move(node, value)
    assert [each.data.hex(" ") for each in reaction.frames] == [answer]
    assert (reaction.node.address, reaction.node.state) == (63, NodeState.ALLOCATED)
