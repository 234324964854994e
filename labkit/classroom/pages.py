"""The pages that people open: HTML that fetches nothing, from the templates beside this file."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined


def filled(template: str, **values: Any) -> str:
    """A template with its values; what trainees wrote stays text."""
    return str(_environment().get_template(template).render(values))


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("labkit.classroom", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["number"] = lambda value: f"{value:.10g}"
    return environment
