"""The drawing: sound SVG, everything on it, nothing over anything else."""

import random
import re
import xml.etree.ElementTree as ET
from itertools import combinations

import pytest
from hypothesis import given, settings
from planned_networks import networks

from labkit.fieldbus.devicenet.drawing import draw_in_bands, draw_network
from labkit.fieldbus.devicenet.network import (
    Device,
    Drop,
    Network,
    Segment,
    Supply,
    Tap,
    Terminator,
)
from labkit.fieldbus.devicenet.reading import network_in_words
from labkit.fieldbus.diagram import LOOKS, NARROW, ON_PAPER, WIDTH
from labkit.fieldbus.errors import PlanError

SVG = "{http://www.w3.org/2000/svg}"
ALL = ("rate", "total", "lengths", "currents", "addresses", "voltages")
CHARACTER = 6.2  # px: a digit or letter of 12 px text is about this wide


def boxes_of(picture: ET.Element) -> list[tuple[float, float, float, float]]:
    """(left, top, right, bottom) of every device and supply box."""
    found = []
    for rect in picture.iter(f"{SVG}rect"):
        x, y, w, h = (float(rect.attrib[key]) for key in ("x", "y", "width", "height"))
        found.append((x, y, x + w, y + h))
    return found


def texts_of(picture: ET.Element) -> list[tuple[float, float, float, float]]:
    """(left, top, right, bottom) of every text, by a cautious guess of its width."""
    found = []
    for text in picture.iter(f"{SVG}text"):
        width = CHARACTER * len(text.text or "")
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        left = x - width / 2 if text.get("text-anchor") == "middle" else x
        found.append((left, y - 9, left + width, y + 2))
    return found


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] - 0.5 and b[0] < a[2] - 0.5 and a[1] < b[3] - 0.5 and b[1] < a[3] - 0.5


def plan_of(nodes: int, seed: int = 1) -> Network:
    draw = random.Random(seed)
    taps = []
    for n in range(nodes):
        device = Device(f"Conveyor drive {n}", 0.05 + n / 1000, n % 64)
        kind = draw.random()
        if kind < 0.15:
            drop = Drop(0, (), (Drop(2, (device,)), Drop(1.5)))
        elif kind < 0.3:
            drop = Drop(1.5, (device,), (Drop(1),))
        else:
            drop = Drop(round(draw.uniform(0, 6), 1), (device,))
        taps.append(Tap(1.25 * n + 0.5, drop))
    trunk = [Segment("thick", 60), Segment("thin", 10), Segment("flat", 12.5)]
    supplies = [Supply(20, name="north", rating=8, fuse_left=4), Supply(65, name="south")]
    return Network(125, tuple(trunk), tuple(taps), tuple(supplies), (41.1,))


@pytest.mark.parametrize("wide", [WIDTH, NARROW, 400])
@pytest.mark.parametrize("nodes", [0, 1, 6, 12, 30, 64])
def test_nothing_stands_on_anything_else(nodes: int, wide: float) -> None:
    picture = ET.fromstring(draw_network(plan_of(nodes), show=ALL, width=wide))
    boxes, texts = boxes_of(picture), texts_of(picture)
    assert not [pair for pair in combinations(boxes, 2) if overlap(*pair)]
    assert not [pair for pair in combinations(texts, 2) if overlap(*pair)]
    _, _, width, height = (float(n) for n in picture.attrib["viewBox"].split())
    assert width == wide
    for left, top, right, bottom in boxes + texts:
        assert left >= 0
        assert right <= width
        assert top >= 0
        assert bottom <= height


@pytest.mark.parametrize("nodes", [0, 1, 12, 64])
def test_in_bands_every_row_is_whole_and_nothing_is_lost(nodes: int) -> None:
    plan, show = plan_of(nodes), ("rate", "total", "lengths", "currents", "addresses")
    bands = [ET.fromstring(band) for band in draw_in_bands(plan, show=show)]
    assert len(bands) > (1 if nodes else 0)
    for band in bands:
        boxes, texts = boxes_of(band), texts_of(band)
        assert not [pair for pair in combinations(boxes, 2) if overlap(*pair)]
        assert not [pair for pair in combinations(texts, 2) if overlap(*pair)]
        _, _, width, height = (float(n) for n in band.attrib["viewBox"].split())
        assert width == ON_PAPER
        for left, top, right, bottom in boxes + texts:
            assert left >= 0
            assert right <= width
            assert top >= 0
            assert bottom <= height
    whole = ET.fromstring(draw_network(plan, show=show))
    assert [named for band in bands for named in parts_of(band)] == parts_of(whole)
    legend = [text.text for text in bands[-1].iter(f"{SVG}text")][-len(plan.cables) :]
    assert legend == [f"{cable} trunk" for cable in plan.cables]
    assert [band.findtext(f"{SVG}desc") for band in bands] == [
        whole.findtext(f"{SVG}desc"),
        *[None] * (len(bands) - 1),
    ]


def parts_of(picture: ET.Element) -> list[str | None]:
    """The taps and devices that a drawing names, in order."""
    return [group.findtext(f"{SVG}title") for group in picture.iter(f"{SVG}g")]


def test_bands_may_stand_on_one_page_and_each_says_which_it_is() -> None:
    bands = [ET.fromstring(band) for band in draw_in_bands(plan_of(12))]
    ids = [node.attrib["id"] for band in bands for node in band.iter() if "id" in node.attrib]
    assert len(set(ids)) == len(ids)
    for number, band in enumerate(bands[1:], 2):
        title = f"DeviceNet network, row {number} of {len(bands)}"
        assert band.findtext(f"{SVG}title") == title
        assert band.attrib["aria-labelledby"] in ids
    with pytest.raises(PlanError, match="A drawing shows rate, total, lengths"):
        draw_in_bands(plan_of(1), show=("weights",))


def test_the_smallest_letters_of_a_band_have_8_points_on_paper() -> None:
    sizes = [12.0, *(float(look.get("font-size", 12)) for look in LOOKS.values())]
    assert min(sizes) * (168 / 25.4 * 72) / ON_PAPER >= 8


@given(networks(supplies=(0, 3), power=True, breaks=True, cables=("thick", "thin", "mid", "flat")))
@settings(deadline=None, max_examples=60)
def test_any_plan_is_drawn_with_all_its_devices(plan: Network) -> None:
    picture = ET.fromstring(draw_network(plan, show=("lengths", "currents", "addresses")))
    described = picture.find(f"{SVG}desc")
    assert described is not None
    titles = " ".join(title.text or "" for title in picture.iter(f"{SVG}title"))
    for device in plan.devices:
        assert device.name in (described.text or "")
        assert device.name in titles
    assert not [pair for pair in combinations(boxes_of(picture), 2) if overlap(*pair)]


def test_drawn_narrow_it_says_the_same() -> None:
    wide, narrow = (
        ET.fromstring(draw_network(plan_of(12), width=width)) for width in (WIDTH, NARROW)
    )
    said = [picture.findtext(f"{SVG}desc") for picture in (wide, narrow)]
    assert said[0] == said[1]
    assert wide.attrib["id"] != narrow.attrib["id"]


def test_it_says_what_it_is_to_a_screen_reader_and_takes_the_page_s_ink() -> None:
    drawn = draw_network(plan_of(3), title="Filling <line> & more")
    picture = ET.fromstring(drawn)
    assert picture.attrib["role"] == "img"
    labels = picture.attrib["aria-labelledby"].split()
    by_id = {element.attrib["id"]: element for element in picture.iter() if "id" in element.attrib}
    assert [by_id[label].tag for label in labels] == [f"{SVG}title", f"{SVG}desc"]
    assert by_id[labels[0]].text == "Filling <line> & more"
    assert picture.attrib["fill"] == "currentColor"
    looks = " ".join(value for node in picture.iter() for value in node.attrib.values())
    assert not re.search(r"#[0-9a-f]{3,6}\b|rgb|black|white", looks)


def test_a_strict_page_may_show_it() -> None:
    picture = ET.fromstring(draw_network(plan_of(12), show=ALL))
    assert not list(picture.iter(f"{SVG}style"))
    assert not [node for node in picture.iter() if {"style", "class"} & node.attrib.keys()]


def test_ids_differ_between_drawings_and_follow_the_prefix() -> None:
    def ids(drawn: str) -> set[str]:
        return set(re.findall(r' id="([^"]+)"', drawn))

    assert not ids(draw_network(plan_of(3))) & ids(draw_network(plan_of(4)))
    assert ids(draw_network(plan_of(3), prefix="ex-1")) == {"ex-1", "ex-1-title", "ex-1-desc"}
    assert draw_network(plan_of(3)) == draw_network(plan_of(3))


def test_cables_differ_in_weight_or_dash() -> None:
    trunk = tuple(Segment(cable, 20) for cable in ("thick", "thin", "mid", "flat"))
    drawn = ET.fromstring(draw_network(Network(125, trunk)))
    looks = {(x.get("stroke-width"), x.get("stroke-dasharray")) for x in drawn.iter(f"{SVG}line")}
    # The marks above the segments have the weight that a line has by itself.
    assert len(looks - {(None, None)}) == 4


def test_only_what_is_asked_for_is_shown() -> None:
    plan = plan_of(2)
    bare = draw_network(plan, show=())
    assert "0.05 A" not in bare
    assert "node 1" not in bare
    assert "0.05 A" in draw_network(plan, show=("currents",))
    assert "kbit/s" not in bare
    assert draw_network(plan, show=("rate",)).count("125 kbit/s") == 2
    assert "0.101 A at 24 V in all" in draw_network(plan, show=("total",))
    assert "in all" not in draw_network(plan, show=("rate", "lengths", "currents"))
    assert "node 1" in draw_network(plan, show=("addresses",))
    assert re.search(r">2\d\.\d\d V<", draw_network(plan, show=("voltages",)))
    given_ = draw_network(plan, show=("voltages",), voltages={"Conveyor drive 0": 12.345})
    assert ">12.35 V<" in given_ or ">12.34 V<" in given_


def test_a_supply_is_drawn_where_it_is_put() -> None:
    bare = Network(125, (Segment("thick", 50),), (Tap(10, Drop(1, (Device("a", 0.1),))),))
    assert "Supply at 33 m: 24 V." in draw_network(bare, supply_position=33)
    assert "There is no supply." in draw_network(bare)
    with pytest.raises(PlanError, match="beyond the trunk"):
        draw_network(bare, supply_position=51)


@pytest.mark.parametrize("show", ["currents", ("weights",)])
def test_unknown_wishes_are_refused(show: object) -> None:
    with pytest.raises(PlanError, match="A drawing shows rate, total, lengths"):
        draw_network(plan_of(1), show=show)  # type: ignore[arg-type]


def test_the_network_in_words() -> None:
    drop = Drop(2, (Device("gate", 0.05, 7),), (Drop(1, (Device("lamp", constant_power=3),)),))
    plan = Network(
        250,
        (Segment("thick", 50), Segment("thin", 8)),
        (Tap(12.5, drop), Tap(40, Drop(1))),
        (Supply(20, name="PS", fuse_left=0, reversed_polarity=True),),
        (30,),
        (Terminator(0),),
    )
    assert network_in_words(plan, show=("rate", "lengths", "currents", "addresses")) == (
        "DeviceNet at 250 kbit/s. Trunk from left to right: 50 m of thick cable, then 8 m of thin "
        "cable. Terminators: 121 Ω at 0 m. Supply PS at 20 m: 24 V, left fuse out, V+ and V− "
        "swapped. V+ is cut at 30 m. Tap 1 at 12.5 m: drop of 2 m to gate (node 7, 0.05 A), going "
        "on as [drop of 1 m to lamp (no address, 3 W)]. Tap 2 at 40 m: drop of 1 m with nothing "
        "on it."
    )
