"""Network families: how a lab's names become a network, and what formulas may ask of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from labkit.lab.definition import NetworkRecipe
from labkit.lab.reading.field_reader import FieldReader


class NetworkFamily(Protocol):
    """What an entry point of the group `labkit.networks` offers."""

    functions: Mapping[str, Any]

    def recipe(self, fields: Mapping[str, Any], reader: FieldReader) -> NetworkRecipe:
        """Read the header's `network:` group. Raises `DefinitionError`."""
