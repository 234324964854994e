"""Pictures in Markdown: only those that a lab carries, and those as data, so nothing is fetched.

A lab's text names a picture by a token until it is shown; then its data stands there. Data is long,
so readers of Markdown get a short word for it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

_TOKEN: Final = re.compile(r"\]\((picture:[0-9a-f]{64})\)")
_DATA: Final = re.compile(r"\]\((data:image/(?:png|jpeg);base64,[A-Za-z0-9+/=]+)\)")
_BEGINS: Final = "](data:image/"


def with_pictures(text: str, pictures: Mapping[str, str]) -> str:
    """The text with the data of its pictures in the places of their tokens."""
    if not pictures:
        return text
    return _TOKEN.sub(lambda found: f"]({pictures.get(found[1], found[1])})", text)


def apart(text: str) -> tuple[str, list[str]]:
    """The text with a number in the place of each picture's data, and the data in that order."""
    found: list[str] = []
    if _BEGINS not in text:
        return text, found

    def number(match: re.Match[str]) -> str:
        found.append(match[1])
        return f"]({PLACE}{len(found) - 1})"

    return _DATA.sub(number, text), found


PLACE: Final = "carried-picture:"
