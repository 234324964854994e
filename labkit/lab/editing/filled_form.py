"""What a form shows of a block, and what it sends back.

A value is text; or `{"lines": …}`, which stand in the file as they are; or a group of values; or a
list of `{"was": …, "now": …}`, which say which item of the list in the file each was.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

import yaml

from labkit.errors import LabkitError
from labkit.lab.editing.shape import KIND, FieldShape
from labkit.lab.editing.spans import Spans, named, read
from labkit.lab.editing.wanted import Row, Wanted, Written, as_typed
from labkit.language.problems import Problem

_TEXTS: Final = ("text", "number", "yes or no", "one of")
_MOST_ROWS: Final = 500
_STEP: Final = re.compile(r"number (\d+)")


class NoFormError(LabkitError):
    """What was sent is no form of these fields."""


def values_of(text: str, fields: Sequence[FieldShape]) -> dict[str, Any]:
    """The values of a block's lines, fields that its kind does not know among them."""
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    if not isinstance(root, yaml.MappingNode):
        return {}
    values = _group(root, fields, Spans(text))
    values.pop(KIND, None)
    return values


def _group(node: yaml.MappingNode, fields: Sequence[FieldShape], spans: Spans) -> dict[str, Any]:
    known = {field.name: field for field in fields}
    return {name: _value(value, known.get(name), spans) for name, (_, value) in named(node).items()}


def _value(node: yaml.Node, field: FieldShape | None, spans: Spans) -> Any:
    form = field.form if field else "as written"
    if form in _TEXTS and isinstance(node, yaml.ScalarNode):
        return as_typed(read(node))
    if field and form == "group" and isinstance(node, yaml.MappingNode):
        return _group(node, field.fields, spans)
    if field and form in ("texts", "rows") and isinstance(node, yaml.SequenceNode):
        one = yaml.ScalarNode if form == "texts" else yaml.MappingNode
        lines = spans.lines(node)
        noted = node.flow_style and "\n" in lines and "#" in lines  # perhaps a note between items
        if all(isinstance(item, one) for item in node.value) and not noted:
            return [
                {"was": number, "now": _item(item, field, spans)}
                for number, item in enumerate(node.value)
            ]
    return {"lines": spans.lines(node)}


def _item(node: yaml.Node, field: FieldShape, spans: Spans) -> Any:
    if isinstance(node, yaml.ScalarNode):
        return as_typed(read(node))
    assert isinstance(node, yaml.MappingNode)
    return _group(node, field.fields, spans)


def wanted_of(said: Any, fields: Sequence[FieldShape], kind: str, old: Any) -> dict[str, Wanted]:
    """What a form wants to be written. `old` are the block's data now. Raises `NoFormError`."""
    return {KIND: kind, **_wanted_group(said, fields, old)}


def _wanted_group(said: Any, fields: Sequence[FieldShape], old: Any) -> dict[str, Wanted]:
    if not isinstance(said, dict):
        raise NoFormError("That is no form of this page.")
    before = old if isinstance(old, dict) else {}
    known = {field.name: field for field in fields}
    wanted: dict[str, Wanted] = {}
    for name in [*known, *(name for name in before if name not in known)]:
        if name in said:
            now = _wanted(said[name], known.get(name), before.get(name))
            if now is not None:
                wanted[name] = now
    return wanted


def _wanted(said: Any, field: FieldShape | None, old: Any) -> Wanted | None:
    """The value of a field; None where it is not to be written."""
    if said in (None, [], {}):
        return old if old in ([], {}) else None
    if isinstance(said, str):
        kept = said or old == "" or (field is not None and field.needed)
        return _text(said) if kept else None
    if isinstance(said, dict) and said.keys() == {"lines"}:
        lines = _text(said["lines"])
        return Written(lines) if lines.strip() else None
    if field is not None and field.form == "group":
        return _wanted_group(said, field.fields, old) or _wanted(None, field, old)
    if field is not None and field.form in ("texts", "rows") and isinstance(said, list):
        items = old if isinstance(old, list) else []
        return [_row(each, field, items) for each in said[:_MOST_ROWS]]
    raise NoFormError("That is no form of this page.")


def _row(said: Any, field: FieldShape, items: Sequence[Any]) -> Row:
    if not isinstance(said, dict) or said.keys() != {"was", "now"}:
        raise NoFormError("That is no form of this page.")
    was, now = said["was"], said["now"]
    known = type(was) is int and 0 <= was < len(items)
    if field.form == "texts":
        return Row(was if known else None, _text(now))
    group = _wanted_group(now, field.fields, items[was] if known else None)
    return Row(was if known else None, group)


def _text(said: Any) -> str:
    if not isinstance(said, str):
        raise NoFormError("That is no form of this page.")
    try:
        said.encode()
    except UnicodeEncodeError as error:
        raise NoFormError("A text holds a sign that no file can keep: type it again.") from error
    return as_typed(said)


def unreadable(
    wanted: Wanted, path: tuple[str | int, ...] = ()
) -> Iterator[tuple[tuple[str | int, ...], Problem]]:
    """Lines as they stand in the file that cannot be read: of which field, and why."""
    if isinstance(wanted, Written):
        if problem := wanted.problem:
            yield path, problem
    elif isinstance(wanted, dict):
        for name, inner in wanted.items():
            yield from unreadable(inner, (*path, name))
    elif isinstance(wanted, list):
        for number, row in enumerate(wanted):
            yield from unreadable(row.now, (*path, number))


def path_of(field: str) -> list[str | int]:
    """The steps to a field from how a problem names it: "slips → number 2 → id"."""
    steps = field.rpartition("': ")[2].split(" → ")
    return [_step(step) for step in steps if step]


def _step(step: str) -> str | int:
    number = _STEP.fullmatch(step)
    return int(number[1]) - 1 if number else step


def names_of(fields: Iterable[FieldShape]) -> list[str]:
    """The order in which fields stand in a new block."""
    return [KIND, *(field.name for field in fields)]
