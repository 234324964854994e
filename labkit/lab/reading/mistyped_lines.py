"""Lines of fields that cannot be read: what is wrong in them, in an author's words.

The reader of fields stops where it can go on no longer, often a line or more below the mistake,
and names what it looked for, which tells an author nothing. So the lines around are looked at once
more, each by itself, for what people mistype.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

_FIELD: Final = re.compile(r"( *)((?:- +)*)(?!- )([^\s:#'\"{\[][^:#]*?):(?:[ ]+(.*))?$")
_BLOCK: Final = re.compile(r"[>|][+-]?\d?[+-]?\s*(#.*)?$")
_MARGIN: Final = re.compile(r"\s*")
_NOTE: Final = re.compile(r"\s+#.*$")
_BEGINS_NO_TEXT: Final = "*&!%@`>|?,]}"
_QUOTED: Final = re.compile(
    r"""(?<=[\[{,:\s])('(?:[^']|'')*'|"(?:[^"\\]|\\.)*")(?=\s*(?:[,\]}:]|$))"""
)
_BARE_BRACES: Final = re.compile(r"([a-z][a-z_ ]*): +((?:[^,{}\[\]]*\{\{[^{}]*\}\})+[^,{}\[\]]*)")
_BARE_PLACE: Final = re.compile(
    r"""([a-z][a-z_ ]*): +([^'"{}\[\],: ][^'"{}\[\],:()]*(?:\([^()]*\))?\[[^\[\]]*\][^,{}\[\]]*)"""
)
"""Between brackets: a text that holds {{ }}, a formula such as names[0]; neither in quotes."""
_LISTED: Final = re.compile(r"([a-z][a-z_ ]*): +(\[(?:[^\[\]]|\[[^\[\]]*\])*\])")
"""A list, which may hold such a formula."""
_LONGEST: Final = 2_000
"""Characters of a line that is looked at: a stranger may send one without end."""
_CLOSING: Final = {"[": "]", "{": "}", "(": ")"}
_ONE_WORD: Final = re.compile(r"[a-z][a-z_]*( [a-z]+)?")
_DASHES: Final = "\u2013\u2014\u2212\u2022\u00b7\u25aa\u2010\u2011"
"""Long dashes, a minus sign, bullets and hyphens that are not the keyboard's."""
_FLOW_MEND: Final = (
    "Put a comma between two fields, and put a text that holds ': ' or a comma in quotation marks."
)


@dataclass(frozen=True, slots=True)
class Mistyped:
    """A line, counted from 0, what is wrong in it, and how to write it."""

    line: int
    message: str
    mend: str


def mistyped(
    lines: Sequence[str], stopped: int, begun: int | None, *, flow: bool
) -> Mistyped | None:
    """What is mistyped near the line where reading `stopped`.

    What was being read had `begun` in another line; `flow` says that this was between brackets.
    """
    inside = set(_in_blocks(lines))
    order = [stopped, *([] if begun is None else [begun]), *range(stopped - 1, -1, -1)]
    for number in dict.fromkeys(number for number in order if number < len(lines)):
        line = lines[number]
        if number in inside or len(line) > _LONGEST:
            continue
        found = _wrong_in(line, _own_margin(lines, number) if "\t" in line else 0)
        if found:
            return Mistyped(number, *found)
    if flow and begun is not None:
        return _wrong_between(lines, begun, stopped)
    if begun is not None and begun not in inside and not _FIELD.match(lines[begun]):
        return _no_field(lines, begun)
    return _wrong_margin(lines, stopped, inside)


def in_quotes(text: str) -> str:
    """The text as a field takes it whole, whatever it holds."""
    if '"' not in text and "\\" not in text:
        return f'"{text}"'
    return "'" + text.replace("'", "''") + "'"


def _in_blocks(lines: Sequence[str]) -> Iterator[int]:
    """The lines that are text under a '>' or '|'."""
    margin: int | None = None
    for number, line in enumerate(lines):
        if not line.strip():
            continue
        own = len(line) - len(line.lstrip(" "))
        if margin is not None and own > margin:
            yield number
            continue
        field = _FIELD.match(line)
        margin = None
        if field and _BLOCK.match(field[4] or ""):
            margin = own


def _own_margin(lines: Sequence[str], number: int) -> int:
    """How far in a line should begin: as the field above, or below that if it has no value."""
    for line in reversed(lines[:number]):
        field = _FIELD.match(line)
        if field:
            return _margin(line) + (0 if field[4] else 2)
    return 0


def _wrong_in(line: str, margin: int) -> tuple[str, str] | None:
    """What is wrong in a line by itself, and the line mended, so far in."""
    if not line.strip() or line.lstrip().startswith("#"):
        return None
    begins = _MARGIN.match(line)
    assert begins is not None
    own, rest = begins[0], line[begins.end() :]
    if "\t" in own:
        blanks = " " * margin
        return (
            "this line begins with a tab.",
            f"An indent is made of blanks: write '{blanks}{rest.strip()}'.",
        )
    if own.strip(" "):
        return (
            "this line begins with an invisible character that is no blank.",
            f"Take it out, and type blanks: '{' ' * len(own)}{rest.strip()}'.",
        )
    return _wrong_dash(own, rest) or _wrong_colon(rest) or _wrong_value(rest)


def _wrong_dash(own: str, rest: str) -> tuple[str, str] | None:
    if rest[0] in _DASHES:
        return (
            f"an item of a list begins with '-', not with '{rest[0]}'.",
            f"Write '{own}- {rest[1:].strip()}'.",
        )
    if re.match(r"-[A-Za-z]", rest):
        return "a blank is missing behind the '-'.", f"Write '{own}- {rest[1:].strip()}'."
    if rest.startswith("//"):
        return "a note begins with '#'.", f"Write '{own}# {rest[2:].strip()}'."
    if rest.startswith("**"):
        return (
            "this line is no field: between the fields nothing else may stand.",
            "Write it under 'question:', or above the block; a note for yourself begins with '#'.",
        )
    return None


def _wrong_colon(rest: str) -> tuple[str, str] | None:
    """A field of which the colon is missing, or what stands around it."""
    bare = rest.lstrip("- ")
    found = re.match(r"([a-z][a-z_ ]*?)\s*([:=\uff1a])(\s*)(\S.*)?$", bare)
    if found is None:
        return None
    name, mark, gap, value = found[1], found[2], found[3], found[4] or ""
    if mark == "=" and _ONE_WORD.fullmatch(name):
        return f"'{name}' and its value are parted by ':', not by '='.", f"Write '{name}: {value}'."
    if mark == "\uff1a":
        return "this colon is a wide one, of another script.", f"Write '{name}: {value}'."
    if mark == ":" and value and not gap and _ONE_WORD.fullmatch(name) and "://" not in bare:
        return "a blank is missing behind the colon.", f"Write '{name}: {value}'."
    if mark == ":" and gap.strip(" "):
        kind = "a tab" if "\t" in gap else "an invisible character that is no blank"
        return f"behind the colon stands {kind}.", f"Type one blank there: '{name}: {value}'."
    return None


def _wrong_value(rest: str) -> tuple[str, str] | None:
    """What a value begins with or holds, so that it is no text."""
    field = _FIELD.match(rest)
    if field is None or not field[4]:
        return None
    name, value = field[3], field[4].strip()
    if value.startswith("#"):
        return None
    if value[0] in "\"'":
        return _wrong_quotes(name, value)
    if value.startswith("{{"):
        return braces_begin(name, value)
    if value[0] in "{[":
        return _wrong_brackets(name, value)
    bare = _NOTE.sub("", value)
    written = f"{name}: {in_quotes(bare)}"
    if value[0] in _BEGINS_NO_TEXT and not _BLOCK.match(value):
        return (
            f"a text that begins with '{value[0]}' is read as something else.",
            f"Put it in quotation marks: {written}",
        )
    if re.match(r"[-?](\s|$)", value):
        return (
            f"a text that begins with '{value[0]}' is read as something else.",
            f"Put it in quotation marks: {written}",
        )
    if re.search(r":(\s|$)", bare):
        return (
            "a text that holds ': ' is read as another field.",
            f"Put it in quotation marks: {written}",
        )
    return None


def braces_begin(name: str, value: str) -> tuple[str, str]:
    """What to tell where a value begins with {{: a text in quotes, or a formula without braces."""
    if value.endswith("}") and value.count("}") > value.count("{"):
        value = re.sub(r"(\}\}[^,{}]*)[,}].*", r"\1", value)  # other fields between the brackets
    if "}}" not in value:
        return (
            "two braces are opened here, and two never closed.",
            f"Write one: {name}: {value[1:]}",
        )
    whole = re.fullmatch(r"\{\{\s*(.*?)\s*\}\}", value)
    if whole and "{{" not in whole[1] and not is_text_field(name):
        return (
            "a formula in a field of its own stands without {{ }}.",
            f"Write '{name}: {whole[1]}'.",
        )
    return (
        "a text that begins with '{{' is read as something else.",
        f"Put it in quotation marks: {name}: {in_quotes(value)}",
    )


def is_text_field(name: str) -> bool:
    """Whether a field of this name holds a text that people read."""
    return name in TEXT_FIELDS


TEXT_FIELDS: Final = frozenset(
    {"title", "summary", "question", "working", "text", "tell", "because", "caution", "look_for"}
    | {"source", "breaks", "by", "model"}
)


def _wrong_quotes(name: str, value: str) -> tuple[str, str] | None:
    mark = value[0]
    pieces = r'"(?:[^"\\]|\\.)*"' if mark == '"' else r"'(?:[^']|'')*'"
    whole = re.match(pieces, value)
    if whole is None:
        return (
            f"the quotation mark {mark} before this text does not end.",
            f"Write {mark} behind the text too: {name}: {in_quotes(value[1:])}",
        )
    behind = value[whole.end() :]
    if not behind.strip() or re.match(r"\s+#", behind):
        return None
    if mark == "'" and value.endswith("'") and value.count("'") % 2:
        return (
            "the apostrophe in this text ends it.",
            f"Write it twice, '', or use the other quotation marks: "
            f"{name}: {in_quotes(value[1:-1].replace(chr(39) * 2, chr(39)))}",
        )
    return (
        "this text goes on behind the quotation mark that ends it.",
        f"Put all of it into quotation marks: {name}: {in_quotes(value)}",
    )


def _wrong_between(lines: Sequence[str], begun: int, stopped: int) -> Mistyped:
    """Brackets that reading did not come to the end of."""
    several = " ".join(lines[begun : stopped + (stopped == begun)])
    between = _QUOTED.sub("", several[:_LONGEST])
    bare = _bare_list(several[:_LONGEST]) or _bare_between(between)
    if bare:
        return Mistyped(begun, *bare)
    opened = between.count("{") - between.count("}") + between.count("[") - between.count("]")
    if opened > 0 and (stopped == begun or (stopped < len(lines) and _FIELD.match(lines[stopped]))):
        first = next(letter for letter in between if letter in "{[")
        return Mistyped(
            begun,
            f"the '{first}' in this line is not closed.",
            f"Write '{_CLOSING[first]}' where it ends: '{lines[begun].strip()}{_CLOSING[first]}'.",
        )
    return Mistyped(begun, "what stands between the brackets cannot be read.", _FLOW_MEND)


def _bare_between(between: str) -> tuple[str, str] | None:
    """A text between brackets that needs quotation marks there."""
    bare = _BARE_BRACES.search(between) or _BARE_PLACE.search(between)
    if bare is None:
        return None
    sign = "{{" if "{{" in bare[2] else "["
    begins = f"{'begins with' if bare[2].startswith(sign) else 'holds'} '{sign}'"
    return (
        f"a text that {begins} is read as something else between brackets.",
        f"Put it in quotation marks: {bare[1].strip()}: {in_quotes(bare[2].strip())}",
    )


def _bare_list(several: str) -> tuple[str, str] | None:
    """A list of formulas, one of them such as names[0]."""
    lists = (each for each in _LISTED.finditer(several) if re.search(r"\w\[", each[2]))
    found = next(lists, None)
    if found is None:
        return None
    return (
        "a list with a formula such as 'names[0]' in it is one formula.",
        f"Put all of it in quotation marks: {found[1].strip()}: {in_quotes(found[2])}",
    )


def _wrong_brackets(name: str, value: str) -> tuple[str, str] | None:
    """A bracket in a line that is closed by another one; text behind it; an apostrophe in it."""
    value = _NOTE.sub("", value)
    bare = _QUOTED.sub(lambda found: "q" * len(found[0]), value)
    if re.search(r"[\[{,:]\s*'[^']*\w'\w", bare):
        return (
            "the apostrophe in a text between ' and ' ends it.",
            "Write it twice, '', or put the text between \" and \".",
        )
    opened: list[str] = []
    for place, letter in enumerate(bare):
        if letter in "{[":
            opened.append(letter)
        elif letter in "]}":
            if not opened or _CLOSING[opened[-1]] != letter:
                return _wrong_closing(opened, letter)
            opened.pop()
            if not opened and bare[place + 1 :].strip():
                return (
                    f"a text that begins with '{value[0]}' is read as something else.",
                    f"Put it in quotation marks: {name}: {in_quotes(value)}",
                )
    return None


def _wrong_closing(opened: list[str], letter: str) -> tuple[str, str]:
    if not opened:
        return f"this '{letter}' closes nothing.", "Take it out."
    missing = _CLOSING[opened[-1]]
    return (
        f"the '{opened[-1]}' in this line is not closed.",
        f"Write '{missing}' before '{letter}'.",
    )


def _wrong_margin(lines: Sequence[str], stopped: int, inside: set[int]) -> Mistyped | None:
    """A line that begins too far left or right of what it belongs to."""
    if stopped >= len(lines):
        return None
    above = [n for n in range(stopped) if n not in inside and _FIELD.match(lines[n])]
    return _margin_told(lines, stopped, (above[-1], lines[above[-1]]) if above else None)


def _no_field(lines: Sequence[str], number: int) -> Mistyped:
    words = lines[number].strip()
    bare = _bare_between(_QUOTED.sub("", words[:_LONGEST])) if words.startswith("- {") else None
    if bare:
        return Mistyped(number, *bare)
    field = re.match(r"([a-z]+) +(\S+)$", words)
    if field:
        return Mistyped(
            number, "a colon is missing in this line.", f"Write '{field[1]}: {field[2]}'."
        )
    previous = lines[number - 1].strip()[:30] if number else ""
    return Mistyped(
        number,
        "this line is no field, such as 'title: My lab'.",
        f"If it goes on with the text above ('{previous}'), indent it by two blanks; a note for "
        "yourself begins with '#'.",
    )


def _margin_told(lines: Sequence[str], number: int, above: tuple[int, str] | None) -> Mistyped:
    line = lines[number]
    words, own = line.strip(), _margin(line)
    if not _FIELD.match(line):
        return _no_field(lines, number)
    if words.startswith("- "):
        return Mistyped(
            number,
            "this list has no name here, or another indent than the one above.",
            f"If it is a field, write '{words[2:]}'; an item stands as far in as the other items.",
        )
    upper = above[1].strip()[:40] if above else ""
    blanks = _margin(above[1]) if above else 0
    if own == 0 or blanks == 0:
        mend = f"Begin it at the left margin, as '{upper}' does: '{words[:60]}'."
    else:
        mend = (
            f"Give it the indent of the line that it stands with: '{upper}' has {blanks} blanks "
            f"before it, this one {own}."
        )
    return Mistyped(number, "the indent of this line fits nothing above it.", mend)


def _margin(line: str) -> int:
    """How far in a field's name stands: an item's dash counts as blanks."""
    field = _FIELD.match(line)
    return len(field[1]) + len(field[2]) if field else len(line) - len(line.lstrip(" "))
