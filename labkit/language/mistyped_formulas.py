"""Formulas that cannot be read: what is mistyped in them, in an author's words.

The reader of formulas says what it looked for, which tells only who writes programs anything. So a
formula that it refused is looked at once more for what people mistype.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Final

from labkit.language.grammar import BASED, SIGNS

Told = tuple[str, str]

_WRITTEN: Final = {
    **dict.fromkeys("“”„‟«»", '"'),
    **dict.fromkeys("‘’‚‛‹›`", "'"),
    **dict.fromkeys("–—‐‑", "-"),
    **dict.fromkeys("∙•✕", "*"),
    "∶": "/",
    **dict.fromkeys("\u00a0\u2009\u202f", " "),
    "≤": "<=",
    "≥": ">=",
    "≠": "!=",
    "≈": "==",
    "²": " ^ 2",
    "³": " ^ 3",
    "½": "0.5",
    "¼": "0.25",
    "¾": "0.75",
}
"""Signs of books and word processors, and what a formula writes for them."""
_SIGNS: Final = (
    (r"&&", "and", "'&&' is no word of a formula."),
    (r"\|\|", "or", "'||' is no word of a formula."),
    (r"=<", "<=", "'=<' is written the other way round."),
    (r"=>", ">=", "'=>' is written the other way round."),
    (r"<>", "!=", "'<>' is no sign of a formula."),
    (r"\bAND\b", "and", "'AND' is written in small letters."),
    (r"\bOR\b", "or", "'OR' is written in small letters."),
    (r"\bNOT\b", "not", "'NOT' is written in small letters."),
    (r"===", "==", "'===' is one '=' too many."),
    (r"!(?!=)", "not ", "'!' is no sign of a formula."),
    (r";\s*$", "", "a formula has no ';' at its end."),
    (r";", ",", "the values in brackets are parted by a comma, not by ';'."),
)
_WORDS: Final = frozenset({"and", "or", "not", "in", "is", "if", "else", "true", "false"})
_UNIT: Final = re.compile(
    r"(?<![\w.\])\"'])(\d+(?:\.\d+)?)\s?(°[CF]?|[kMmµμn]?(?:Ω|ohms?|[mVAWsghK]|Hz|bit|Bd|bar|Nm)"
    r"(?:/s|/m|/min)?|km|cm|mm|min|rpm|kbit/s|Mbit/s|metres?|meters?|volts?|amps?|€|\$)(?![\w(\[])"
)
_TEXT: Final = re.compile(r"\"[^\"]*\"|'[^']*'")
_CLOSING: Final = {"(": ")", "[": "]", "{": "}"}
_EXAMPLE: Final = "Formulas look like: (thick + 5 * thin) / 2"
_LONGEST: Final = 70_000
"""Characters of a text that one formula may reach through: more than a text's formulas may have."""
_DIGITS: Final = {"2": "0 and 1", "8": "0 to 7", "16": "0 to 9 and A to F"}
_HEXADECIMAL: Final = re.compile(
    r"(?<!\w)(?:[#$]|&h)([0-9A-F]+)\b|(?<![\w.])((?:0[0-9A-F]|\d+[A-F])[0-9A-F]*)h\b", re.IGNORECASE
)
"""As assemblers and handbooks write it."""
_DECIMALS: Final = re.compile(r"(?<![\w.,])(\d+),(\d+)(?![\w.,])")
_OWN: Final = re.escape("".join(SIGNS))
_ANYTHING: Final = re.compile(rf"[\w\s.,:+\-*/%()\[\]{{}}<>=!~|\"'\\{_OWN}]")
_ONE_SIGN: Final = rf"\*\*|//|[%{_OWN}]|\*(?!\*)|/(?!/)"


def why_unread(text: str) -> Told:
    """What is mistyped in a formula that could not be read, and how to write it."""
    written = text.strip()
    bare = _TEXT.sub(lambda found: "q" * len(found[0]), written)
    bare = BASED.sub(lambda found: "9" * len(found[0]), bare)
    for look in _LOOKS:
        told = look(written, bare)
        if told:
            return told
    return "it is no formula.", _EXAMPLE


def why_prose_unread(text: str, reads: Callable[[str], bool]) -> tuple[int, Told] | None:
    """The line, from 1, of the first formula in a text that cannot be read, and what to tell.

    `reads` says whether a formula can be read.
    """
    for found in re.finditer(r"\{\{|\{%", text):
        line = text.count("\n", 0, found.start()) + 1
        told = _piece(text[found.start() : found.start() + _LONGEST], reads)
        if told:
            return line, told
    return _unpaired(text)


def _piece(rest: str, reads: Callable[[str], bool]) -> Told | None:
    """What is wrong with the braces that a text begins with."""
    opening, closing = ("{{", "}}") if rest.startswith("{{") else ("{%", "%}")
    end = rest.find(closing, 2)
    again = re.search(r"\{\{|\{%", rest[2:])
    if end < 0 or (again and again.start() + 2 < end):
        inner = re.split(r"[}%\n]|\{[{%]", rest[2:])[0].strip()
        return (
            f"'{opening}' is not closed here.",
            f"Write {closing} behind the formula: {opening} {_first_word(inner)} {closing}",
        )
    inner = re.sub(r"^[-+]|[-+]$", "", rest[2:end]).strip()
    if opening == "{{":
        if not inner:
            return "nothing stands between {{ and }}.", "Write a name or a formula there."
        return None if reads(inner) else why_unread(inner)
    word, _, behind = inner.partition(" ")
    if word in ("if", "elif") and behind and not reads(behind):
        return why_unread(behind)
    if word not in _STATEMENTS and reads(inner):
        return (
            f"'{{% {inner} %}}' says nothing that is done.",
            f"To show a value, write {{{{ {inner} }}}}.",
        )
    return None


_STATEMENTS: Final = frozenset({"if", "elif", "else", "endif", "for", "endfor"})
_PAIRS: Final = {"if": "endif", "for": "endfor"}


def _unpaired(text: str) -> tuple[int, Told] | None:
    """An 'if' or 'for' without its end, or an end without its beginning."""
    opened: list[tuple[str, int, str]] = []
    for found in re.finditer(r"\{%[-+]?\s*(\w+)(.*?)[-+]?%\}", text, re.DOTALL):
        word, line = found[1], text.count("\n", 0, found.start()) + 1
        if word in _PAIRS:
            opened.append((word, line, found[0]))
        elif word in _PAIRS.values():
            if not opened or _PAIRS[opened[-1][0]] != word:
                begins = word.removeprefix("end")
                return line, (
                    f"{found[0]} ends what has not begun.",
                    f"Write {{% {begins} … %}} before it, or take {{% {word} %}} out.",
                )
            opened.pop()
    if not opened:
        return None
    word, line, written = opened[-1]
    return line, (
        f"{' '.join(written.split())[:60]} has no end.",
        f"Write {{% {_PAIRS[word]} %}} where it ends.",
    )


def _first_word(text: str) -> str:
    found = re.match(r"[\w.\[\]]+(?:\s*\|\s*\w+(?:\([^)]*\))?)?", text)
    return found[0] if found else text


def _braces(written: str, _bare: str) -> Told | None:
    if "{{" in written or written.startswith("{%"):
        inner = re.sub(r"\{\{\s*(.*?)\s*\}\}", r"\1", written)
        return "a formula in a field of its own stands without {{ }}.", f"Write: {inner}"
    if written.startswith("="):
        return "a formula here has no '=' before it.", f"Write it without: {written[1:].strip()}"
    return None


def _sign(written: str, bare: str) -> Told | None:
    strange = next((letter for letter in bare if letter in _WRITTEN), "")
    if strange:
        mended = "".join(_WRITTEN.get(letter, letter) for letter in written)
        if strange.isspace():
            return "this formula holds an invisible character.", f"Type blanks: {mended}"
        if _WRITTEN[strange] in "\"'":
            return (
                f"'{strange}' is no quotation mark of the keyboard.",
                f"Write straight ones: {mended}",
            )
        return (
            f"'{strange}' is no sign of a formula.",
            f"Write {_WRITTEN[strange].strip()} for it: {mended}",
        )
    if "√" in bare:
        return "'√' is no sign of a formula.", "Write sqrt(…), what it is of in the brackets."
    for pattern, right, message in _SIGNS:
        if re.search(pattern, bare):
            return message, f"Write: {_outside_texts(pattern, right, written)}"
    if re.search(r"(?<![=<>!])=(?!=)", bare) and not re.search(r"\([^)]*\b\w+\s*=[^=]", bare):
        mended = _outside_texts(r"(?<![=<>!])=(?!=)", "==", written)
        return "'=' compares nothing: two of them do.", f"Write: {mended}"
    foreign = next((letter for letter in bare if not _ANYTHING.match(letter)), "")
    if foreign and not _UNIT.search(bare):
        return f"'{foreign}' is no sign of a formula.", f"Take it out. {_EXAMPLE}"
    return None


def _outside_texts(pattern: str, right: str, written: str) -> str:
    """The formula with a sign exchanged, but not in its texts."""
    pieces = re.split(rf"({_TEXT.pattern})", written)
    return "".join(
        piece if number % 2 else re.sub(pattern, right, piece)
        for number, piece in enumerate(pieces)
    )


def _based(_written: str, bare: str) -> Told | None:
    """A number that is not decimal."""
    found = re.search(r"(?<![\w#])(\d+)#(\w*)", bare)
    if found and found[1] in _DIGITS:
        mend = f"Behind {found[1]}# only digits {_DIGITS[found[1]]} can stand."
        return f"'{found[0]}' is no number.", mend
    if found:
        bases = ", ".join(f"{base}#" for base in _DIGITS)
        return f"'{found[0]}' is no number.", f"There are {bases}, such as 16#1F."
    marked = _HEXADECIMAL.search(bare)
    if marked is None:
        return None
    digits = (marked[1] or marked[2]).upper()
    return f"'{marked[0]}': a hexadecimal number begins with 16#.", f"Write 16#{digits}."


def _number(_written: str, bare: str) -> Told | None:
    comma = _DECIMALS.search(bare)
    if comma:
        return f"'{comma[0]}' has a decimal comma.", f"Write {comma[1]}.{comma[2]} with a point."
    grouped = re.search(r"(?<![\w.])(\d{1,3}(?: \d{3})+)(?![\w.])", bare)
    if grouped:
        return f"'{grouped[0]}' holds blanks.", f"Write {grouped[0].replace(' ', '')}."
    points = re.search(r"\d+(?:\.\d+){2,}", bare)
    if points:
        return f"'{points[0]}' is not a number.", "A number has one point, such as 1.25."
    zeros = re.search(r"(?<![\w.])0+([1-9]\d*)(?![\w.])", bare)
    if zeros:
        return f"'{zeros[0]}' is not written as a number.", f"Write {zeros[1]}."
    open_end = re.search(r"(?<![\w.])(\d+)\.(?![\d\w])", bare)
    if open_end:
        return f"behind '{open_end[0]}' a digit is missing.", f"Write {open_end[1]}.0."
    open_start = re.search(r"(?<![\w.)\]])\.(\d+)", bare)
    if open_start:
        return f"before '{open_start[0]}' a digit is missing.", f"Write 0.{open_start[1]}."
    return None


def _unit(_written: str, bare: str) -> Told | None:
    unit = _UNIT.search(bare)
    if unit is None:
        return None
    return (
        f"'{unit[0]}' is a number with a unit, and a formula has no units.",
        f"Write {unit[1]} alone; the unit stands under 'unit:' or in the text.",
    )


def _share(_written: str, bare: str) -> Told | None:
    percent = re.search(r"(\d+(?:\.\d+)?)\s*%(?!\s*[\w(\[])", bare)
    if percent is None:
        return None
    share = f"{float(percent[1]) / 100:.12g}"
    return (
        f"'{percent[0]}': in a formula, '%' is not percent.",
        f"Write {share}, or ({percent[1]} / 100).",
    )


def _brackets(_written: str, bare: str) -> Told | None:
    opened: list[str] = []
    for letter in bare:
        if letter in _CLOSING:
            opened.append(letter)
        elif letter in _CLOSING.values():
            if not opened:
                return f"there is a '{letter}' too many.", f"Take the '{letter}' out."
            if _CLOSING[opened[-1]] != letter:
                return (
                    f"'{opened[-1]}' is not closed before '{letter}'.",
                    f"Write '{_CLOSING[opened[-1]]}' before '{letter}'.",
                )
            opened.pop()
    if not opened:
        return None
    missing = _CLOSING[opened[-1]]
    return f"'{opened[-1]}' is not closed.", f"Write '{missing}' where it ends."


def _words(written: str, bare: str) -> Told | None:
    then = re.match(r"if\s+(.+?)\s+then\s+(.+?)\s+else\s+(.+)$", written, re.IGNORECASE)
    if then:
        return (
            "a formula puts the value first, then 'if'.",
            f"Write: {then[2]} if {then[1]} else {then[3]}",
        )
    if re.match(r"\s*if\b|.*\bthen\b", bare):
        return "a formula puts the value first, then 'if'.", "Write: 5 if rate == 125 else 6"
    if re.search(r"\?[^:]*:", bare):
        return "'?' is no sign of a formula.", "Write: 5 if rate == 125 else 6"
    return None


def _between(written: str, bare: str) -> Told | None:
    """Two values with no sign between them."""
    times = re.search(r"([\w\])]+)\s+x\s+([\w(\[]+)", bare)
    if times:
        return "'x' is no sign of a formula.", f"Write {times[1]} * {times[2]}."
    if ":" in re.sub(r"\[[^\[\]]*\]|\{[^{}]*\}", "", bare):
        return "':' is no sign of a formula.", "Write / to divide."
    joined = re.search(r"(?<![\w.])(\d+(?:\.\d+)?)([A-Za-z]\w*)", bare)
    if joined:
        one, other = joined.groups()
        return f"between '{one}' and '{other}' no sign stands.", f"Write {one} * {other}."
    found = re.search(r"([\w\])]+)\s+([A-Za-z_]\w*|\d+(?:\.\d+)?|\()", bare)
    while found and (found[1] in _WORDS or found[2] in _WORDS):
        found = re.compile(found.re.pattern).search(bare, found.start(2))
    if not found:
        return None
    one, other = found[1], found[2]
    if one[0].isalpha() and other[0].isalpha():
        return (
            f"between '{one}' and '{other}' no sign stands.",
            f"A name has no blank: write {one}_{other}; or write the sign: {one} * {other}. A "
            "text stands in quotation marks.",
        )
    behind = written[found.start(2) : found.start(2) + 12]
    return f"between '{one}' and '{other}' no sign stands.", f"To multiply, write {one} * {behind}"


def _ends(_written: str, bare: str) -> Told | None:
    end = re.search(rf"({_ONE_SIGN}|[-+<>,=]|\band|\bor|\bnot|\bif|\belse)\s*$", bare)
    if end:
        return f"behind the last '{end[1]}' a value is missing.", "Write it, or take the sign out."
    # Only a minus may begin a formula, or stand behind another sign.
    start = re.match(rf"(?!−)(?:{_ONE_SIGN}|[<>,])", bare)
    if start:
        return f"before the first '{start[0]}' a value is missing.", "Write it there."
    double = re.search(rf"(?:{_ONE_SIGN}|[-+<>])\s*(?!−)(?:{_ONE_SIGN})", bare)
    if double:
        return f"'{double[0]}': two signs stand together.", f"Keep one of them. {_EXAMPLE}"
    return None


_LOOKS: Final = (
    *(_braces, _based, _sign, _number, _unit, _share),
    *(_brackets, _words, _between, _ends),
)


def lone_braces(text: str, known: Iterable[str]) -> tuple[int, Told] | None:
    """A name of the lab in single braces, which a trainee would read as they stand: the line, from
    1, and what to tell."""
    hidden = re.sub(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", _blanked, text, flags=re.DOTALL)
    names = frozenset(known)
    for found in re.finditer(
        r"\{[\s{]{0,4}([A-Za-z_]\w{0,59})(?!\w)([^{}\n]{0,60}?)[\s}]{0,4}\}", hidden
    ):
        if found[1] in names:
            inner = f"{found[1]}{found[2]}".strip()
            line = text.count("\n", 0, found.start()) + 1
            return line, (
                f"'{found[0]}' would stand in the text as it is: a formula takes two braces on "
                "each side, without a blank between them.",
                f"Write {{{{ {inner} }}}}.",
            )
    return None


def _blanked(found: re.Match[str]) -> str:
    return re.sub(r"[^\n]", " ", found[0])
