"""A number as a technician writes it: with either decimal habit, in groups, as a mixed fraction.

What has two readings is never guessed: the sentence gives both, and the writer chooses.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from typing import Final

from labkit.errors import LabkitError

THREE: Final = 3
"""Digits of a group. Where so many decimals are asked for, a comma before three begins them."""

NODE_NOUNS: Final = ("node address", "node", "address", "addr", "mac id", "mac", "station")
"""What may stand before a node address: "node 5"."""

_NUMBER = re.compile(r"[+-]?(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d{1,2})?")
# A number at the start of a quantity, its digits perhaps in groups of three.
_START = re.compile(
    r"[+-]?\s?(?:\d(?:[\d.,]|[ '\u2019](?=\d{3}(?!\d)))*|[.,]\d+)(?:[eE][+-]?\d+(?!\d))?"
)
# "16 2/3", "2/3": the parts of a length or a meter's half digit, never a division with a remainder.
_FRACTION = re.compile(r"([+-]?) ?(?:(\d{1,6}) )?(\d{1,2})/(\d{1,2})(?![\d/.,])")
_AMBIGUOUS = re.compile(r"[1-9]\d{0,2},\d{3}")
_POINT_BEFORE_THREE = re.compile(r"[+-]?[1-9]\d{0,2}\.\d{3}")
# Two groups of three or more can only be thousands: "1,234,567".
_MILLIONS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3}){2,}|[+-]?[1-9]\d{0,2}(?:\.\d{3}){2,}")
_GROUPS = re.compile(r"(?<=\d)['\u2019\s](?=\d{3}(?!\d))")
_WHOLE = re.compile(r"[+-]?\d{1,15}")
_HEX = re.compile(
    r"(?:0x|16#|\$|&h)[0-9a-f]+h?|(?:hex )?[0-9a-f]+ ?(?:h|hex)|hex [0-9a-f]+", re.IGNORECASE
)


class QuantityError(LabkitError, ValueError):
    """A quantity that cannot be read; the message tells the writer what to write instead."""


def plain(text: str) -> str:
    """One kind of minus, of blank and of fraction: "6¾" becomes "6 3/4"."""
    text = text.replace("\u2212", "-").replace("\u2044", "/")
    text = "".join(map(_without_fraction, text))
    return " ".join(text.split())


def read_number(text: str, decimals: int = 0) -> Decimal:
    """A decimal number with a decimal point or a decimal comma.

    Spaces and apostrophes group digits, commas or points where they can mean nothing else
    ("1,234,567", "1.234,5"). Digits of any script are read. One comma before exactly three digits
    ("1,234") has two readings and is refused with a sentence, except where three `decimals` or more
    are asked for. Raises `QuantityError`.
    """
    bare = _GROUPS.sub("", plain(text))
    if not _NUMBER.fullmatch(bare):
        raise QuantityError(
            f"'{text.strip()}' is not a number. Write digits, with one decimal point or comma."
        )
    digits, exponent = re.fullmatch(r"([^eE]*)([eE].*)?", bare).groups()  # type: ignore[union-attr]
    if _AMBIGUOUS.fullmatch(digits.lstrip("+-")) and decimals < THREE:
        raise two_ways(text, ",", digits)
    try:
        return Decimal(_decimal_point(digits) + (exponent or ""))
    except InvalidOperation:
        raise QuantityError(
            f"'{text.strip()}' is not a number: it has too many points or commas."
        ) from None


def two_ways(text: str, mark: str, digits: str) -> QuantityError:
    """That one mark before three digits may group them or begin the decimals."""
    decimal = digits.replace(mark, ".")
    if mark == ".":
        decimal = decimal.rstrip("0").removesuffix(".")
    if decimal == digits:
        # Three decimals can always be groups: a fourth one tells that they are decimals.
        decimal += "0"
    return QuantityError(
        f"'{text.strip()}' can be read in two ways: write {decimal} or {digits.replace(mark, '')}."
    )


def has_point_before_three(number: str) -> bool:
    """Whether a point may group thousands, as in "1.660": "0.660" and "16.60" cannot."""
    return bool(_POINT_BEFORE_THREE.fullmatch(number))


def split_number(text: str) -> tuple[str, str]:
    """The number at the start of a plain text, and what follows. Raises `QuantityError`."""
    match = _FRACTION.match(text) or _START.match(text)
    if not match:
        raise QuantityError(
            f"'{text[:40]}' does not start with a number. Write it first, then its unit."
        )
    number = match[0].replace("- ", "-").replace("+ ", "+").rstrip()
    return number, text[match.end() :].strip()


def is_fraction(number: str) -> bool:
    """Whether a number is written with a fraction, "16 2/3"."""
    return "/" in number


def read_fraction(number: str) -> Decimal:
    """The value of "16 2/3" or "2/3". Raises `QuantityError` where the fraction is none."""
    found = _FRACTION.fullmatch(number)
    upper, lower = (int(found[3]), int(found[4])) if found else (1, 1)
    if found is None or upper >= lower:
        raise QuantityError(f"'{number}' is not one number. Work it out, and write the result.")
    value = Decimal(found[2] or 0) + Decimal(upper) / Decimal(lower)
    return -value if found[1] == "-" else value


def read_whole(text: str, nouns: Iterable[str] = ()) -> int:
    """A whole number: "12", "1 649", "#12", and, before or behind it, one of the `nouns`.

    What is hexadecimal, has decimals or two readings is asked back. Raises `QuantityError`.
    """
    written = plain(text)
    bare = without_nouns(written, nouns)
    digits = _GROUPS.sub("", bare.replace("- ", "-").replace("+ ", "+"))
    if _WHOLE.fullmatch(digits):
        return int(digits)
    if is_hexadecimal(bare):
        raise QuantityError(f"'{written[:40]}' is hexadecimal: write it as a decimal number here.")
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", digits):
        mend = f" If it is {re.sub('[.,]', '', digits)}, write it so."
    else:
        mend = " Write its digits alone."
    raise QuantityError(f"'{written[:40]}' is not a whole number.{mend}")


def is_hexadecimal(text: str) -> bool:
    """Whether a plain text is marked as a hexadecimal number: "0x0C", "$C", "0Ch", "C hex"."""
    return bool(_HEX.fullmatch(text))


def without_nouns(text: str, nouns: Iterable[str]) -> str:
    """A plain text without the noun or the number sign that stands before or behind its number."""
    found = _beside_nouns(tuple(nouns)).fullmatch(text)
    return found[1] if found and found[1] else text


@lru_cache(maxsize=100)
def _beside_nouns(nouns: tuple[str, ...]) -> re.Pattern[str]:
    known = "|".join(re.escape(noun) for noun in nouns)
    words = rf"(?:(?:{known})(?:s|es)?|)" if known else ""
    before = rf"(?:{words}\s*(?:no\.?|nr\.?|number|#)?)\s*[:=]?\s*"
    return re.compile(rf"{before}(.*?)\s*{words}\.?", re.IGNORECASE)


def _without_fraction(letter: str) -> str:
    """ "¾" as " 3/4"; every other letter as it is."""
    if not unicodedata.decomposition(letter).startswith("<fraction>"):
        return letter
    return " " + unicodedata.normalize("NFKC", letter).replace("\u2044", "/") + " "


def _decimal_point(digits: str) -> str:
    """Turn either habit of writing decimals into the decimal point."""
    last_comma, last_point = digits.rfind(","), digits.rfind(".")
    if last_comma < 0:
        return digits.replace(".", "") if _MILLIONS.fullmatch(digits) else digits
    if last_point < 0:
        return digits.replace(",", "" if _MILLIONS.fullmatch(digits) else ".")
    group, decimal = (".", ",") if last_comma > last_point else (",", ".")
    whole, _, part = digits.rpartition(decimal)
    groups = whole.lstrip("+-").split(group)
    if any(len(piece) != THREE for piece in groups[1:]) or not 1 <= len(groups[0]) <= THREE:
        return digits
    return f"{whole.replace(group, '')}.{part}"
