"""The pages that people open or print: HTML that fetches nothing, from a room's templates."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined

WRITTEN_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""For a page that is written to be kept or printed: its own style, and no script."""


class Pages:
    """The templates of one package, with what formulas of theirs may call."""

    def __init__(
        self, package: str, filters: Mapping[str, Callable[[Any], Any]] | None = None
    ) -> None:
        self._environment = Environment(
            loader=PackageLoader(package, "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.filters["number"] = lambda value: f"{value:.10g}"
        self._environment.filters.update(filters or {})

    def filled(self, template: str, **values: Any) -> str:
        """A template with its values; what trainees wrote stays text."""
        return str(self._environment.get_template(template).render(values))
