"""Who sees an error in a transmission, and what it counts (ISO 11898-1; see the module)."""

from dataclasses import dataclass
from typing import Any

from labkit.bench.can.judging import (
    Sending,
    error_events,
    first_difference,
    hearing_groups,
    judge,
    leader_of,
)
from labkit.fieldbus.can.arbitration import arbitrate
from labkit.fieldbus.can.confinement import BusEvent
from labkit.fieldbus.can.frame import Frame

FRAME = Frame(0x100, b"\x01")


@dataclass
class Ear:
    index: int
    hears: frozenset[int]
    rate: int = 125
    active: bool = True


def all_hear(count: int, **changed: dict[str, Any]) -> list[Ear]:
    everyone = frozenset(range(count))
    return [Ear(at, everyone - {at}, **changed.get(f"ear{at}", {})) for at in range(count)]


def sent(index: int, frame: Frame = FRAME, rate: int = 125) -> Sending:
    return Sending(index, rate, frame)


def test_a_frame_that_all_can_read_is_right_for_all_but_its_sender() -> None:
    verdict = judge([sent(0)], True, all_hear(4), sent(0))
    assert (verdict.right, verdict.wrong, verdict.flags) == ((1, 2, 3), {}, frozenset())


def test_one_active_station_at_another_rate_spoils_the_frame_for_everybody() -> None:
    ears = all_hear(4, ear2={"rate": 500})
    verdict = judge([sent(0)], True, ears, sent(0))
    assert verdict.right == ()
    assert verdict.wrong == {2: True, 0: False, 1: False, 3: False}
    counted = {each.index: error_events(verdict, {0}, each) for each in ears}
    assert counted[0] == (BusEvent.TRANSMIT_ERROR,)
    assert counted[2] == (BusEvent.RECEIVE_ERROR, BusEvent.FIRST_TO_SEE_ERROR)
    assert counted[1] == counted[3] == (BusEvent.RECEIVE_ERROR,)


def test_a_passive_station_at_another_rate_spoils_nothing() -> None:
    ears = all_hear(4, ear2={"rate": 500, "active": False})
    verdict = judge([sent(0)], True, ears, sent(0))
    assert (verdict.right, verdict.wrong) == ((1, 3), {2: True})
    assert error_events(verdict, {0}, ears[2]) == (BusEvent.RECEIVE_ERROR,)


def test_who_hears_two_senders_that_do_not_hear_each_other_reads_neither() -> None:
    # a line 0 - 1 - 2 of which the ends do not hear each other; 3 hears the first only
    ears = [
        Ear(0, frozenset()),
        Ear(1, frozenset({0, 2}), active=False),
        Ear(2, frozenset()),
        Ear(3, frozenset({0})),
    ]
    both = [sent(0), sent(2, Frame(0x200))]
    verdict = judge(both, False, ears, both[0])
    assert (verdict.right, verdict.wrong) == ((3,), {1: True})


def test_a_flag_reaches_only_those_who_hear_it_and_is_passed_on() -> None:
    # 1 cannot read 0; 2 hears only 1; 3 hears only 2; 0 hears nobody
    ears = [
        Ear(0, frozenset()),
        Ear(1, frozenset({0}), rate=500),
        Ear(2, frozenset({1})),
        Ear(3, frozenset({2})),
        Ear(4, frozenset({0})),
    ]
    verdict = judge([sent(0)], True, ears, sent(0))
    assert verdict.wrong == {1: True, 2: False, 3: False}
    assert verdict.right == (4,)


def test_among_equal_identifiers_the_dominant_bit_leads_as_in_the_arbitration_bit_by_bit() -> None:
    one, other = Frame(0x40F, b"\x00\x55"), Frame(0x40F, b"\x00\x15")
    collision = arbitrate({"one": one, "other": other}).collision
    assert collision is not None
    leader = leader_of([sent(0, one), sent(1, other)])
    assert collision.names == (("one", "other")[1 - leader.index],)
    assert first_difference(one, other) == collision.bit
    verdict = judge([sent(0, one), sent(1, other)], True, all_hear(3), leader)
    assert verdict.wrong == {1 - leader.index: True, leader.index: False, 2: False}


def test_stations_that_hear_one_another_over_others_share_a_wire() -> None:
    # 0 hears 4, 4 hears 2, 2 hears 0; 1 hears 3; 5 is alone
    hears = [{4}, {3}, {0}, set(), {2}, set()]
    ears = [Ear(at, frozenset(each)) for at, each in enumerate(hears)]
    found = [[each.index for each in group] for group in hearing_groups(ears)]
    assert found == [[0, 2, 4], [1, 3], [5]]
    chain = [Ear(at, frozenset({at + 1}) if at < 5 else frozenset()) for at in range(6)]
    assert [len(group) for group in hearing_groups(chain)] == [6]
    assert [len(group) for group in hearing_groups(chain[::-1])] == [6]
