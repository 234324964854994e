"""A CANopen bus as an SVG line diagram: the bus in rows, stubs and nodes below it."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from html import escape
from typing import Final

from labkit.fieldbus.canopen.network import SAME_PLACE_M, Bus, BusNode
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

_TITLE: Final = "CANopen bus"
_BUS: Final = 46.0
"""Px from a row's top to its bus: positions stand above it."""
_END: Final = 66.0


def draw_bus(bus: Bus, *, leave_out: Collection[str] = (), width: float = WIDTH) -> str:
    """The bus as an SVG of `width` px (from 400), rows below one another.

    `leave_out`: any of "rate", "ids", "terminators".
    """
    words = bus_in_words(bus, leave_out)
    prefix = mark_of(f"{_TITLE}{words}{width:g}")
    return _Drawing(bus, leave_out, prefix, width).svg(_TITLE, words)


def draw_in_bands(bus: Bus, *, leave_out: Collection[str] = ()) -> tuple[str, ...]:
    """The same drawing for paper: an SVG for each row, so that a page may end between."""
    words = bus_in_words(bus, leave_out)
    prefix = mark_of(f"{_TITLE}{words} in bands")
    return tuple(_Drawing(bus, leave_out, prefix, ON_PAPER).bands(_TITLE, words))


def bus_in_words(bus: Bus, leave_out: Collection[str] = ()) -> str:
    """The whole bus in sentences, from its left end to its right end."""
    return " ".join(_sentences(bus, leave_out))


def _sentences(bus: Bus, leave_out: Collection[str]) -> Iterator[str]:
    rate = "" if "rate" in leave_out else f" at {bus.bit_rate_kbps:g} kbit/s"
    yield f"CANopen{rate}. Bus of {_plain(bus.length)} m."
    if bus.terminators and "terminators" not in leave_out:
        yield f"Terminators: {', '.join(f'at {_plain(at)} m' for at in bus.terminators)}."
    for node in bus.nodes:
        way = "in the bus" if node.stub < SAME_PLACE_M else f"stub of {_plain(node.stub)} m to"
        yield f"At {_plain(node.position)} m: {way} {_said(node, leave_out)}."


def _said(node: BusNode, leave_out: Collection[str]) -> str:
    return ", ".join((node.name, *_facts(node, leave_out)))


def _facts(node: BusNode, leave_out: Collection[str]) -> tuple[str, ...]:
    if node.node_id is None or "ids" in leave_out:
        return ()
    return (f"node-ID {node.node_id}",)


def _plain(value: float) -> str:
    """A number with at most two decimals and no trailing zeros."""
    return f"{round(value, 2) + 0.0:.8g}"


class _Drawing(Canvas):
    """One drawing being put together."""

    def __init__(self, bus: Bus, leave_out: Collection[str], prefix: str, width: float) -> None:
        super().__init__(prefix, width)
        self.bus = bus
        self.leave_out = leave_out
        self.terminators = () if "terminators" in leave_out else bus.terminators

    def _rows(self) -> tuple[Row, ...]:
        return rows_of(self._columns(), self.width - 2 * MARGIN)

    def _columns(self) -> list[Column]:
        """The nodes, the ends, and terminators where there is no node, left to right."""
        columns = [Column("tap", node.position, node, TAP_WIDTH) for node in self.bus.nodes]
        for at in (0.0, self.bus.length, *self.terminators):
            if not any(_same(column.position, at) for column in columns):
                columns.append(Column("end", at, None, _END))
        return sorted(columns, key=lambda column: column.position)

    def _summary(self) -> str:
        count = len(self.bus.nodes)
        told = [
            *([] if "rate" in self.leave_out else [f"{self.bus.bit_rate_kbps:g} kbit/s"]),
            f"bus {_plain(self.bus.length)} m",
            f"{count} node{'s' * (count != 1)}",
        ]
        return " · ".join(told) + " · not to scale"

    def _row(self, row: Row, index: int, top: float) -> float:
        bus = top + _BUS
        left = MARGIN + (LINK_WIDTH - 4 if row.from_before else row.columns[0].x)
        right = MARGIN + row.columns[-1].x
        if row.goes_on:
            right = self._right_edge(row) - LINK_WIDTH + 4
            self._link(self._right_edge(row) - LINK_WIDTH / 2 + 4, bus, index)
        if row.from_before:
            self._link(MARGIN + LINK_WIDTH / 2 - 4, bus, index - 1)
        self._line("cable thick", left, bus, right, bus)
        return max([bus + 30.0, *(self._column(column, bus) for column in row.columns)])

    def _column(self, column: Column, bus: float) -> float:
        """Draw one part of the bus; its bottom edge."""
        x, node = MARGIN + column.x, column.item
        anchor = "soft mid" if node is None else "soft"
        self._text(x - 4 * (node is not None), bus - 22, f"{_plain(column.position)} m", anchor)
        below = self._end(column, x, bus)
        if isinstance(node, BusNode):
            return self._node(node, x, bus, column.width, below)
        self._line("wire feed", x, bus - 8, x, bus + 8)
        return bus + 34 + below

    def _end(self, column: Column, x: float, bus: float) -> float:
        """Terminators at a column, or that an end is open; px that their words take below."""
        here = sum(1 for at in self.terminators if _same(at, column.position))
        end = any(_same(column.position, at) for at in (0.0, self.bus.length))
        words = ["terminator" if here == 1 else f"{here} terminators"] if here else []
        if here:
            self._box(x - TERMINATOR, bus - 13, 2 * TERMINATOR, 26, "box feed")
        elif end and "terminators" not in self.leave_out:
            words = ["open end"]
        beside = column.item is not None
        for line, text in enumerate(words):
            kind = "soft" if beside else "soft mid"
            self._text(x + 10 * beside, bus + 26 + LINE * line, text, kind)
        return LINE * len(words) + 4 * bool(words)

    def _node(self, node: BusNode, x: float, bus: float, width: float, below: float) -> float:
        """A node's box to the right of its stub; its bottom edge."""
        self._circle(x, bus, 4.5)
        top = bus + 16 + below
        if node.stub >= SAME_PLACE_M:
            self._text(x + 7, top + 12, f"{_plain(node.stub)} m", "soft")
            top += 18
        left, right = x + INDENT, x + width - INDENT - 4
        names = wrapped(node.name, right - left - 2 * BOX_MARGIN, character=BOLD_CHARACTER)
        facts = _facts(node, self.leave_out)
        height = LINE * (len(names) + len(facts)) + 6
        self.parts.append(f"<g><title>{escape(_said(node, self.leave_out))}</title>")
        self._line("wire", x, bus, x, top + 11)
        self._line("wire", x, top + 11, left, top + 11)
        self._box(left, top, right - left, height, "box")
        for line, text in enumerate((*names, *facts)):
            kind = "name" if line < len(names) else ""
            self._text(left + BOX_MARGIN, top + 14 + LINE * line, text, kind)
        self.parts.append("</g>")
        return top + height + 6

    def _legend(self, y: float) -> float:
        """Nothing is to be told apart: there is one cable."""
        return y


def _same(position: float, other: float) -> bool:
    return abs(position - other) < SAME_PLACE_M
