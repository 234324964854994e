"""What is typed into the fields of a planning board, read as technicians write it.

"slot 3", "node 1" and "#1" are numbers, "REV 7.020" is a revision as it stands on a nameplate, and
an address may carry its prefix or mask. What cannot be read, or has two readings, is asked back.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from labkit.errors import LabkitError
from labkit.fieldbus.chassis import Revision
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ip.subnet import address_of, prefix_of
from labkit.language.number import NODE_NOUNS, QuantityError, read_whole

SLOT_NOUNS: Final = ("slot",)
_BEFORE_REVISION: Final = re.compile(
    r"(?:(?:fw|firmware|hw) )?(?:rev|revision|ver|version|v|r)\b[.:]? ?(?=\d)|[vr](?=\d)",
    re.IGNORECASE,
)
_WITH_MASK: Final = re.compile(r"([\d.]+) ?(?:/ ?| )(\d[\d.]*)")
_LEADING_ZERO: Final = re.compile(r"(?:^|\.)0\d")


class FieldError(LabkitError, ValueError):
    """What stands in a field cannot be read; the message tells what to write instead."""


@dataclass(frozen=True, slots=True)
class PortAddress:
    """An IP address as typed, and the prefix that was written behind it, if any."""

    address: str
    prefix: int | None = None


def read_slot(typed: str) -> int:
    """The number of a slot. Raises `FieldError`."""
    return _whole(typed, SLOT_NOUNS)


def read_node(typed: str) -> int:
    """A node address. Raises `FieldError`."""
    return _whole(typed, NODE_NOUNS)


def read_revision(typed: str) -> Revision:
    """A revision, with the nameplate's word before it or without. Raises `FieldError`."""
    plain = " ".join(typed.split())
    try:
        return Revision.from_text(_BEFORE_REVISION.sub("", plain, count=1))
    except PlanError as error:
        raise FieldError(str(error)) from error


def read_port(typed: str) -> PortAddress:
    """An address, perhaps with "/27" or a mask behind it. Raises `FieldError`."""
    plain = " ".join(typed.split())
    found = _WITH_MASK.fullmatch(plain)
    address = found[1] if found else plain
    return PortAddress(_dotted(address), read_prefix(found[2]) if found else None)


def read_prefix(typed: str) -> int:
    """A prefix length: "27", "/27" or the mask "255.255.255.224". Raises `FieldError`."""
    plain = typed.removeprefix("/").strip()
    _refuse_leading_zeros(plain)
    try:
        return prefix_of(plain)
    except PlanError as error:
        if "." in plain:
            raise FieldError(str(error)) from error
        sentence = f"'{typed}' is no prefix; write its length, a whole number."
        raise FieldError(sentence) from error


def read_ends(address: str, prefix: str) -> int | None:
    """The prefix of the port, from either of its two fields; None where neither has one.

    Raises `FieldError` where it cannot be read, or where the two fields differ.
    """
    written = read_prefix(prefix) if prefix else None
    try:
        behind = read_port(address).prefix
    except FieldError:
        return written
    if None not in (written, behind) and written != behind:
        raise FieldError(f"the address says /{behind}, this field says /{written}: write one.")
    return behind if written is None else written


def _dotted(text: str) -> str:
    _refuse_leading_zeros(text)
    try:
        return str(address_of(text))
    except PlanError as error:
        raise FieldError(str(error)) from error


def _refuse_leading_zeros(text: str) -> None:
    if "." in text and _LEADING_ZERO.search(text):
        plain = re.sub(r"(^|\.)0+(?=\d)", r"\1", text)
        raise FieldError(
            f"'{text}' has leading zeros, which some programs read as octal numbers: write {plain}."
        )


def _whole(typed: str, nouns: tuple[str, ...]) -> int:
    try:
        return read_whole(typed, nouns)
    except QuantityError as error:
        raise FieldError(str(error)) from error
