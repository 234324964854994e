"""PDO mapping and records, the order of their steps, load and responses of a set of PDOs."""

from dataclasses import replace

import pytest
from canopen_devices import NODE, device
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.can import Message, MessageSet
from labkit.fieldbus.canopen import (
    Abort,
    AbortCode,
    Device,
    Direction,
    MappedObject,
    Multiplexor,
    PdoMapping,
    PdoSettings,
    PdoTraffic,
    SdoWrite,
    StartWrite,
    Traffic,
    check_mapping_length,
    mappable,
    mapping_steps,
    pdo_of,
    read_identifier_word,
    record_of,
)

STATUS = 0x60410010
SPEED = 0x20000010
PDO = PdoSettings.predefined(Direction.TRANSMIT, 1, NODE)
OFF, ON = 0xC0000185, 0x40000185


@given(st.integers(0, 0xFFFF_FFFF))
def test_any_word_is_a_mapped_object_or_refused(word: int) -> None:
    try:
        assert MappedObject.from_word(word).to_word() == word
    except PlanError:
        assert word & 0xFF == 0


@given(st.lists(st.integers(1, 32), max_size=6), st.data())
def test_values_come_back_out_of_a_pdo(lengths: list[int], data: st.DataObject) -> None:
    objects = tuple(MappedObject(Multiplexor(0x2000, at), bits) for at, bits in enumerate(lengths))
    if sum(lengths) > 64:
        with pytest.raises(PlanError, match="a PDO carries 64"):
            PdoMapping(objects)
        assert not check_mapping_length(objects).ok
        return
    mapping = PdoMapping(objects)
    values = tuple(data.draw(st.integers(0, 2**bits - 1)) for bits in lengths)
    assert mapping.unpack(mapping.pack(values)) == values
    assert PdoMapping.from_words(mapping.words) == mapping


def test_objects_follow_each_other_without_gaps() -> None:
    mapping = PdoMapping.from_words([0x20000001, 0x20010007, 0x20020010])
    assert mapping.pack([1, 0x40, 0x1234]) == bytes([0x81, 0x34, 0x12])
    with pytest.raises(PlanError, match="0x8210"):
        mapping.unpack(b"12")
    assert mapping.unpack(bytes([0x81, 0x34, 0x12, 0xFF])) == (1, 0x40, 0x1234)


@given(st.integers(0, 0x7FF), st.booleans(), st.booleans())
def test_the_identifier_word_comes_back(identifier: int, used: bool, remote: bool) -> None:
    settings = PdoSettings(Direction.RECEIVE, 1, identifier, used, remote)
    assert read_identifier_word(settings.identifier_word) == (identifier, used, remote)


def test_records() -> None:
    assert record_of(0x1400) == (Direction.RECEIVE, 1, False)
    assert record_of(0x1BFF) == (Direction.TRANSMIT, 512, True)
    assert record_of(0x1C00) is None
    assert Direction.RECEIVE.mapping(3) == 0x1602
    assert PDO.words == ("transmit PDO 1 on 0x185, by an event that the device profile defines")


def take(there: Device, index: int, subindex: int, value: int, size: int) -> int | Device:
    """The device after a write, or the code with which it refuses."""
    data = value.to_bytes(size, "little")
    reply, after = there.answer(StartWrite(Multiplexor(index, subindex), data, size).to_bytes())
    return reply.code if isinstance(reply, Abort) else after


def taken(there: Device, *writes: tuple[int, int, int, int]) -> Device:
    for write in writes:
        after = take(there, *write)
        assert isinstance(after, Device), f"{write} refused with 0x{after:08X}"
        there = after
    return there


def carry_out(there: Device, steps: tuple[SdoWrite, ...]) -> Device:
    """The device after all steps, those that it refuses left out."""
    for step in steps:
        after = take(there, step.at.index, step.at.subindex, step.value, len(step.data))
        there = after if isinstance(after, Device) else there
    return there


@given(st.permutations(range(6)))
def test_no_order_but_the_right_one_sets_up_a_pdo(order: list[int]) -> None:
    settings = replace(PDO, transmission_type=1)
    mapping = PdoMapping.from_words([SPEED])
    steps = mapping_steps(settings, mapping)
    after = pdo_of(carry_out(device(), tuple(steps[at] for at in order)), Direction.TRANSMIT, 1)
    off, back, entry, count, kind, on = (order.index(at) for at in range(6))
    right = off < back < entry < count < on and off < kind < on
    assert (after == (settings, mapping)) is right


def test_the_steps_leave_the_pdo_as_it_was_to_be() -> None:
    settings = PdoSettings(
        Direction.TRANSMIT, 1, 0x1A5, True, False, 254, inhibit_100us=100, event_timer_ms=500
    )
    mapping = PdoMapping.from_words([STATUS, SPEED])
    there = device()
    for step in mapping_steps(settings, mapping):
        there = taken(there, (step.at.index, step.at.subindex, step.value, len(step.data)))
    assert pdo_of(there, Direction.TRANSMIT, 1) == (settings, mapping)
    assert settings.words == (
        "transmit PDO 1 on 0x1A5, by an event that the maker defines, no sooner than 10 ms after "
        "the last, no later than 500 ms after the last"
    )


def test_a_mapping_in_use_is_not_changed() -> None:
    assert take(device(), 0x1A00, 0, 0, 1) == AbortCode.NOT_IN_THIS_STATE
    assert take(device(), 0x1800, 3, 100, 2) == AbortCode.NOT_IN_THIS_STATE
    assert take(device(), 0x1800, 1, 0x40000186, 4) == AbortCode.NOT_IN_THIS_STATE
    switched_off = taken(device(), (0x1800, 1, OFF, 4))
    assert take(switched_off, 0x1A00, 1, SPEED, 4) == AbortCode.NOT_IN_THIS_STATE


@pytest.mark.parametrize(
    ("word", "code"),
    [
        (0x70000010, AbortCode.NO_OBJECT),
        (0x10180910, AbortCode.NO_SUBINDEX),
        (0x10170010, AbortCode.CANNOT_BE_MAPPED),
        (0x20000020, AbortCode.CANNOT_BE_MAPPED),
        (0x20000000, AbortCode.CANNOT_BE_MAPPED),
        (0x00050008, None),
    ],
)
def test_what_cannot_be_mapped(word: int, code: AbortCode | None) -> None:
    there = taken(device(), (0x1800, 1, OFF, 4), (0x1A00, 0, 0, 1))
    after = take(there, 0x1A00, 1, word, 4)
    assert isinstance(after, Device) if code is None else after == code
    if word & 0xFF:
        mapped = MappedObject.from_word(word)
        assert (mappable(mapped, there.dictionary) is None) is (code is None)


def test_a_mapping_longer_than_a_frame_is_refused_at_its_number() -> None:
    there = taken(device(), (0x1800, 1, OFF, 4), (0x1A00, 0, 0, 1))
    there = taken(there, *[(0x1A00, at, SPEED, 4) for at in (1, 2, 3, 4)])
    assert isinstance(take(there, 0x1A00, 0, 4, 1), Device)
    assert take(there, 0x1A00, 0, 5, 1) == AbortCode.OUT_OF_RANGE


def test_restricted_identifiers_and_reserved_types_are_refused() -> None:
    there = taken(device(), (0x1800, 1, OFF, 4))
    assert take(there, 0x1800, 1, 0x40000601, 4) == AbortCode.OUT_OF_RANGE
    assert take(there, 0x1800, 1, 0x20010185, 4) == AbortCode.OUT_OF_RANGE
    assert take(there, 0x1800, 2, 245, 1) == AbortCode.OUT_OF_RANGE
    assert isinstance(take(there, 0x1800, 1, ON, 4), Device)


def pdo(name: str, identifier: int, kind: int, **more: float | bool) -> PdoTraffic:
    times = {key: more.pop(key) for key in ("inhibit_100us", "event_timer_ms") if key in more}
    settings = PdoSettings(
        Direction.TRANSMIT,
        1,
        identifier,
        transmission_type=kind,
        **times,  # type: ignore[arg-type]
    )
    return PdoTraffic(name, settings, 8, **more)  # type: ignore[arg-type]


def test_a_set_of_pdos_is_a_set_of_messages() -> None:
    gate = pdo("gate", 0x183, 255, inhibit_100us=200)
    pdos = (pdo("drive", 0x181, 1), pdo("scale", 0x182, 4), gate)
    traffic = Traffic(250, pdos, 10, {5: 500})
    expected = MessageSet.of(
        250,
        [
            Message("SYNC", 0x80, 10, 0),
            Message("drive", 0x181, 10),
            Message("scale", 0x182, 40),
            Message("gate", 0x183, 20),
            Message("heartbeat of node 5", 0x705, 500, 1),
        ],
    )
    assert traffic.messages == expected
    assert traffic.load == expected.utilisation
    worst = traffic.messages.response("gate").worst_ms
    # 65 bits of heartbeat, then 55 of SYNC and 3 PDOs of 135, at 4 µs each.
    assert worst == pytest.approx((65 + 55 + 3 * 135) * 0.004)


def test_how_often_a_pdo_may_go_out() -> None:
    assert pdo("a", 1, 255, inhibit_100us=50, changes_ms=20.0).least_period_ms(None) == 20
    with_timer = pdo("a", 1, 255, inhibit_100us=50, event_timer_ms=100, changes_ms=20.0)
    assert with_timer.least_period_ms(None) == 5
    timer_only = pdo("a", 1, 255, event_timer_ms=100, by_timer_only=True)
    assert timer_only.least_period_ms(None) == 100
    for wrong, said in (
        (pdo("a", 1, 255), "nothing keeps it from filling the bus"),
        (pdo("a", 1, 255, event_timer_ms=100), "nothing keeps it from filling the bus"),
        (pdo("a", 1, 1), "no SYNC is made"),
        (pdo("a", 1, 253), "nobody knows how often"),
        (pdo("a", 1, 255, by_timer_only=True), "timer, which is off"),
    ):
        with pytest.raises(PlanError, match=said):
            wrong.least_period_ms(None)


def test_two_pdos_with_one_identifier_are_said() -> None:
    traffic = Traffic(250, (pdo("a", 0x181, 1), pdo("b", 0x181, 1)), 10)
    with pytest.raises(PlanError, match="a and b share the identifier 0x181"):
        _ = traffic.messages


def test_the_synchronous_window() -> None:
    traffic = Traffic(250, (pdo("a", 0x181, 1), pdo("b", 0x182, 1)), 10, {5: 500})
    rule = traffic.check_sync_window(1500)
    assert rule.value == pytest.approx((65 + 55 + 2 * 135) * 4)
    assert not rule.ok
    assert traffic.check_sync_window(1560).ok
    with pytest.raises(PlanError, match="No SYNC is made"):
        Traffic(250, (), None, {5: 500}).check_sync_window(1000)
