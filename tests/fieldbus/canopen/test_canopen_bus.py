"""Lengths, cable, propagation, node-IDs, identifiers: rules on invented plans."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.canopen import (
    Bus,
    BusNode,
    CobId,
    CommunicationObject,
    cable_class,
    check_bus,
    check_cable,
    check_lengths,
    check_node_ids,
    check_note,
    check_reach,
    check_senders,
    check_terminators,
    complete_node_ids,
    fastest_rate,
    load_ohm,
    longest_by_cable_m,
    predefined_set,
    rate_limits,
    restricted_to,
)


def test_stubs_are_held_against_both_limits() -> None:
    stubs = [(f"valve {at}", 5.0) for at in range(6)]
    rules = check_lengths(500, 100, stubs)
    assert [rule.rule for rule in rules if not rule.ok] == ["stubs together"]
    assert rules[-1].value == 30
    assert fastest_rate(100, stubs).bit_rate_kbps == 250


def test_a_bus_beyond_every_rate_is_said() -> None:
    with pytest.raises(PlanError, match="Even 10 kbit/s allows no more than 5000 m"):
        fastest_rate(5001)
    with pytest.raises(PlanError, match="300 kbit/s is no recommended bit rate"):
        rate_limits(300)
    with pytest.raises(PlanError, match="A stub is a"):
        check_lengths(500, 10, ["valve"])  # type: ignore[list-item]


def test_cable_by_length() -> None:
    assert [cable_class(metres).up_to_m for metres in (40, 41, 300, 601)] == [40, 300, 300, 1000]
    assert [rule.ok for rule in check_cable(200, 62, 0.5)] == [False, True]
    with pytest.raises(PlanError, match="the table ends at 1000 m"):
        cable_class(1001)


def test_more_nodes_and_thinner_wire_shorten_the_bus() -> None:
    assert load_ohm(2) == pytest.approx(1 / (1 / 118 + 1 / 20_000))
    assert longest_by_cable_m(50, 16) > longest_by_cable_m(50, 64) > longest_by_cable_m(90, 64)
    assert check_reach(310, 50, 64).ok
    assert not check_reach(320, 50, 64).ok


def test_the_note_has_no_delay_for_slow_buses() -> None:
    with pytest.raises(PlanError, match="no delay at 50 kbit/s"):
        check_note(50, 100)
    assert check_note(1000, 25, 0.875).limit == 875


def test_node_ids() -> None:
    plan = [("drive", 5), ("encoder", 5), ("valve", 0), ("gate", None), ("lamp", 127)]
    kinds = [problem.kind for problem in check_node_ids(plan)]
    assert kinds == ["out of range", "missing", "duplicate"]
    mended = complete_node_ids(plan, keep_free=[1])
    assert mended.addresses == (
        ("drive", 5),
        ("encoder", 2),
        ("valve", 3),
        ("gate", 4),
        ("lamp", 127),
    )


@given(st.integers(0, 0x7FF))
def test_every_identifier_is_read_back_or_refused(value: int) -> None:
    try:
        cob_id = CobId.from_value(value)
    except PlanError:
        known = {each.value for node in range(1, 128) for each in predefined_set(node)}
        assert value not in known | {0, 0x80, 0x100}
        return
    assert cob_id.value == value
    assert cob_id.function_code == value >> 7


def test_no_two_nodes_share_an_identifier_of_the_predefined_set() -> None:
    values = [each.value for node in range(1, 128) for each in predefined_set(node)]
    assert len(set(values)) == len(values) == 127 * 12


def test_a_moved_pdo_that_hits_a_neighbour() -> None:
    found = check_senders([("drive, PDO 1", 0x181), ("encoder, PDO 1", 0x181), ("x", 0x601)])
    assert [problem.kind for problem in found] == ["shared", "restricted"]
    assert found[0].sentence == (
        "drive, PDO 1 and encoder, PDO 1 send on 0x181: their frames collide; give each its own."
    )
    assert restricted_to(0x6E0) is not None
    assert restricted_to(0x181) is None


def test_who_sends() -> None:
    senders = [each.name for each in CommunicationObject if each.sent_by_node]
    assert senders == ["EMCY", "TPDO1", "TPDO2", "TPDO3", "TPDO4", "SDO_REPLY", "ERROR_CONTROL"]
    with pytest.raises(PlanError, match="leave the node out"):
        CobId(CommunicationObject.SYNC, 3)


def planned(*terminators: float, cable: float | None = 60) -> Bus:
    nodes = (BusNode("scale", 40, 6, 12), BusNode("drive", 0, 0, 5))
    section = None if cable is None else 0.34
    return Bus(80, 500, nodes, terminators, cable, section)


def test_a_planned_bus_and_its_broken_rules() -> None:
    bus = planned(0, 80)
    assert bus.node_ids == (("drive", 5), ("scale", 12))
    assert bus.stubs == (("scale", 6),)
    broken = [(rule.rule, rule.where) for rule in check_bus(bus) if not rule.ok]
    assert broken == [("length of a stub", "scale")]
    assert len(check_bus(bus)) - len(check_bus(planned(0, 80, cable=None))) == 3


@pytest.mark.parametrize(
    ("places", "broken"),
    [
        ((0, 80), []),
        ((0,), ["terminator missing at the end"]),
        ((0, 0, 80), ["terminators doubled at the end"]),
        ((0, 30), ["terminator missing at the end", "terminators between the ends"]),
    ],
)
def test_terminators_stand_at_both_ends_and_nowhere_else(
    places: tuple[float, ...], broken: list[str]
) -> None:
    assert [rule.rule for rule in check_terminators(planned(*places)) if not rule.ok] == broken


def test_a_bus_that_cannot_be_is_refused() -> None:
    with pytest.raises(PlanError, match="drive at 90 m lies beyond the bus, which is 80 m long"):
        Bus(80, 500, (BusNode("drive", 90),))
    with pytest.raises(PlanError, match="Two nodes are called 'drive'"):
        Bus(80, 500, (BusNode("drive", 0), BusNode("drive", 1)))
    with pytest.raises(PlanError, match="go together; give both"):
        Bus(80, 500, milliohm_per_m=60)
    with pytest.raises(PlanError, match="The node-ID of drive is 128"):
        BusNode("drive", 0, node_id=128)
