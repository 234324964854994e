"""Formulas in a text, set as formulas: MathML, which browsers draw by themselves.

A formula is a row of numbers and one-letter quantities between operators, such as
"(L_n · R_c + N_t · 0.005 Ω) · I_n" or "4.57 / L"; a quantity with an index, such as "L_n", is one
by itself. Sums of numbers alone are easy to read as they are, and break at the end of a line.
Single letters with nothing but points between them, such as "A · B · C", are names.
"""

from __future__ import annotations

import re
from typing import Final

_INDEXED: Final = r"(?<![\w])[A-Za-z](?:_[A-Za-z]+|[₀-₉]+)"
_LETTER: Final = r"(?<![\w/])[A-Za-z](?![\w'’./])"
_NUMBER: Final = r"\d+(?:\.\d+)?(?:\s(?:Ω/m|Ω|m|A|V|bits?)(?![\w/]))?"
_ATOM: Final = rf"\(*(?:{_INDEXED}|{_NUMBER}|{_LETTER})\)*"
_FORMULA: Final = re.compile(rf"{_ATOM}(?:\s[·+−/=≤≥]\s{_ATOM})+|{_INDEXED}")
_PART: Final = re.compile(rf"({_INDEXED})|({_NUMBER})|([A-Za-z])|([·+−/=≤≥()])")
_FRACTION: Final = re.compile(r"(<m(?:n|i|sub|row)>(?:(?!<mo>).)*?)<mo>/</mo>(<m.*?)(?=<mo>|$)")
_HAS_QUANTITY: Final = re.compile(rf"{_INDEXED}|{_LETTER}")
_NAMES: Final = re.compile(rf"\(?{_LETTER}(?: · {_LETTER})+\)?")
_DOWN: Final = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")


def with_formulas(text: str) -> list[tuple[str, bool]]:
    """The pieces of a text, each with whether it is MathML."""
    pieces: list[tuple[str, bool]] = []
    end = 0
    for found in _FORMULA.finditer(text):
        formula = found[0]
        unit_like = re.sub(_NUMBER, "", formula)
        if not _HAS_QUANTITY.search(unit_like) or formula.count("(") != formula.count(")"):
            continue
        if _NAMES.fullmatch(formula):
            continue
        pieces += [(text[end : found.start()], False), (_math(formula), True)]
        end = found.end()
    return [*pieces, (text[end:], False)]


def _math(formula: str) -> str:
    parts = "".join(_part(found) for found in _PART.finditer(formula))
    parts = _FRACTION.sub(r"<mfrac><mrow>\1</mrow><mrow>\2</mrow></mfrac>", parts)
    return f"<math>{parts}</math>"


def _part(found: re.Match[str]) -> str:
    indexed, number, letter, operator = found.groups()
    if indexed:
        name, index = indexed[0], indexed[1:].removeprefix("_").translate(_DOWN)
        shape = "mn" if index.isdecimal() else "mi"
        return f"<msub><mi>{name}</mi><{shape}>{index}</{shape}></msub>"
    if number:
        value, *unit = number.split()
        after = f'<mspace width="0.2em"/><mtext>{unit[0]}</mtext>' if unit else ""
        return f"<mrow><mn>{value}</mn>{after}</mrow>" if unit else f"<mn>{value}</mn>"
    return f"<mi>{letter}</mi>" if letter else f"<mo>{operator}</mo>"
