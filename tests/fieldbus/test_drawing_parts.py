"""A network to point into: what its parts are called, and where they are drawn."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labkit.fieldbus.devicenet.drawing import draw_network
from labkit.fieldbus.devicenet.drawing_parts import (
    PART_KINDS,
    draw_parts,
    draw_parts_in_bands,
    parts_of,
)
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.errors import PlanError


def _tap(at: float, *names: str) -> Tap:
    return Tap(at, Drop(2, tuple(Device(name, 0.2) for name in names)))


TWO_SUPPLIES = Network(
    125,
    (Segment("thick", 40), Segment("thin", 20)),
    (_tap(5, "scanner"), _tap(20, "filler", "capper"), _tap(50, "gate")),
    supplies=(Supply(20), Supply(55, name="supply 7")),
    section_breaks=(30,),
)


def test_parts_are_called_as_in_the_plan_or_by_where_they_are() -> None:
    assert [part.id for part in parts_of(TWO_SUPPLIES)] == [
        "left terminator",
        "left terminator to tap 1",
        "tap 1",
        "scanner",
        "tap 1 to supply 1",
        "supply 1",
        "tap 2",  # at the supply: there is no trunk between the two
        "filler",
        "capper",
        "tap 2 to V+ cut",
        "V+ cut to joint",
        "joint to tap 3",
        "tap 3",
        "gate",
        "tap 3 to supply 7",
        "supply 7",
        "supply 7 to right terminator",
        "right terminator",
    ]


def test_parts_in_words_have_what_the_drawing_shows() -> None:
    words = {part.id: part.words for part in parts_of(TWO_SUPPLIES)}
    assert words["joint to tap 3"] == "trunk from the joint to tap 3"
    assert words["tap 3"] == "tap 3 at 50 m"
    assert words["gate"] == "gate, 0.2 A"
    bare = {part.id: part.words for part in parts_of(TWO_SUPPLIES, show=())}
    assert (bare["tap 3"], bare["gate"]) == ("tap 3", "gate")


def test_two_parts_of_one_name_are_refused() -> None:
    network = replace(TWO_SUPPLIES, taps=(*TWO_SUPPLIES.taps, _tap(58, "supply 7")))
    with pytest.raises(PlanError, match="'supply 7'; rename one of them"):
        parts_of(network)


def _overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(
        one[axis] < other[axis] + other[axis + 2] and other[axis] < one[axis] + one[axis + 2]
        for axis in (0, 1)
    )


@pytest.mark.parametrize("width", [400, 860])
def test_every_part_has_a_place_of_its_own(width: float) -> None:
    network = replace(TWO_SUPPLIES, supplies=(Supply(25), Supply(55, name="supply 7")))
    boxes = draw_parts(network, width=width).boxes
    assert set(boxes) == {part.id for part in parts_of(network)}
    flat = [(part, box) for part, found in boxes.items() for box in found]
    meet = [
        (part, other)
        for at, (part, box) in enumerate(flat)
        for other, rest in flat[at + 1 :]
        if _overlap(box, rest)
    ]
    assert meet == []


def test_only_what_is_asked_for_has_places_and_taps_get_the_room_of_the_trunk() -> None:
    everything, taps = draw_parts(TWO_SUPPLIES), draw_parts(TWO_SUPPLIES, ["tap"])
    assert set(taps.boxes) == {"tap 1", "tap 2", "tap 3"}
    assert taps.svg == everything.svg
    [wide], [narrow] = taps.boxes["tap 3"], everything.boxes["tap 3"]
    assert wide[2] > 2 * narrow[2]
    for kind in PART_KINDS:
        ids = {part.id for part in parts_of(TWO_SUPPLIES) if part.kind == kind}
        assert set(draw_parts(TWO_SUPPLIES, [kind]).boxes) == ids


@pytest.mark.parametrize("width", [400, 860])
def test_a_tap_has_room_for_a_finger_above_and_below_the_trunk(width: float) -> None:
    boxes = draw_parts(TWO_SUPPLIES, width=width).boxes
    [(_, top, _, height)] = boxes["tap 3"]
    beside = (*boxes["joint to tap 3"], *boxes["tap 3 to supply 7"])
    trunk = min((y + high / 2 for _, y, _, high in beside), key=lambda y: abs(y - top))
    assert trunk - top >= 24, "above is the place of its words"
    assert top + height - trunk >= 24, "below is the place of its plug"
    [(_, device, _, _)] = boxes["gate"]
    assert top + height <= device


def test_a_stretch_that_goes_on_in_the_next_row_has_a_place_in_both() -> None:
    network = replace(TWO_SUPPLIES, supplies=(Supply(25),), section_breaks=())
    boxes = draw_parts(network, width=400).boxes
    assert [part for part, found in boxes.items() if len(found) > 1] == ["supply to joint"]
    above, below = boxes["supply to joint"]
    assert above[1] < below[1]
    bands = draw_parts_in_bands(network)
    assert set().union(*(band.boxes for band in bands)) == set(boxes)


def test_it_looks_as_the_network_does_everywhere_else() -> None:
    shapes = ("<rect", "<circle", "<line", "<text")
    plain, to_point = draw_network(TWO_SUPPLIES, width=860), draw_parts(TWO_SUPPLIES, width=860).svg
    assert [plain.count(shape) for shape in shapes] == [to_point.count(shape) for shape in shapes]
