"""I/O maps: placing, overlaps, gaps, and every device bit found again."""

from collections.abc import Callable, Iterable
from itertools import permutations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from labkit.fieldbus.direct_address import (
    Addressing,
    Area,
    ByteOrder,
    DirectAddress,
    Numbering,
    Size,
)
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.iomap import (
    Alignment,
    DeviceBit,
    DeviceIo,
    IoMap,
    Layout,
    Overlap,
    Placement,
    place,
)

IN, OUT = Area.INPUT, Area.OUTPUT
LENGTHS = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=8)
ALIGNMENTS = st.sampled_from(Alignment)
LAYOUTS = st.sampled_from(Layout)
CELL = [
    DeviceIo("sensor block", 1, 0),
    DeviceIo("drive", 4, 4),
    DeviceIo("valve island", 2, 3),
]


def devices(lengths: Iterable[tuple[int, int]]) -> list[DeviceIo]:
    return [DeviceIo(f"device {at}", *each) for at, each in enumerate(lengths)]


def starts(io_map: IoMap, area: Area = IN) -> dict[str, int]:
    return {each.device: each.first_byte for each in io_map.in_area(area)}


@pytest.mark.parametrize(
    ("alignment", "layout", "inputs", "outputs"),
    [
        (
            Alignment.BYTE,
            Layout.IN_ORDER,
            {"sensor block": 0, "drive": 1, "valve island": 5},
            {"drive": 0, "valve island": 4},
        ),
        (
            Alignment.WORD,
            Layout.IN_ORDER,
            {"sensor block": 0, "drive": 2, "valve island": 6},
            {"drive": 0, "valve island": 4},
        ),
        (
            Alignment.DOUBLE_WORD,
            Layout.IN_ORDER,
            {"sensor block": 0, "drive": 4, "valve island": 8},
            {"drive": 0, "valve island": 4},
        ),
        (
            Alignment.DOUBLE_WORD,
            Layout.PACKED,
            {"drive": 0, "valve island": 4, "sensor block": 6},
            {"drive": 0, "valve island": 4},
        ),
    ],
)
def test_a_cell_laid_out_by_hand(
    alignment: Alignment, layout: Layout, inputs: dict[str, int], outputs: dict[str, int]
) -> None:
    io_map = place(CELL, 16, 16, alignment=alignment, layout=layout)
    assert starts(io_map) == inputs
    assert starts(io_map, OUT) == outputs


def test_gaps_and_spare_of_a_hand_made_map() -> None:
    io_map = IoMap(16, 4, (Placement("a", IN, 2, 3), Placement("b", IN, 8, 4)))
    assert io_map.gaps(IN) == (range(2), range(5, 8))
    assert io_map.spare(IN) == range(12, 16)
    assert io_map.gaps(OUT) == ()
    assert io_map.spare(OUT) == range(4)


def test_overlaps_say_who_and_where() -> None:
    io_map = IoMap(
        10,
        0,
        (Placement("a", IN, 0, 4), Placement("b", IN, 2, 4), Placement("c", IN, 3, 9)),
    )
    assert io_map.overlaps() == (
        Overlap(IN, range(2, 3), ("a", "b")),
        Overlap(IN, range(3, 4), ("a", "b", "c")),
        Overlap(IN, range(4, 6), ("b", "c")),
    )
    assert str(io_map.overlaps()[2]) == "b and c both use bytes 4 to 5 of the input area"
    assert io_map.outside() == (Placement("c", IN, 3, 9),)


def test_rules_say_what_is_broken_and_by_how_much() -> None:
    io_map = IoMap(
        6,
        4,
        (
            Placement("drive", IN, 1, 4),
            Placement("sensor block", IN, 4, 1),
            Placement("valve island", OUT, 2, 4),
            Placement("spare part", OUT, 0, 1),
        ),
    )
    overlap, inside, lengths, aligned = io_map.check(CELL, Alignment.WORD)
    assert (overlap.value, overlap.ok) == (1.0, False)
    assert overlap.where == "drive and sensor block both use byte 4 of the input area"
    assert (inside.value, inside.ok) == (2.0, False)
    assert inside.where == "valve island in bytes 2 to 5 of the output area"
    assert lengths.value == 4.0
    assert "drive has 0 bytes in the output area, 4 belong" in lengths.where
    assert "valve island has 0 bytes in the input area, 2 belong" in lengths.where
    assert "valve island has 4 bytes in the output area, 3 belong" in lengths.where
    assert "spare part has 1 bytes in the output area, 0 belong" in lengths.where
    assert (aligned.value, aligned.unit) == (1.0, "devices")
    assert aligned.where == "drive in bytes 1 to 4 of the input area"


def test_bytes_beyond_the_area_are_counted_once_each() -> None:
    io_map = IoMap(4, 0, (Placement("a", IN, 10, 3),))
    assert io_map.check([DeviceIo("a", 3, 0)])[1].value == 3.0


@given(LENGTHS, ALIGNMENTS, LAYOUTS)
def test_a_placed_map_keeps_every_rule(
    lengths: list[tuple[int, int]], alignment: Alignment, layout: Layout
) -> None:
    listed = devices(lengths)
    io_map = place(listed, 200, 200, alignment=alignment, layout=layout)
    due = Alignment.BYTE if layout is Layout.PACKED else alignment
    assert all(rule.ok for rule in io_map.check(listed, due))
    for area in Area:
        used = sum(each.length for each in io_map.in_area(area))
        gaps = sum(len(gap) for gap in io_map.gaps(area))
        assert used + gaps + len(io_map.spare(area)) == io_map.size(area)


@given(LENGTHS, ALIGNMENTS)
def test_packed_data_is_never_cut_by_a_boundary_that_could_hold_it(
    lengths: list[tuple[int, int]], alignment: Alignment
) -> None:
    io_map = place(devices(lengths), 200, 200, alignment=alignment, layout=Layout.PACKED)
    for each in io_map.placements:
        first, last = each.span.start, each.span.stop - 1
        if each.length <= alignment:
            assert first // alignment == last // alignment
        else:
            assert first % alignment == 0


def extent(io_map: IoMap, area: Area = IN) -> int:
    return max((each.span.stop for each in io_map.in_area(area)), default=0)


@given(LENGTHS, ALIGNMENTS)
def test_packed_needs_no_more_than_in_order(
    lengths: list[tuple[int, int]], alignment: Alignment
) -> None:
    listed = devices(lengths)
    packed = place(listed, 200, 200, alignment=alignment, layout=Layout.PACKED)
    ordered = place(listed, 200, 200, alignment=alignment)
    assert extent(packed) <= extent(ordered)
    assert extent(packed, OUT) <= extent(ordered, OUT)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.integers(1, 7), min_size=1, max_size=5), ALIGNMENTS)
def test_packed_is_as_short_as_the_best_order(lengths: list[int], alignment: Alignment) -> None:
    """Against every order of first-hole placing with the boundary each length needs."""

    def boundary(length: int) -> int:
        return min(alignment, 1 << (length - 1).bit_length())

    def best(order: Iterable[int]) -> int:
        taken: set[int] = set()
        end = 0
        for length in order:
            start = 0
            while start % boundary(length) or taken & set(range(start, start + length)):
                start += 1
            taken |= set(range(start, start + length))
            end = max(end, start + length)
        return end

    listed = devices([(length, 0) for length in lengths])
    packed = place(listed, 200, 0, alignment=alignment, layout=Layout.PACKED)
    assert extent(packed) == min(best(order) for order in set(permutations(lengths)))


@given(
    LENGTHS,
    ALIGNMENTS,
    LAYOUTS,
    st.builds(Addressing, st.sampled_from(Numbering), st.sampled_from(ByteOrder)),
    st.sampled_from([Size.BYTE, Size.WORD, Size.DOUBLE_WORD, Size.LONG_WORD]),
    st.data(),
)
def test_every_device_bit_goes_to_the_controller_and_back(
    lengths: list[tuple[int, int]],
    alignment: Alignment,
    layout: Layout,
    addressing: Addressing,
    size: Size,
    data: st.DataObject,
) -> None:
    io_map = place(
        devices(lengths), 200, 200, alignment=alignment, layout=layout, addressing=addressing
    )
    assume(io_map.placements)
    where = data.draw(st.sampled_from(io_map.placements))
    bit = DeviceBit(
        where.device,
        where.area,
        data.draw(st.integers(0, where.length - 1)),
        data.draw(st.integers(0, 7)),
    )
    assert io_map.device_bits(io_map.address_of(bit)) == (bit,)
    element, place_in_it = io_map.element_of(bit, size)
    byte, at = addressing.byte_and_bit(element, place_in_it)
    assert io_map.device_bits(addressing.bit_address(where.area, byte, at)) == (bit,)
    assert bit in io_map.device_bits(element)


def test_a_bit_by_hand_in_both_byte_orders() -> None:
    # Drive from byte 4 of the input area; its byte 1, bit 3 is byte 5 of the area: %IX5.3. As a
    # word it is bit 11 low byte first, bit 3 high byte first.
    bit = DeviceBit("drive", IN, 1, 3)
    for order, expected in ((ByteOrder.LOW_FIRST, 11), (ByteOrder.HIGH_FIRST, 3)):
        io_map = IoMap(
            16, 0, (Placement("drive", IN, 4, 4),), Addressing(Numbering.BY_ELEMENT, order)
        )
        assert str(io_map.address_of(bit)) == "%IX5.3"
        element, at = io_map.element_of(bit, Size.WORD)
        assert (str(element), at) == ("%IW2", expected)
        shown = io_map.device_bits(element)
        assert shown[expected] == bit
    assert io_map.device_bits(DirectAddress.from_text("%IB0")) == ()


def test_a_bit_that_two_devices_claim_comes_twice() -> None:
    io_map = IoMap(8, 0, (Placement("a", IN, 0, 2), Placement("b", IN, 1, 2)))
    found = io_map.device_bits(DirectAddress.from_text("%IX1.0"))
    assert found == (DeviceBit("a", IN, 1, 0), DeviceBit("b", IN, 0, 0))


@pytest.mark.parametrize(
    "bad",
    [
        lambda: DeviceIo("", 1, 1),
        lambda: DeviceIo(None, 1, 1),  # type: ignore[arg-type]
        lambda: DeviceIo("a", -1, 1),
        lambda: DeviceIo("a", 1.5, 1),  # type: ignore[arg-type]
        lambda: DeviceIo("a", 1, True),
        lambda: Placement("a", "I", 0, 1),  # type: ignore[arg-type]
        lambda: Placement("a", IN, -1, 1),
        lambda: Placement("a", IN, 0, 0),
        lambda: Placement("a", IN, float("nan"), 1),  # type: ignore[arg-type]
        lambda: IoMap(-1, 0, ()),
        lambda: IoMap(8, 0, (Placement("a", IN, 0, 1), Placement("a", IN, 2, 1))),
        lambda: place([DeviceIo("a", 1, 0)] * 2, 8, 8),
        lambda: place(CELL, 6, 16),
        lambda: place(CELL, 16, 6),
        lambda: place(CELL, 16, 16).address_of(DeviceBit("pump", IN, 0, 0)),
        lambda: place(CELL, 16, 16).address_of(DeviceBit("sensor block", OUT, 0, 0)),
        lambda: place(CELL, 16, 16).address_of(DeviceBit("drive", IN, 4, 0)),
        lambda: place(CELL, 16, 16).address_of(DeviceBit("drive", IN, 0, 8)),
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
