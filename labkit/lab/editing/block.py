"""The fields of one exercise changed in its text: what is not changed stays as it was written.

Notes, order, quotation marks and indents of all the rest stay, since pieces of the text are
replaced and nothing is written anew. What comes of it is read again: where it does not say what is
wanted, the fields that were changed are written whole; where that does not help either, none is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import yaml

from labkit.errors import LabkitError
from labkit.lab.editing.scalar import WIDTH, Spot, written
from labkit.lab.editing.spans import Spans, is_flow, named, read
from labkit.lab.editing.wanted import Row, Wanted, Written, as_typed, same
from labkit.lab.reading.source import read_fields
from labkit.language.problems import DefinitionError

_NOT_SO: Final = (
    "The form cannot write this so that it reads as you typed it. Write it in the file itself."
)


class UnwritableError(LabkitError):
    """What is wanted cannot be written in the place of what stands there."""


def changed(text: str, wanted: dict[str, Wanted], order: Sequence[str]) -> str:
    """The lines of a block with other values; fields that are new stand in this order.

    Raises `UnwritableError`, and `DefinitionError` where the lines cannot be read as they are now.
    """
    data = read_fields(text, "", 1).data
    if same(data, wanted):
        return text
    other = {name for name in wanted if name not in data or not same(data[name], wanted[name])}
    for whole in (frozenset[str](), frozenset(other)):
        new = _edited(text, wanted, order, whole)
        if _says(new, wanted):
            return new
    raise UnwritableError(_NOT_SO)


def fresh(wanted: dict[str, Wanted], order: Sequence[str]) -> str:
    """The lines of a new block. Raises `UnwritableError`."""
    text = "".join(f"{entry(name, wanted[name], 0)}\n" for name in _in_order(wanted, order))
    if not _says(text, wanted):
        raise UnwritableError(_NOT_SO)
    return text


def _says(text: str, wanted: Wanted) -> bool:
    try:
        return same(read_fields(text, "", 1).data, wanted)
    except DefinitionError:
        return False


def entry(name: str, wanted: Wanted, column: int) -> str:
    """A field with its value, the name in this column; it ends without a line end."""
    if isinstance(wanted, Written):
        return f"{name}:{wanted.behind_its_name(column + 2)}"
    if isinstance(wanted, str):
        return f"{name}: {written(wanted, Spot(name, column + 2))}"
    if not wanted:
        return f"{name}: {_between(name, wanted)}"
    blanks = " " * (column + 2)
    if isinstance(wanted, dict):
        below = [entry(inner, value, column + 2) for inner, value in wanted.items()]
    else:
        below = [_item(name, row.now, column + 2) for row in wanted]
    return "\n".join([f"{name}:", *(blanks + line for line in below)])


def _item(name: str, now: Wanted, column: int) -> str:
    """An item of the list `name`, its '-' in this column."""
    if isinstance(now, str):
        return f"- {written(now, Spot(name, column + 2, is_item=True))}"
    if isinstance(now, Written):
        return f"-{now.behind_its_name(column + 2)}"
    if not isinstance(now, dict) or not now:
        return f"- {_between(name, now)}"
    first, *others = [entry(inner, value, column + 2) for inner, value in now.items()]
    return "\n".join([f"- {first}", *(" " * (column + 2) + each for each in others)])


def _between(name: str, wanted: Wanted, *, is_item: bool = False) -> str:
    """A value as it stands between braces or brackets."""
    if isinstance(wanted, str):
        return written(wanted, Spot(name, 2, is_item=is_item, between=True))
    if isinstance(wanted, Written):
        return " ".join(wanted.lines.split())
    if isinstance(wanted, list):
        return f"[{', '.join(_between(name, row.now, is_item=True) for row in wanted)}]"
    return f"{{{', '.join(f'{inner}: {_between(inner, now)}' for inner, now in wanted.items())}}}"


def _in_order(names: Iterable[str], order: Sequence[str]) -> list[str]:
    """Names in an order; others come last."""
    return sorted(names, key=lambda name: order.index(name) if name in order else len(order))


@dataclass(frozen=True, slots=True)
class _Edit:
    """Between two places of the text, what stands there from now on."""

    start: int
    end: int
    text: str


def _edited(
    text: str, wanted: Mapping[str, Wanted], order: Sequence[str], whole: frozenset[str]
) -> str:
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    if not isinstance(root, yaml.MappingNode) or root.flow_style:
        return "".join(f"{entry(name, wanted[name], 0)}\n" for name in _in_order(wanted, order))
    editing = _Editing(Spans(text))
    editing.group(root, wanted, order, whole)
    return editing.applied(0, len(text))


@dataclass(slots=True)
class _Editing:
    """Finds what must be changed in a text."""

    spans: Spans
    edits: list[_Edit] = field(default_factory=list)

    def applied(self, start: int, end: int) -> str:
        """A piece of the text with what is changed in it."""
        pieces = []
        for edit in sorted(self.edits, key=lambda each: (each.start, each.end)):
            pieces += [self.spans.text[start : edit.start], edit.text]
            start = edit.end
        return "".join([*pieces, self.spans.text[start:end]])

    def group(
        self,
        node: yaml.MappingNode,
        wanted: Mapping[str, Wanted],
        order: Sequence[str],
        whole: frozenset[str] = frozenset(),
    ) -> None:
        """The fields of a group; those in `whole` are written anew."""
        there = named(node)
        if node.flow_style and there.keys() != wanted.keys():
            self._flow_group(node, wanted, order)
            return
        for name, (key, value) in there.items():
            if name not in wanted:
                self._take_out(node, name)
            elif name in whole or not self._fits(value, wanted[name]):
                now = wanted[name]
                between = f"{name}: {_between(name, now)}" if node.flow_style else ""
                new = between or entry(name, now, key.start_mark.column)
                self._put(key.start_mark.index, self.spans.end_of(value), new)
            else:
                spot = Spot(name, key.start_mark.column + 2, between=bool(node.flow_style))
                self._value(value, wanted[name], spot)
        column = node.start_mark.column
        for name in _in_order([each for each in wanted if each not in there], order):
            after = there[_before(name, [*there], order)][1]
            at = self.spans.line_after(self.spans.end_of(after))
            self._put(at, at, f"{' ' * column}{entry(name, wanted[name], column)}\n")

    def _put(self, start: int, end: int, text: str) -> None:
        self.edits.append(_Edit(start, end, text))

    def _fits(self, node: yaml.Node, wanted: Wanted) -> bool:
        """Whether a value can stay what it is, with other contents."""
        if isinstance(wanted, Written):
            return wanted.lines == self.spans.lines(node)
        kinds = ((str, yaml.ScalarNode), (dict, yaml.MappingNode), (list, yaml.SequenceNode))
        return any(isinstance(wanted, of) and isinstance(node, one) for of, one in kinds)

    def _value(self, node: yaml.Node, wanted: Wanted, spot: Spot) -> None:
        if isinstance(wanted, str) and isinstance(node, yaml.ScalarNode):
            self._scalar(node, wanted, spot)
        elif isinstance(wanted, dict) and isinstance(node, yaml.MappingNode):
            self.group(node, wanted, [*wanted])
        elif isinstance(wanted, list) and isinstance(node, yaml.SequenceNode):
            if node.flow_style:
                self._flow_list(node, wanted, spot.name)
            else:
                self._list(node, wanted, spot.name)

    def _scalar(self, node: yaml.ScalarNode, wanted: str, spot: Spot) -> None:
        if as_typed(read(node)) == as_typed(wanted):
            return
        start, end = node.start_mark.index, self.spans.end_of(node)
        text = written(wanted, spot, self.spans.text[start:end], node.style)
        self._put(start, end, text if end > start else f" {text}")

    def _take_out(self, node: yaml.MappingNode, name: str) -> None:
        key, value = named(node)[name]
        start = self.spans.line_of(key.start_mark.index)
        if not self.spans.text[start : key.start_mark.index].strip():
            self._put(start, self.spans.line_after(self.spans.end_of(value)), "")
            return
        # Behind the '-' of an item: the next field comes in its place.
        names = [*named(node)]
        following = names[names.index(name) + 1 :]
        if not following:
            raise UnwritableError(_NOT_SO)
        self._put(key.start_mark.index, named(node)[following[0]][0].start_mark.index, "")

    def _list(self, node: yaml.SequenceNode, rows: Sequence[Row], name: str) -> None:
        places = self.spans.items(node)
        column = node.start_mark.column
        if [row.was for row in rows] == [*range(len(places))]:
            for row, item, (_, dash, _) in zip(rows, node.value, places, strict=True):
                self._in_list(item, row.now, name, dash, column)
            return
        pieces = []
        left = dict(enumerate(places))
        for row in rows:
            place = left.pop(row.was, None) if row.was is not None else None
            if row.was is None or place is None:
                pieces.append(f"{' ' * column}{self._new_item(node, row.now, name)}\n")
                continue
            inner = _Editing(self.spans)
            inner._in_list(node.value[row.was], row.now, name, place[1], column)
            pieces.append(inner.applied(place[0], place[2]))
        self._put(places[0][0], places[-1][2], "".join(pieces))

    def _in_list(self, item: yaml.Node, now: Wanted, name: str, dash: int, column: int) -> None:
        if self._fits(item, now):
            self._value(item, now, Spot(name, column + 2, is_item=True))
        else:
            self._put(dash, self.spans.end_of(item), _item(name, now, column))

    def _new_item(self, node: yaml.SequenceNode, now: Wanted, name: str) -> str:
        """A new item, in one line where the last one is so and it has room there."""
        column = node.start_mark.column
        if isinstance(now, dict) and node.value and is_flow(node.value[-1]):
            line = f"- {_between(name, now)}"
            if column + len(line) <= WIDTH:
                return line
        return _item(name, now, column)

    def _flow_list(self, node: yaml.SequenceNode, rows: Sequence[Row], name: str) -> None:
        if [row.was for row in rows] == [*range(len(node.value))]:
            for row, item in zip(rows, node.value, strict=True):
                self._flow_value(item, row.now, Spot(name, 2, is_item=True, between=True))
            return
        pieces = []
        for row in rows:
            known = row.was is not None and row.was < len(node.value)
            item = node.value[row.was] if known else None
            pieces.append(self._flow_piece(item, row.now, Spot(name, 2, True, True)))
        start, end = node.start_mark.index, node.end_mark.index
        self._put(start, end, f"[{', '.join(pieces)}]")

    def _flow_group(
        self, node: yaml.MappingNode, wanted: Mapping[str, Wanted], order: Sequence[str]
    ) -> None:
        """Between braces a field comes or goes: each keeps what is written of it."""
        there = named(node)
        names = [name for name in there if name in wanted]
        for name in _in_order([each for each in wanted if each not in there], order):
            at = names.index(_before(name, names, order)) + 1 if names else 0
            names.insert(at, name)
        pieces = []
        for name in names:
            value = there[name][1] if name in there else None
            piece = self._flow_piece(value, wanted[name], Spot(name, 2, between=True))
            pieces.append(f"{name}: {piece}")
        start, end = node.start_mark.index, node.end_mark.index
        self._put(start, end, f"{{{', '.join(pieces)}}}")

    def _flow_piece(self, node: yaml.Node | None, now: Wanted, spot: Spot) -> str:
        if node is None:
            return _between(spot.name, now, is_item=spot.is_item)
        inner = _Editing(self.spans)
        inner._flow_value(node, now, spot)
        return inner.applied(node.start_mark.index, node.end_mark.index)

    def _flow_value(self, node: yaml.Node, now: Wanted, spot: Spot) -> None:
        if self._fits(node, now):
            self._value(node, now, spot)
        else:
            text = _between(spot.name, now, is_item=spot.is_item)
            self._put(node.start_mark.index, node.end_mark.index, text)


def _before(name: str, there: Sequence[str], order: Sequence[str]) -> str:
    """The field behind which a new one stands: the nearest that comes before it in the order."""
    ranks = {each: order.index(each) if each in order else len(order) for each in (name, *there)}
    earlier = [each for each in there if ranks[each] <= ranks[name]]
    return max(earlier, key=lambda each: ranks[each]) if earlier else there[0]
