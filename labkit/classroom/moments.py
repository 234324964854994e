"""A time as labkit writes it, in a schema."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from labkit.exchange.clock import read_moment


def _is_a_moment(text: str) -> str:
    if read_moment(text) is None:
        raise ValueError("not a time as labkit writes it")
    return text


Moment = Annotated[str, AfterValidator(_is_a_moment)]
