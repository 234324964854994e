"""Arbitration bit by bit."""

import pytest
from can_strategies import frames
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.arbitration import arbitrate, recessive_sender
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.wire import ARBITRATION_FIELDS, Field, decode, encode
from labkit.fieldbus.errors import PlanError

several = st.lists(frames(), min_size=1, max_size=6, unique_by=lambda frame: frame.priority)


def named(found: list[Frame]) -> dict[str, Frame]:
    return {f"node {place}": frame for place, frame in enumerate(found)}


@settings(deadline=None)
@given(several)
def test_winner_is_the_one_that_the_priority_key_names(found: list[Frame]) -> None:
    outcome = arbitrate(named(found))
    best = min(range(len(found)), key=lambda place: found[place].priority)
    assert outcome.winner == f"node {best}"
    assert outcome.collision is None
    assert outcome.bus == encode(found[best]).levels


@settings(deadline=None)
@given(st.lists(st.integers(0, 0x7FF), min_size=1, max_size=8, unique=True))
def test_lowest_identifier_wins_among_base_data_frames(identifiers: list[int]) -> None:
    outcome = arbitrate({str(number): Frame(number) for number in identifiers})
    assert outcome.winner == str(min(identifiers))


@settings(deadline=None)
@given(several)
def test_bus_is_the_wired_and_of_what_is_sent(found: list[Frame]) -> None:
    outcome = arbitrate(named(found))
    for place, level in enumerate(outcome.bus):
        sent = [row[place] for _, row in outcome.sent if place < len(row)]
        assert level == min(sent)
    assert decode(outcome.bus).frame in found


@settings(deadline=None)
@given(several)
def test_every_loser_drops_out_once_at_its_first_difference(found: list[Frame]) -> None:
    contenders = named(found)
    outcome = arbitrate(contenders)
    dropped = [dropout.name for dropout in outcome.dropouts]
    assert sorted([*dropped, *outcome.winners]) == sorted(contenders)
    for dropout in outcome.dropouts:
        own = encode(contenders[dropout.name]).bits
        assert own[dropout.bit].level == 1
        assert outcome.bus[dropout.bit] == 0
        assert own[dropout.bit].field is dropout.field
        assert dropout.field in ARBITRATION_FIELDS
        assert not own[dropout.bit].stuff
        assert tuple(bit.level for bit in own[: dropout.bit]) == outcome.bus[: dropout.bit]
        assert len(dict(outcome.sent)[dropout.name]) == dropout.bit + 1


# Worked by hand: 0x42F = 10000101111, 0x437 = 10000110111; they differ first in identifier bit 4.
# Wire: SOF, 1, 0000 (bits 2 to 5), 1: no run of five yet, so identifier bit 4 is wire bit 7.
def test_hand_worked_dropout() -> None:
    outcome = arbitrate({"node 5": Frame(0x42F), "node 6": Frame(0x437)})
    (dropout,) = outcome.dropouts
    assert (dropout.name, dropout.bit, dropout.identifier_bit) == ("node 6", 7, 4)
    assert "drops out at bit 7, identifier bit 4" in dropout.sentence
    assert outcome.sentences[-1].startswith("node 5 wins")


# 0x001 and 0x002: SOF and four identifier bits are five dominant ones, wire bit 5 is a stuff bit;
# identifier bits 6 to 2 are five more, wire bits 6 to 10, wire bit 11 is a stuff bit; identifier
# bit 1 is wire bit 12.
def test_hand_worked_dropout_behind_stuff_bits() -> None:
    outcome = arbitrate({"one": Frame(0x001), "two": Frame(0x002)})
    (dropout,) = outcome.dropouts
    assert (dropout.name, dropout.bit, dropout.identifier_bit) == ("two", 12, 1)


@pytest.mark.parametrize(
    ("winner", "loser", "field"),
    [
        (Frame(0x123), Frame.remote_request(0x123), Field.REMOTE_REQUEST),
        (Frame(0x123), Frame(0x123 << 18, extended=True), Field.SUBSTITUTE_REMOTE_REQUEST),
        (
            Frame.remote_request(0x123),
            Frame(0x123 << 18, extended=True),
            Field.IDENTIFIER_EXTENSION,
        ),
        (
            Frame(5, extended=True),
            Frame.remote_request(5, extended=True),
            Field.REMOTE_REQUEST,
        ),
        (Frame(4, extended=True), Frame(5, extended=True), Field.EXTENDED_IDENTIFIER),
    ],
)
def test_what_decides_behind_equal_leading_bits(winner: Frame, loser: Frame, field: Field) -> None:
    outcome = arbitrate({"loser": loser, "winner": winner})
    assert outcome.winner == "winner"
    assert outcome.dropouts[0].field is field


def test_same_identifier_with_other_data_collides() -> None:
    outcome = arbitrate({"a": Frame(0x123, b"\x01"), "b": Frame(0x123, b"\x03"), "c": Frame(0x124)})
    assert outcome.winners == ("a", "b")
    assert outcome.winner is None
    assert outcome.collision is not None
    assert outcome.collision.names == ("b",)
    assert outcome.collision.field is Field.DATA
    assert len(outcome.bus) == outcome.collision.bit + 1
    assert [dropout.name for dropout in outcome.dropouts] == ["c"]
    assert "all try again" in outcome.sentences[-1]


def test_same_identifier_with_another_length_collides_in_the_length_code() -> None:
    outcome = arbitrate({"a": Frame(0x123, b"\x01"), "b": Frame(0x123, b"\x01\x02")})
    assert outcome.collision is not None
    assert outcome.collision.field is Field.DATA_LENGTH
    assert outcome.collision.names == ("b",)


@settings(deadline=None)
@given(frames())
def test_frames_alike_go_through_as_one(frame: Frame) -> None:
    outcome = arbitrate({"a": frame, "b": frame})
    assert outcome.winners == ("a", "b")
    assert outcome.collision is None
    assert outcome.bus == encode(frame).levels
    assert recessive_sender(frame, frame) is None
    assert "nobody notices" in outcome.sentences[-1]


@settings(deadline=None)
@given(frames(), frames())
def test_recessive_sender_is_who_loses(one: Frame, other: Frame) -> None:
    loser = recessive_sender(one, other)
    outcome = arbitrate({"0": one, "1": other})
    if loser is None:
        assert one == other
    elif outcome.collision:
        assert outcome.collision.names == (str(loser),)
    else:
        assert outcome.dropouts[0].name == str(loser)


@pytest.mark.parametrize(
    "wrong", [{}, None, [], {"": Frame(1)}, {5: Frame(1)}, {"a": 5}, {"a": None}]
)
def test_refused_contenders(wrong: object) -> None:
    with pytest.raises(PlanError):
        arbitrate(wrong)  # type: ignore[arg-type]
