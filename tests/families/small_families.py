"""Two network families that no core file knows, as entry points of a package of their own.

`thirty-one` has node addresses from 1 to 31; `bare` leaves out all that a family may leave out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import pytest

from labkit.doors import installed
from labkit.doors.family import Family, NodeSettings
from labkit.doors.network import NetworkRecipe


class Row:
    """A network that is a row of nodes, and its recipe."""

    names: frozenset[str] = frozenset()

    def build(self, values: Mapping[str, Any]) -> Any:  # noqa: ARG002
        """The row itself."""
        return self

    def draw(self, network: Any) -> str:  # noqa: ARG002
        """An empty picture."""
        return "<svg/>"

    def facts(self, network: Any) -> str:  # noqa: ARG002
        """A word."""
        return "a row"


class RowFamily:
    """Reads no field, and brings no function."""

    functions: Mapping[str, Any] = MappingProxyType({})

    def recipe(self, fields: Mapping[str, Any], reader: Any) -> NetworkRecipe:  # noqa: ARG002
        """The recipe of a row."""
        return Row()


NODES: Final = NodeSettings(addresses=range(1, 32), rates=(9.6, 19.2))
THIRTY_ONE: Final = Family(network="small_families:RowFamily", nodes="small_families:NODES")
BARE: Final = Family(network="small_families:RowFamily")


@contextmanager
def small_families(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Both families, found by the entry points that an installer would have written."""
    info = folder / "small_families-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: small-families\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(
        "[labkit.families]\nthirty-one = small_families:THIRTY_ONE\nbare = small_families:BARE\n"
    )
    monkeypatch.syspath_prepend(folder)
    _forget()
    yield
    _forget()


def _forget() -> None:
    installed._found.cache_clear()
    installed.family_named.cache_clear()
