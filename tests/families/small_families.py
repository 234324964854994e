"""Two network families that no core file knows, as entry points of a package of their own.

`thirty-one` has node addresses from 1 to 31; `bare` leaves out all that a family may leave out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, ClassVar, Final, Literal

import pytest

from labkit.doors import installed
from labkit.doors.family import Family, NodeSettings
from labkit.doors.frames import Encoded, Fact
from labkit.doors.network import NetworkRecipe
from labkit.doors.supply import Supplied, TrunkPiece, TrunkTap
from labkit.doors.switches import Mistaken, SwitchRow
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult
from labkit.lab.reading.fields import Strict
from labkit.language.expression import Formula


@dataclass(frozen=True)
class Row:
    """A network that is a row of nodes, and its recipe."""

    names: ClassVar[frozenset[str]] = frozenset()

    def build(self, values: Mapping[str, Any]) -> Any:  # noqa: ARG002
        """The row itself."""
        return self

    def draw(self, network: Any, *, narrow: bool = False) -> str:  # noqa: ARG002
        """An empty picture."""
        return "<svg/>"

    def draw_for_paper(self, network: Any) -> tuple[str, ...]:
        """The same, in one piece."""
        return (self.draw(network),)

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

    def rate_words(self, rate: float) -> str:
        """As it is said."""
        return f"{rate} kbit/s"

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


class RowTrunk:
    """Forty metres with one node in the middle; a side has 24 V less 0.2 V/m, and needs 19 V."""

    length = 40.0
    pieces = (TrunkPiece("blue", 40.0),)
    taps = (TrunkTap(20.0, 1.5, "gate"),)

    def stretches(self) -> list[tuple[float, float]]:
        """No side may be longer than 25 m."""
        return [(15.0, 25.0)]

    def good_position(self) -> float:
        """The middle."""
        return 20.0

    def supplied_at(self, position: float) -> Supplied:
        """The voltage at both ends."""
        left, right = (_end_voltage(metres) for metres in (position, self.length - position))
        return Supplied((left,), (right,), f"{left.value:g} V and {right.value:g} V.")

    def to_json(self) -> dict[str, Any]:
        """Its length tells it."""
        return {"row": self.length}


def _end_voltage(metres: float) -> RuleResult:
    volts = 24 - 0.2 * metres
    return RuleResult("voltage", volts, 19, "V", "at an end", "invented", at_least=True)


class RowSupply:
    """Rows are fed from one place."""

    keeps_room = "row_fits(network)"

    def trunk(self, plan: Any) -> RowTrunk | None:
        """Of a row."""
        return RowTrunk() if isinstance(plan, Row) else None

    def from_json(self, data: Mapping[str, Any]) -> RowTrunk:
        """There is but one."""
        assert data == {"row": 40.0}
        return RowTrunk()


class Telegrams:
    """A byte for the receiver, up to ten of a load, and their sum; no identifier."""

    identifier_bits = 0
    most_bytes = 12

    def identifier_in_words(self, identifier: int) -> str:
        """Nobody asks."""
        raise AssertionError(identifier)

    def in_words(self, frames: Sequence[tuple[int, bytes]]) -> list[str]:
        """Who is told what."""
        return [f"{data[0]} is told {data[1:-1].hex(' ') or 'nothing'}" for _, data in frames]


class TelegramFields(Strict):
    """The receiver and the load."""

    to: str
    load: str


@dataclass(frozen=True)
class TelegramRecipe:
    """The formulas of a telegram."""

    to: Formula
    load: Formula

    def encode(self, names: Mapping[str, Any]) -> Encoded:
        """The telegram; who forgets the sum is known of."""
        bare = bytes([int(self.to.number(names)), *self.load.evaluate(names)])
        whole = bare + bytes([sum(bare) % 256])
        return Encoded(0, whole, wrong_data=(("no-sum", bare),))


class TelegramReading:
    """One fact; numbers come high byte first."""

    fields = TelegramFields
    facts = ("to",)
    tells: Mapping[str, str] = MappingProxyType({"sum": "That is the sum.", "order": "From left."})
    write_tells: Mapping[str, str] = MappingProxyType({"no-sum": "The sum is missing."})

    def recipe(self, fields: Any, reader: Any, *path: str | int) -> TelegramRecipe:
        """Two formulas."""
        return TelegramRecipe(
            reader.formula(fields.to, *path, "to"), reader.formula(fields.load, *path, "load")
        )

    def fact(self, name: str, frame: Encoded) -> Fact:
        """Whose telegram it is."""
        return Fact(name.capitalize(), frame.data[0], (("sum", frame.data[-1]),))

    def number(self, label: str, piece: bytes, *, signed: bool) -> Fact:
        """The high byte first."""
        value, wrong = (int.from_bytes(piece, order, signed=signed) for order in ORDERS)
        return Fact(label, value, (("order", wrong),))

    def line(self, frame: Encoded, at: int) -> str:
        """All bytes in a row."""
        return f"{at}: {frame.data.hex()}"


ORDERS: Final[tuple[Literal["big", "little"], ...]] = ("big", "little")
NODES: Final = NodeSettings(addresses=range(1, 32), rates=(9.6, 19.2))
THIRTY_ONE: Final = Family(
    network="small_families:RowFamily",
    nodes="small_families:NODES",
    switches="small_families:FiveSlides",
    supply="small_families:RowSupply",
    frames="small_families:Telegrams",
    frame_reading="small_families:TelegramReading",
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
    forget_families()
    yield
    forget_families()


def forget_families() -> None:
    """What was found among the installed is looked for again."""
    installed._found.cache_clear()
    installed.family_named.cache_clear()
