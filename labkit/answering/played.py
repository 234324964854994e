"""Long work of a kind, asked for and told as a line of JSON: what passes between two processes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from typing import Any, Final

from labkit.doors.installed import page_for
from labkit.doors.page import NotPlayedError, PlayedPage

NOT_PLAYED: Final = "The trainer's machine could not work that out. Tell your instructor."


def asked_line(
    kind: str, asked: Mapping[str, Any], known: Mapping[str, Any] | None = None
) -> bytes:
    """A question to the pages of a kind, in one line."""
    return json.dumps({"kind": kind, "asked": asked, "known": known}).encode() + b"\n"


def told_line(asked: bytes) -> bytes:
    """What comes of it, in one line; null where something went wrong."""
    told = None
    # This process goes on with the next one. Why stays here: it may name what is hidden.
    with suppress(Exception):
        question = json.loads(asked)
        page = page_for(question["kind"])
        if issubclass(page, PlayedPage):
            told = page.played(question["asked"], question["known"])
    return json.dumps(told).encode() + b"\n"


def read_told(line: bytes) -> dict[str, Any]:
    """What came of a question. Raises `NotPlayedError`."""
    told = None
    with suppress(ValueError):
        told = json.loads(line)
    if not isinstance(told, dict):
        raise NotPlayedError(NOT_PLAYED)
    return told
