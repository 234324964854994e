"""Errors planted in drawings, found again by a hand of its own in 1,000 of them.

Nothing of `labkit.fieldbus` is used to find them: the rules stand here once more, from the sources
that the lines name. Pairs of points are tried one by one, sums are sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from random import Random
from typing import Any

import pytest

from labkit.doors.installed import review_for
from labkit.doors.review import CannotPlantError, ProposedDrawing
from labkit.families.devicenet.planting import FUSES
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.errors import PlanError
from labkit.language.stream import Stream

REVIEW = review_for("devicenet")
Errors = set[tuple[str, frozenset[str]]]
"""Each error: its rule, and the parts at which it shows."""

# ODVA PUB00027R1: metres by data rate, A, Ω a metre of one conductor in the full calculation.
TRUNK = {125: 500, 250: 250, 500: 100}
THIN_ALONE = 100
THIN_FACTOR = {125: 5, 250: 2.5, 500: 1}
ALL_DROPS = {125: 156, 250: 78, 500: 39}
CARRIES = {"thick": 8, "thin": 3}
OHM = {"thick": 0.015, "thin": 0.069}
CONTACT = 0.005
LOSS = 4.65
END = {"left": "left end", "right": "right end"}


def _errors(data: dict[str, Any]) -> Errors:
    """Every error of a drawing, from its plain data."""
    net = data["network"]
    length = sum(piece["length"] for piece in net["segments"])
    found: Errors = set()
    for rule, parts in (
        *_wrong_ends(data, length),
        *_wrong_earths(data),
        *_wrong_trunk(net, length),
        *_wrong_drops(net),
        *_wrong_supply(net, length),
        *_same_addresses(net),
    ):
        found.add((rule, frozenset(parts)))
    return found


def _wrong_ends(data: dict[str, Any], length: float) -> Iterator[tuple[str, list[str]]]:
    """121 Ω at both ends of the trunk and nowhere else (ODVA PUB00027R1)."""
    default = [{"position": 0.0}, {"position": length}]
    at = [each["position"] for each in data["network"].get("terminators", default)]
    open_ends = [side for side, end in (("left", 0.0), ("right", length)) if end not in at]
    on_drops = list(data["drop_terminators"])
    while open_ends or on_drops:
        drop, side = (each.pop(0) if each else "" for each in (on_drops, open_ends))
        yield "terminators", [part for part in (drop, END.get(side, "")) if part]


def _wrong_earths(data: dict[str, Any]) -> Iterator[tuple[str, list[str]]]:
    """V− and shield together at one point, at the supply (ODVA PUB00027R1)."""
    at_supply = data["network"]["supplies"][0]["position"]
    away = [at for at in data["earths"] if at != at_supply]
    missing = [] if at_supply in data["earths"] else ["supply"]
    for number in range(max(len(away), len(missing))):
        stray = [f"earth {number + 1}"] if number < len(away) else []
        yield "earth", [*stray, *missing[number : number + 1]]


def _wrong_trunk(net: dict[str, Any], length: float) -> Iterator[tuple[str, list[str]]]:
    """No two points further apart than the cable allows, thin by its factor (ODVA PUB00027R1)."""
    cables = {piece["cable"] for piece in net["segments"]}
    rate = net["data_rate"]
    factor = THIN_FACTOR[rate] if len(cables) > 1 else 1
    limit = THIN_ALONE if cables == {"thin"} else TRUNK[rate]
    points = [(0.0, 0.0), (_weighted(net, length, factor), 0.0)]
    for tap in net["taps"]:
        weight = max(factor if piece == "thin" else 1 for piece in _at(net, tap["position"]))
        points.append((_weighted(net, tap["position"], factor), weight * _reach(tap["drop"])))
    longest = max(abs(a - b) + up + down for (a, up), (b, down) in combinations(points, 2))
    if longest > limit + 1e-6:
        yield "trunk", [f"trunk {number + 1}" for number in range(len(net["segments"]))]


def _weighted(net: dict[str, Any], position: float, factor: float) -> float:
    metres, start = 0.0, 0.0
    for piece in net["segments"]:
        inside = min(max(position - start, 0.0), piece["length"])
        metres += inside * (factor if piece["cable"] == "thin" else 1)
        start += piece["length"]
    return metres


def _at(net: dict[str, Any], position: float) -> list[str]:
    start, found = 0.0, []
    for piece in net["segments"]:
        if start - 1e-9 <= position <= start + piece["length"] + 1e-9:
            found.append(piece["cable"])
        start += piece["length"]
    return found


def _wrong_drops(net: dict[str, Any]) -> Iterator[tuple[str, list[str]]]:
    """6 m a drop; all by the rate; 4.57 A·m over the length, never over 3 A (ODVA PUB00027R1)."""
    for number, tap in enumerate(net["taps"]):
        length = _reach(tap["drop"])
        if length > 6:
            yield "drop", [_name(number)]
        if _drawn(tap) > min(3.0, 4.57 / max(length, 1e-9)):
            yield "drop-current", [_name(number)]
    if sum(_reach(tap["drop"]) for tap in net["taps"]) > ALL_DROPS[net["data_rate"]]:
        yield "drops", [_name(number) for number in range(len(net["taps"]))]


def _wrong_supply(net: dict[str, Any], length: float) -> Iterator[tuple[str, list[str]]]:
    """Fuses for the cable, 4.65 V a side by the full calculation, and a rating that is enough."""
    supply = net["supplies"][0]
    at = supply["position"]
    too_large, fails = False, False
    for side, fuse in (("left", supply["fuse_left"]), ("right", supply["fuse_right"])):
        end = 0.0 if side == "left" else length
        taps = [t for t in net["taps"] if (t["position"] < at) == (side == "left")]
        behind = _cables(net, at, end)
        # Wrong by either reading of "the cable behind it": the nearest piece, or the weakest.
        too_large |= fuse > min(CARRIES[cable] for cable in behind)
        loss, total = 0.0, sum(_drawn(tap) for tap in taps)
        for count, tap in enumerate(sorted(taps, key=lambda t: abs(t["position"] - at)), 1):
            loss += (_ohm(net, at, tap["position"]) + count * CONTACT) * _drawn(tap)
        fails |= loss > LOSS or total > CARRIES[behind[0]]
    if too_large:
        yield "fuse", ["supply"]
    if fails:
        yield "supply-place", ["supply"]
    if supply["rating"] < sum(_drawn(tap) for tap in net["taps"]) - 1e-9:
        yield "supply-rating", ["supply"]


def _cables(net: dict[str, Any], one: float, other: float) -> list[str]:
    """The cables between two points, from the first of them on."""
    low, high = min(one, other), max(one, other)
    start, found = 0.0, []
    for piece in net["segments"]:
        if min(high, start + piece["length"]) - max(low, start) > 1e-9:
            found.append(piece["cable"])
        start += piece["length"]
    return found if one < other else found[::-1]


def _ohm(net: dict[str, Any], one: float, other: float) -> float:
    low, high = min(one, other), max(one, other)
    start, ohm = 0.0, 0.0
    for piece in net["segments"]:
        metres = min(high, start + piece["length"]) - max(low, start)
        ohm += OHM[piece["cable"]] * max(metres, 0.0)
        start += piece["length"]
    return ohm


def _same_addresses(net: dict[str, Any]) -> Iterator[tuple[str, list[str]]]:
    """0 to 63, no two alike (IEC 62026-3)."""
    holders: dict[int, list[str]] = {}
    for number, tap in enumerate(net["taps"]):
        for device in tap["drop"]["devices"]:
            assert 0 <= device["address"] <= 63
            holders.setdefault(device["address"], []).append(_name(number))
    yield from (("address", taps) for taps in holders.values() if len(taps) > 1)


def _name(number: int) -> str:
    return f"tap {number + 1}"


def _drawn(tap: dict[str, Any]) -> float:
    return float(sum(device["current"] for device in tap["drop"]["devices"]))


def _reach(drop: dict[str, Any]) -> float:
    return float(drop["length"])


def _network(chance: Random) -> Network:
    """A network that may be in order; with long and short trunks, thin ones, heavy loads."""
    rate = chance.choice([125, 125, 250, 500])
    cable = chance.choice(["thick", "thick", "thick", "thin"])
    most = {125: 360, 250: 230, 500: 92}[rate] if cable == "thick" else 92
    length = chance.randrange(40, most)
    count = chance.randrange(4, 10)
    places = sorted(chance.sample(range(2, length - 2), count))
    most_current = chance.choice([0.3, 0.6, 1.0])
    taps = tuple(
        Tap(
            float(at),
            Drop(
                chance.choice([0.5, 1.0, 2.0, 3.0, 4.5]),
                (Device(f"device {n}", round(chance.uniform(0.05, most_current), 2)),),
            ),
        )
        for n, at in enumerate(places)
    )
    supply = Supply(length / 2 + 0.25)
    return Network(rate, (Segment(cable, float(length)),), taps, (supply,))


def _planned(chance: Random) -> ProposedDrawing:
    while True:
        try:
            drawing = REVIEW.as_planned(_network(chance))
        except PlanError:
            continue
        assert drawing is not None
        return drawing


def _said(drawing: ProposedDrawing) -> Errors:
    return {(found.rule, frozenset(found.parts)) for found in drawing.found()}


def _rated_clearly_too_small(drawing: ProposedDrawing) -> bool:
    """By more than rounding hides."""
    net = drawing.to_json()["network"]
    return bool(1.04 * net["supplies"][0]["rating"] < sum(_drawn(tap) for tap in net["taps"]))


def test_what_is_planted_in_1000_drawings_is_found_again_and_nothing_else() -> None:
    chance = Random(1902)
    planted: dict[str, int] = dict.fromkeys(REVIEW.errors, 0)
    drawings = 0
    while drawings < 1000:
        right = _planned(chance)
        assert _errors(right.to_json()) == set() == _said(right)
        for _ in range(4):
            names = chance.sample([*REVIEW.errors], chance.randrange(1, 4))
            try:
                drawing = REVIEW.planted(right, names, Stream(f"{drawings}"))
            except CannotPlantError:
                continue
            _require_these_alone(drawing, names)
            drawings += 1
            for name in names:
                planted[name] += 1
    assert min(planted.values()) >= 100, planted


def _require_these_alone(drawing: ProposedDrawing, names: list[str]) -> None:
    found = _errors(drawing.to_json())
    assert found == _said(drawing)
    assert sorted(rule for rule, _ in found) == sorted(REVIEW.errors[name] for name in names)
    assert "supply too small" not in names or _rated_clearly_too_small(drawing)


@pytest.mark.parametrize("fuse", [7.5, 10.0])
def test_a_fuse_is_held_against_what_thick_cable_carries(fuse: float) -> None:
    data = _planned(Random(3)).to_json()
    data["network"]["supplies"][0] |= {"fuse_left": fuse}
    assert {piece["cable"] for piece in data["network"]["segments"]} == {"thick"}
    assert fuse in FUSES
    wrong = {("fuse", frozenset(["supply"]))} if fuse > 8 else set()
    assert _errors(data) == _said(REVIEW.from_json(data)) == wrong
