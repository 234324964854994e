"""Times as labkit writes them: UTC, to the second."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, Any, Final

from pydantic import AfterValidator

_WRITTEN: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)


def moment(text: Any) -> datetime | None:
    """A time as labkit writes it; None for anything else."""
    if not isinstance(text, str) or not _WRITTEN.fullmatch(text):
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _is_a_moment(text: str) -> str:
    if moment(text) is None:
        raise ValueError("not a time as labkit writes it")
    return text


Moment = Annotated[str, AfterValidator(_is_a_moment)]
