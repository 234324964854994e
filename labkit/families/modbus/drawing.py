"""A Modbus line as an SVG line diagram: the trunk in rows, derivations and devices below it.

The master's box is the bold one. Terminators are bars on the trunk or at a device's box; the
polarization is written above the place where it is, the earth below it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from html import escape
from typing import Final

from labkit.fieldbus.diagram import (
    BOLD_CHARACTER,
    BOX_MARGIN,
    INDENT,
    LINE,
    LINK_WIDTH,
    MARGIN,
    ON_PAPER,
    TAP_WIDTH,
    TERMINATOR,
    WIDTH,
    Canvas,
    Column,
    Row,
    mark_of,
    rows_of,
    wrapped,
)
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network
from labkit.fieldbus.modbus.parts import Derivation, Device, Place, Polarization, Tap, Terminator

_TITLE: Final = "Modbus line"
_TRUNK: Final = 46.0
"""Px from a row's top to its trunk: positions stand above it."""
_POLARIZED: Final = 36.0
"""Px more for each polarization above the trunk."""
_END: Final = 66.0
_MARKED: Final = 124.0
"""Room of a place without a tap where something stands."""
_FITTED: Final = 13.0
"""Px of the mark of a terminator at a device's box."""


def draw_line(network: Network, *, leave_out: Collection[str] = (), width: float = WIDTH) -> str:
    """The line as an SVG of `width` px (from 400), rows of trunk below one another.

    `leave_out`: any of "rate", "addresses", "loads", "terminators", "polarization", "earth".
    """
    words = line_in_words(network, leave_out)
    prefix = mark_of(f"{_TITLE}{words}{width:g}")
    return LineDrawing(network, leave_out, prefix, width).svg(_TITLE, words)


def draw_in_bands(network: Network, *, leave_out: Collection[str] = ()) -> tuple[str, ...]:
    """The same drawing for paper: an SVG for each row of trunk, so that a page may end between."""
    words = line_in_words(network, leave_out)
    prefix = mark_of(f"{_TITLE}{words} in bands")
    return tuple(LineDrawing(network, leave_out, prefix, ON_PAPER).bands(_TITLE, words))


def line_in_words(network: Network, leave_out: Collection[str] = ()) -> str:
    """The whole line in sentences, from its left end to its right end."""
    return " ".join(_sentences(_shown(network, leave_out), leave_out))


def _shown(network: Network, leave_out: Collection[str]) -> Network:
    """The line without the parts that are left out of its picture."""
    return replace(
        network,
        terminators=() if "terminators" in leave_out else network.terminators,
        polarizations=() if "polarization" in leave_out else network.polarizations,
        earths=() if "earth" in leave_out else network.earths,
    )


def _sentences(network: Network, leave_out: Collection[str]) -> Iterator[str]:
    yield f"Modbus{_rate(network, leave_out, ' at ')}. Trunk of {_plain(network.length)} m."
    for what, places in (
        ("Terminators", [f"{_ohm(each)} {_at(each.at)}" for each in network.terminators]),
        ("Polarization", [f"{_pair(each)} {_at(each.at)}" for each in network.polarizations]),
        ("Common earthed", [_at(place) for place in network.earths]),
    ):
        if places:
            yield f"{what}: {', '.join(places)}."
    for tap in network.taps:
        told = [
            f"{_way(each)} {', '.join(_said(device, leave_out) for device in each.devices)}"
            for each in tap.derivations
        ]
        yield f"At {_plain(tap.position)} m: {'; '.join(told)}."


def _rate(network: Network, leave_out: Collection[str], before: str) -> str:
    if "rate" in leave_out:
        return ""
    return f"{before}{network.bit_rate:,.0f} bit/s, {network.form.text}"


def _way(derivation: Derivation) -> str:
    if derivation.length < SAME_PLACE_M:
        return "in the trunk"
    return f"derivation of {_plain(derivation.length)} m to"


def _said(device: Device, leave_out: Collection[str]) -> str:
    return ", ".join((device.name, *_facts(device, leave_out)))


def _facts(device: Device, leave_out: Collection[str]) -> tuple[str, ...]:
    """What is told of a device, in reading order."""
    facts = ["master"] if device.master else []
    if "addresses" not in leave_out and device.address is not None:
        facts.append(f"address {device.address}")
    if "loads" not in leave_out and device.unit_loads != 1:
        facts.append(f"load {_plain(device.unit_loads, 3)}")
    return tuple(facts)


def _ohm(terminator: Terminator) -> str:
    capacitor = f" + {_plain(terminator.nanofarad)} nF" if terminator.nanofarad else ""
    return f"{_plain(terminator.ohm)} Ω{capacitor}"


def _pair(polarization: Polarization) -> str:
    up, down = _plain(polarization.pull_up_ohm), _plain(polarization.pull_down_ohm)
    return f"{up} Ω to {_plain(polarization.volt)} V, {down} Ω to common"


def _at(place: Place) -> str:
    return f"at {place}" if isinstance(place, str) else f"at {_plain(place)} m"


def _plain(value: float, decimals: int = 2) -> str:
    """A number with at most so many decimals and no trailing zeros."""
    return f"{round(value, decimals) + 0.0:.8g}"


class LineDrawing(Canvas):
    """One drawing being put together."""

    def __init__(
        self, network: Network, leave_out: Collection[str], prefix: str, width: float
    ) -> None:
        super().__init__(prefix, width)
        self.network = _shown(network, leave_out)
        self.leave_out = leave_out

    def _rows(self) -> tuple[Row, ...]:
        return rows_of(self._columns(), self.width - 2 * MARGIN)

    def _columns(self) -> list[Column]:
        """The ends, the taps, and places of the trunk where there is no tap, left to right."""
        network = self.network
        taps = [tap.position for tap in network.taps]
        marked = [
            *(each.at for each in network.terminators),
            *(each.at for each in network.polarizations),
            *network.earths,
        ]
        found = {round(network.spot(at).position, 3) for at in marked}
        for at in (0.0, network.length, *taps):
            found = {other for other in found if abs(other - at) >= SAME_PLACE_M}
        columns = [Column("tap", tap.position, tap, TAP_WIDTH) for tap in network.taps]
        columns += [Column("place", at, None, _MARKED) for at in found]
        pairs = [network.spot(each.at).position for each in network.polarizations]
        for end in (0.0, network.length):
            if not any(_same(at, end) for at in taps):
                polarized = any(_same(at, end) for at in pairs)
                columns.append(Column("end", end, None, _MARKED if polarized else _END))
        return sorted(columns, key=lambda column: column.position)

    def _summary(self) -> str:
        network = self.network
        masters = sum(1 for device in network.devices if device.master)
        devices = len(network.devices) - masters
        counted = [
            *([_rate(network, self.leave_out, "")] if "rate" not in self.leave_out else []),
            f"trunk {_plain(network.length)} m",
            *(["1 master"] if masters == 1 else [f"{masters} masters"] if masters else []),
            f"{devices} device{'s' * (devices != 1)}",
        ]
        return " · ".join(counted) + " · not to scale"

    def _row(self, row: Row, index: int, top: float) -> float:
        pairs = max(len(self._polarized(column)) for column in row.columns)
        trunk = top + _TRUNK + _POLARIZED * pairs
        left = MARGIN + (LINK_WIDTH - 4 if row.from_before else row.columns[0].x)
        right = MARGIN + row.columns[-1].x
        if row.goes_on:
            right = self._right_edge(row) - LINK_WIDTH + 4
            self._link(self._right_edge(row) - LINK_WIDTH / 2 + 4, trunk, index)
        if row.from_before:
            self._link(MARGIN + LINK_WIDTH / 2 - 4, trunk, index - 1)
        self._line("cable thick", left, trunk, right, trunk)
        return max([trunk + 30.0, *(self._column(column, trunk) for column in row.columns)])

    def _polarized(self, column: Column) -> list[Polarization]:
        spots = [(each, self.network.spot(each.at)) for each in self.network.polarizations]
        return [each for each, spot in spots if _same(spot.position, column.position)]

    def _column(self, column: Column, trunk: float) -> float:
        """Draw one part of the trunk; its bottom edge."""
        x = MARGIN + column.x
        end = any(_same(column.position, at) for at in (0.0, self.network.length))
        anchor = "soft" if column.kind == "tap" else "soft mid"
        self._text(x - 4 * (column.kind == "tap"), trunk - 22, _at(column.position)[3:], anchor)
        for at, pair in enumerate(self._polarized(column)):
            self._polarization(pair, x, trunk - 58 - _POLARIZED * at, column)
        below = self._on_trunk(column, x, trunk, end)
        if isinstance(column.item, Tap):
            return self._tap(column.item, x, trunk, column.width, below)
        self._line("wire feed", x, trunk - 8, x, trunk + 8)
        return trunk + 34 + below

    def _polarization(self, pair: Polarization, x: float, y: float, column: Column) -> None:
        """The values of a pair of resistors above the trunk, and a line down to it."""
        anchor = "" if column.kind == "tap" else "mid"
        shift = -4 if column.kind == "tap" else 0
        up, down = _plain(pair.pull_up_ohm), _plain(pair.pull_down_ohm)
        self._text(x + shift, y, f"D1 {up} Ω to {_plain(pair.volt)} V", anchor)
        self._text(x + shift, y + 14, f"D0 {down} Ω to C", anchor)

    def _on_trunk(self, column: Column, x: float, trunk: float, end: bool) -> float:
        """Terminators and earth in the trunk at a column; px that their words take below."""
        here = [
            each
            for each in self.network.terminators
            if (spot := self.network.spot(each.at)).in_trunk
            and _same(spot.position, column.position)
        ]
        words = [_ohm(each) for each in here]
        if here:
            self._box(x - TERMINATOR, trunk - 13, 2 * TERMINATOR, 26, "box feed")
        elif end and "terminators" not in self.leave_out:
            words.append("open end")
        earths = [self.network.spot(place).position for place in self.network.earths]
        words += ["C earthed" for at in earths if _same(at, column.position)]
        tap = column.kind == "tap"
        for line, text in enumerate(words):
            self._text(x + 10 * tap, trunk + 26 + LINE * line, text, "soft" if tap else "soft mid")
        return LINE * len(words)

    def _tap(self, tap: Tap, x: float, trunk: float, width: float, below: float) -> float:
        self.parts.append(f"<g><title>{escape(tap.label)}</title>")
        self._circle(x, trunk, 4.5)
        right = x + width - INDENT - 4
        bottom, last = trunk + 16 + below, trunk
        for derivation in tap.derivations:
            if derivation.length >= SAME_PLACE_M:
                self._text(x + 7, bottom + 12, f"{_plain(derivation.length)} m", "soft")
                bottom += 18
            for device in derivation.devices:
                last, bottom = self._device(device, derivation, x, bottom, right)
                bottom += 6
        self._line("wire", x, trunk, x, last)
        self.parts.append("</g>")
        return bottom

    def _device(
        self, device: Device, derivation: Derivation, x: float, top: float, right: float
    ) -> tuple[float, float]:
        """A device's box to the right of its cable; the height of its stub, and its bottom."""
        left = x + INDENT
        names = wrapped(device.name, right - left - 2 * BOX_MARGIN, character=BOLD_CHARACTER)
        facts = _facts(device, self.leave_out)
        fitted = self._terminators_at(device, derivation)
        height = LINE * (len(names) + len(facts) + len(fitted)) + 6
        self.parts.append(f"<g><title>{escape(_said(device, self.leave_out))}</title>")
        self._line("wire", x, top + 11, left, top + 11)
        self._box(left, top, right - left, height, "box feed" if device.master else "box")
        for line, text in enumerate((*names, *facts)):
            kind = "name" if line < len(names) else ""
            self._text(left + BOX_MARGIN, top + 14 + LINE * line, text, kind)
        for line, each in enumerate(fitted, start=len(names) + len(facts)):
            y = top + 4 + LINE * line
            self._box(left + BOX_MARGIN, y, 6, _FITTED, "box feed")
            self._text(left + BOX_MARGIN + 11, y + 10, _ohm(each), "")
        self.parts.append("</g>")
        return top + 11, top + height

    def _terminators_at(self, device: Device, derivation: Derivation) -> Sequence[Terminator]:
        """The terminators at the end of a derivation; those of the trunk are drawn on it."""
        if derivation.length < SAME_PLACE_M:
            return ()
        return [each for each in self.network.terminators if each.at == device.name]

    def _legend(self, y: float) -> float:
        """Nothing is to be told apart: there is one cable."""
        return y


def _same(position: float, other: float) -> bool:
    return abs(position - other) < SAME_PLACE_M
