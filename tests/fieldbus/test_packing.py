"""Free places for blocks: held against a search that tries every byte."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.direct_address import Area
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.iomap import Alignment, DeviceIo, IoMap, Placement
from labkit.fieldbus.packing import fill_up, lowest_start, moves_down

spans = st.lists(
    st.tuples(st.integers(0, 20), st.integers(1, 6)).map(lambda p: range(p[0], p[0] + p[1])),
    max_size=5,
)


@given(spans, st.integers(1, 8), st.sampled_from([1, 2, 4]), st.integers(0, 30))
def test_the_lowest_start_is_the_first_that_a_search_byte_by_byte_finds(
    taken: list[range], length: int, boundary: int, size: int
) -> None:
    used = {byte for span in taken for byte in span}
    free = [
        start
        for start in range(0, size - length + 1, boundary)
        if not used & set(range(start, start + length))
    ]
    assert lowest_start(taken, length, boundary, size) == (free[0] if free else None)


@given(
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=1, max_size=6),
    st.sampled_from(list(Alignment)),
    st.integers(0, 4),
)
def test_a_filled_map_keeps_every_rule_and_leaves_nothing_to_move(
    sizes: list[tuple[int, int]], alignment: Alignment, at: int
) -> None:
    devices = [DeviceIo(f"d{n}", *size) for n, size in enumerate(sizes)]
    keeper = Placement("keeper", Area.INPUT, 4 * at, 2)
    empty = IoMap(64, 64, (keeper,))
    filled = fill_up(empty, devices, alignment)
    assert filled is not None
    assert keeper in filled.placements
    rules = filled.check([*devices, DeviceIo("keeper", 2, 0)], alignment)
    assert all(rule.ok for rule in rules), rules
    movable = [(each.device, each.area) for each in filled.placements if each != keeper]
    assert moves_down(filled, movable, alignment) == ()


def test_a_block_above_a_hole_that_it_fits_into_is_told_where_it_could_start() -> None:
    placed = (
        Placement("low", Area.INPUT, 0, 3),
        Placement("fixed", Area.INPUT, 8, 2),
        Placement("high", Area.INPUT, 10, 4),
        Placement("wide", Area.INPUT, 14, 6),
    )
    io_map = IoMap(32, 0, placed)
    movable = [("low", Area.INPUT), ("high", Area.INPUT), ("wide", Area.INPUT)]
    # Bytes 4 to 7 take the four of "high"; the six of "wide" fit nowhere lower.
    assert [(m.placement.device, m.to) for m in moves_down(io_map, movable, Alignment.WORD)] == [
        ("high", 4)
    ]
    assert moves_down(io_map, [("wide", Area.INPUT)], Alignment.WORD) == ()


def test_what_does_not_fit_is_none_and_longest_first_is_tried() -> None:
    devices = [DeviceIo("small", 1, 0), DeviceIo("large", 4, 0)]
    assert fill_up(IoMap(4, 0, ()), devices, Alignment.BYTE) is None
    split = IoMap(7, 0, (Placement("wall", Area.INPUT, 4, 2),))
    # In the order of the list the small one would sit in the large one's only place.
    filled = fill_up(split, devices, Alignment.BYTE)
    assert filled is not None
    assert [p.first_byte for p in filled.placements] == [4, 0, 6]
    with pytest.raises(PlanError):
        lowest_start([], 0, 1, 8)
