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
from labkit.doors.switches import Mistaken, SwitchRow
from labkit.fieldbus.errors import PlanError


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


class FiveSlides:
    """Five slides of the address, one of the data rate; one mistake is known of."""

    devices: Mapping[str, SwitchRow] = MappingProxyType({"slides": SwitchRow(True, 5, 1)})
    rates = (9.6, 19.2)
    as_it_came = (31, 9.6)
    tells: Mapping[str, str] = MappingProxyType({"back-to-front": "Back to front."})

    def tell(self, device: str, slip: str) -> str:  # noqa: ARG002
        """The words of the mistake."""
        return self.tells[slip]

    def setting(self, device: str, address: int, rate: float) -> str:  # noqa: ARG002
        """Five bits, and one."""
        return f"{address:05b}{self.rates.index(rate)}"

    def address(self, device: str, setting: str) -> int:  # noqa: ARG002
        """From 1 to 31."""
        address = int(setting[:5], 2)
        if not address:
            raise PlanError("nobody has address 0.")
        return address

    def rate(self, device: str, setting: str) -> float:  # noqa: ARG002
        """One of two."""
        return self.rates[int(setting[5])]

    def misread_addresses(self, device: str, setting: str) -> Iterator[tuple[str, int]]:  # noqa: ARG002
        """Read from the right."""
        yield "back-to-front", int(setting[4::-1], 2)

    def misread_rates(self, device: str, setting: str) -> Iterator[tuple[str, float]]:  # noqa: ARG002
        """None is known."""
        yield from ()

    def mistaken_settings(self, device: str, address: int, rate: float) -> Mistaken:  # noqa: ARG002
        """None is known."""
        yield from ()

    def mistaken_addresses(self, device: str, address: int, rate: float) -> Mistaken:
        """Set from the right."""
        yield "back-to-front", self.setting(device, address, rate)[4::-1]

    def mistaken_rates(self, device: str, address: int, rate: float) -> Mistaken:  # noqa: ARG002
        """None is known."""
        yield from ()


NODES: Final = NodeSettings(addresses=range(1, 32), rates=(9.6, 19.2))
THIRTY_ONE: Final = Family(
    network="small_families:RowFamily",
    nodes="small_families:NODES",
    switches="small_families:FiveSlides",
)
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
