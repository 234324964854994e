"""Fields that can be read, but as something else than what stands there.

A text cut off by '#', a sign that vanishes, a comma that parts a number in two: nothing fails, and
a trainee would see half a question. So such fields are refused with what to write, except in a
definition that was dealt already.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import takewhile
from typing import Final

import yaml

from labkit.lab.reading.mistyped_lines import braces_begin, in_quotes, is_text_field

_COMMA: Final = re.compile(r"[+-]?\d+,\d+")
_LONGEST: Final = 300
"""So many characters of a text are looked at, and shown: a stranger's file may be one long line."""
_NUMBERS: Final = frozenset({"from", "to", "step", "value", "tolerance", "one of"})
"""Fields of numbers; a decimal comma in any other number is refused where it is read."""

_NOTE: Final = re.compile(r"\s+#.*$")
Path = tuple[str | int, ...]
Told = tuple[str, str]


def misread_value(node: yaml.Node, path: Path, text: str) -> Told | None:
    """What is wrong with a value in a text, and its mend; None where it is what it looks like."""
    name = next((str(step) for step in reversed(path) if isinstance(step, str)), "")
    if isinstance(node, yaml.ScalarNode):
        return (
            _sign_gone(node, name, text)
            or _cut_by_note(node, name, text)
            or _comma_in_number(node, name)
            or _blanks_only(node, name)
        )
    if isinstance(node, yaml.SequenceNode):
        return _commas_in_list(node, text)
    return None


def misread_name(name: str) -> Told | None:
    """What is wrong with a field's name that no eye sees."""
    if name == name.strip("\u00a0\u2002\u2003\u2009\u202f\u3000\u200b"):
        return None
    return (
        "this line begins with an invisible character that is no blank.",
        f"Take it out, and type blanks before '{name.strip()}'.",
    )


def misread_field(
    pairs: Sequence[tuple[yaml.Node, yaml.Node]], at: int, before: tuple[str, str], around: str
) -> Told | None:
    """What is wrong with the field `at` between braces; `before` is the name and value before it.

    A field without a value there is what a comma has cut off, with all that such ones follow it;
    the first one is no field at all, but the value of the field `around`.
    """
    name = str(pairs[at][0].value)
    if not _is_bare(pairs[at]) or (at > 1 and _is_cut(pairs[at - 1])):
        return None
    if at == 0 and ":" not in name:
        if is_text_field(around):
            return (
                "a text that begins with '{' is read as something else.",
                f"Put it in quotation marks: {around}: {in_quotes('{' + name + '}')}",
            )
        return "a formula stands without braces here.", f"Write '{around}: {name}'."
    of, value = before
    if name.isdecimal() and re.fullmatch(r"[+-]?\d+", value):
        return _point(f"{value},{name}")
    gap = re.fullmatch(r"(\w[\w ]*):(\S+)", name)
    if gap:
        return "a blank is missing behind the colon.", f"Write '{gap[1]}: {gap[2]}'."
    whole = ", ".join([value, *(str(key.value) for key, _ in takewhile(_is_cut, pairs[at:]))])[
        :_LONGEST
    ]
    listed = re.fullmatch(r"\(([^()]*)\)", whole)
    if listed:
        return "a list stands in square brackets.", f"Write [{listed[1]}]."
    what = "text" if is_text_field(of) else "whole of it"
    return (
        f"the comma before '{name}' begins another field.",
        f"Put the {what} in quotation marks: {of}: {in_quotes(whole.strip(', '))}",
    )


def _is_bare(pair: tuple[yaml.Node, yaml.Node]) -> bool:
    """Whether a field between braces has no value at all."""
    value = pair[1]
    return isinstance(value, yaml.ScalarNode) and value.value == "" and not value.style


def _is_cut(pair: tuple[yaml.Node, yaml.Node]) -> bool:
    """Whether it is what a comma has cut off, and no field of which a blank is missing."""
    return _is_bare(pair) and ":" not in str(pair[0].value)


def _sign_gone(node: yaml.ScalarNode, name: str, text: str) -> Told | None:
    rest = _line_from(node, text)
    first = rest[:1]
    # A picture's words are put back where the field is read.
    if first not in ("&", "!") or rest.startswith("!["):
        return None
    return (
        f"a text that begins with '{first}' is read as something else.",
        f"Put it in quotation marks: {name}: {in_quotes(rest)}",
    )


def _cut_by_note(node: yaml.ScalarNode, name: str, text: str) -> Told | None:
    """A text with one blank before '#': a note of one's own has two, or stands on its own line."""
    if node.style or not is_text_field(name):
        return None
    behind = _text(text, node.end_mark).split("\n", 1)[0]
    cut = re.match(r" #.*", behind)
    if cut is None or not (node.value or "#" in behind):
        return None
    whole = f"{node.value}{cut[0]}".strip()
    return (
        "the text is cut off at '#', where a note begins.",
        f"Put it in quotation marks: {name}: {in_quotes(whole)} (a note takes two blanks before "
        "its '#').",
    )


def _comma_in_number(node: yaml.ScalarNode, name: str) -> Told | None:
    written = re.fullmatch(rf"({_COMMA.pattern})(\s*%?)", node.value.strip())
    if written and name in _NUMBERS and not node.style:
        return _point(written[1], written[2])
    return None


def _commas_in_list(node: yaml.SequenceNode, text: str) -> Told | None:
    """[0,5, 1,5] is four numbers: where only some commas have a blank, nobody can tell."""
    if not node.flow_style:
        return None
    length = node.end_mark.index - node.start_mark.index
    written = _text(text, node.start_mark)[:length]
    plain = written.endswith("]") and not any(mark in written[1:-1] for mark in "[]'\"")
    if not plain or ", " not in written or not re.search(r"\d,\d", written):
        return None
    return (
        f"in {written} some commas have a blank behind them and some do not.",
        f"Write numbers with a point ({_pointed(written)}), or a blank behind every comma.",
    )


def _blanks_only(node: yaml.ScalarNode, name: str) -> Told | None:
    if node.value and not node.value.strip() and is_text_field(name):
        return "is empty.", what_goes_into(name)
    return None


def what_goes_into(name: str, *, needed: bool = False) -> str:
    """What an author is told to write into an empty field; one that is `needed` has to stay."""
    usual = (
        "Write something: it is needed." if needed else "Write something, or leave the line out."
    )
    return _INTO.get(name, usual)


_INTO: Final = {
    "tell": "Write what a trainee is told who answers so.",
    "question": "Write the question: what the trainee is asked.",
    "title": "Write the title: a few words.",
    "working": "Write how the right answer is found; a trainee sees it afterwards.",
    "text": "Write the text of this hint, option or item.",
    "answer": "Write the formula that gives the right answer, such as 'answer: 2 * length'.",
    "because": "Write the reason.",
    "source": "Write where the value is from.",
}


def _point(number: str, behind: str = "") -> Told:
    written = number.replace(",", ".") + behind
    return f"'{number}{behind}' has a decimal comma.", f"Write {written} with a point."


def _pointed(text: str) -> str:
    return re.sub(r"(\d),(\d)", r"\1.\2", text)


def _line_from(node: yaml.Node, text: str) -> str:
    return _text(text, node.start_mark).split("\n", 1)[0].strip()


def _text(text: str, mark: yaml.Mark) -> str:
    """The text from a place on."""
    return text[mark.index : mark.index + _LONGEST]


def braces_as_value(node: yaml.Node, name: str, text: str) -> Told | None:
    """A value that begins with {{ and could be read: as braces within braces."""
    value = _line_from(node, text)
    return braces_begin(name, _NOTE.sub("", value)) if value.startswith("{{") else None
