"""Where the values of a block's fields stand in its text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import yaml


@dataclass(frozen=True, slots=True)
class Spans:
    """The lines of a block, as one text."""

    text: str

    def end_of(self, node: yaml.Node) -> int:
        """The place behind a value: before the notes and the line ends that follow it."""
        if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
            last = node.value[-1]
            return self.end_of(last[1] if isinstance(node, yaml.MappingNode) else last)
        end: int = node.end_mark.index
        if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
            return node.start_mark.index + len(self.text[node.start_mark.index : end].rstrip())
        return end

    def line_of(self, place: int) -> int:
        """Where the line begins in which a place is."""
        return self.text.rfind("\n", 0, place) + 1

    def line_after(self, place: int) -> int:
        """Where the next line begins."""
        end = self.text.find("\n", place)
        return len(self.text) if end < 0 else end + 1

    def lines(self, node: yaml.Node) -> str:
        """A value's lines as they are written, moved to the left."""
        start = node.start_mark.index
        first, *others = self.text[start : self.end_of(node)].split("\n")
        least = min((len(line) - len(line.lstrip()) for line in others if line.strip()), default=0)
        if isinstance(node, yaml.CollectionNode) and not node.flow_style:
            least = min(least, node.start_mark.column)
        return "\n".join([first, *(line[least:] for line in others)])

    def items(self, node: yaml.SequenceNode) -> list[tuple[int, int, int]]:
        """Of each item of a list below its name: where its lines begin, its '-', where they end.

        The notes above an item are of its lines.
        """
        column = node.start_mark.column
        found: list[tuple[int, int, int]] = []
        for item in node.value:
            line = self.line_of(item.start_mark.index)
            while self.text[line + column : line + column + 1] != "-":
                line = self.line_of(line - 1)
            begins = found[-1][2] if found else self._with_notes(line)
            found.append((begins, line + column, self.line_after(self.end_of(item))))
        return found

    def _with_notes(self, line: int) -> int:
        while line:
            above = self.line_of(line - 1)
            if not self.text[above:line].lstrip().startswith("#"):
                break
            line = above
        return line


def is_flow(node: yaml.Node) -> bool:
    """Whether a value stands between braces or brackets."""
    return isinstance(node, yaml.CollectionNode) and bool(node.flow_style)


def read(node: yaml.ScalarNode) -> str:
    """A text as the definition's reader gets it."""
    if node.tag.startswith("!["):
        return f"{node.tag} {node.value}".strip()  # the first word of a picture
    return str(node.value)


def named(node: yaml.MappingNode) -> dict[str, tuple[yaml.Node, yaml.Node]]:
    """The fields of a group: the name and the value of each."""
    entries: list[Any] = node.value
    return {str(key.value): (key, value) for key, value in entries}
