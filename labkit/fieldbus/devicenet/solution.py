"""The solved power circuit of a network: voltages, currents, and the rules they are held to."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from labkit.fieldbus.devicenet.cable import (
    FROM_MEMORY,
    MANUAL,
    cable_type,
    drop_current_limit,
)
from labkit.fieldbus.devicenet.fullmethod import CONDUCTOR_DROP_LIMIT
from labkit.fieldbus.devicenet.parts import Supply
from labkit.fieldbus.result import RuleResult

LOWEST_NODE_VOLTAGE: Final = 11.0
HIGHEST_NODE_VOLTAGE: Final = 25.0
"""Volts from V+ to V- that a node needs (IEC 62026-3; ODVA PUB00027R1)."""
LOWEST_VOLTAGE: Final = "lowest node voltage"
HIGHEST_VOLTAGE: Final = "highest node voltage"
CONDUCTOR_DROP: Final = "voltage drop of a conductor"
TRUNK_CURRENT: Final = "trunk current"
RATING_PLATE: Final = "the supply's own rating"
FUSE_PLATE: Final = "the power tap's own fuse"


class NodePower(NamedTuple):
    """A device: A it draws, V of V+ and V- against the earthing point."""

    device: str
    tap: str
    current: float
    v_plus: float
    v_minus: float
    source_voltage: float

    @property
    def voltage(self) -> float:
        """Volts from V+ to V-."""
        return self.v_plus - self.v_minus

    @property
    def conductor_drop(self) -> float:
        """Volts lost on either conductor from the supply to the device."""
        return (self.source_voltage - self.voltage) / 2


class TrunkPoint(NamedTuple):
    """A point of the trunk: m, V of V+ and V- against the earthing point; the tap there, if any."""

    position: float
    v_plus: float
    v_minus: float
    tap: str = ""

    @property
    def voltage(self) -> float:
        """Volts from V+ to V-."""
        return self.v_plus - self.v_minus


class PieceCurrent(NamedTuple):
    """A piece of trunk of one cable: m, m, cable, and A of V+ towards the right."""

    start: float
    end: float
    cable: str
    current: float


class DropCurrent(NamedTuple):
    """A single drop: its tap, m to its furthest node, A of all its nodes."""

    tap: str
    length: float
    current: float


class SupplyCurrent(NamedTuple):
    """What a supply gives: A in all, towards the left, and towards the right."""

    supply: Supply
    current: float
    left: float
    right: float


@dataclass(frozen=True, slots=True)
class PowerSolution:
    """The circuit solved. `assumptions` says in sentences what it was solved with."""

    nodes: tuple[NodePower, ...]
    points: tuple[TrunkPoint, ...]
    pieces: tuple[PieceCurrent, ...]
    drops: tuple[DropCurrent, ...]
    supplies: tuple[SupplyCurrent, ...]
    earth: str
    assumptions: tuple[str, ...]

    @property
    def voltages(self) -> dict[str, float]:
        """Volts from V+ to V- by device."""
        return {node.device: node.voltage for node in self.nodes}

    @property
    def lowest(self) -> NodePower | None:
        """The device with the lowest voltage; None in a network without devices."""
        return min(self.nodes, key=lambda node: node.voltage, default=None)

    @property
    def common_mode_rise(self) -> float:
        """Volts between the highest and the lowest V- of the network."""
        rises = [point.v_minus for point in self.points] + [n.v_minus for n in self.nodes]
        return max(rises) - min(rises) if rises else 0.0

    @property
    def results(self) -> tuple[RuleResult, ...]:
        """Every rule that applies."""
        return (
            *self._voltage_rules(),
            *self._trunk_rules(),
            *self._drop_rules(),
            *self._supply_rules(),
        )

    @property
    def ok(self) -> bool:
        """Whether every rule holds."""
        return all(result.ok for result in self.results)

    def node(self, device: str) -> NodePower:
        """The device of that name."""
        return next(node for node in self.nodes if node.device == device)

    def _voltage_rules(self) -> Iterator[RuleResult]:
        if self.lowest is None:
            return
        highest = max(self.nodes, key=lambda node: node.voltage)
        dropped = max(self.nodes, key=lambda node: node.conductor_drop)
        yield RuleResult(
            LOWEST_VOLTAGE,
            self.lowest.voltage,
            LOWEST_NODE_VOLTAGE,
            "V",
            f"{self.lowest.device} ({self.lowest.tap})",
            MANUAL,
            at_least=True,
        )
        yield RuleResult(
            HIGHEST_VOLTAGE,
            highest.voltage,
            HIGHEST_NODE_VOLTAGE,
            "V",
            f"{highest.device} ({highest.tap})",
            MANUAL,
        )
        yield RuleResult(
            CONDUCTOR_DROP,
            dropped.conductor_drop,
            CONDUCTOR_DROP_LIMIT,
            "V",
            f"from the supply to {dropped.device} ({dropped.tap})",
            MANUAL,
        )
        top = max(self.nodes, key=lambda node: node.v_minus)
        yield RuleResult(
            "common-mode rise of V−",
            self.common_mode_rise,
            CONDUCTOR_DROP_LIMIT,
            "V",
            f"highest V− at {top.device} ({top.tap}), against {self.earth}",
            f"the drop allowed along V−, {MANUAL}",
        )

    def _trunk_rules(self) -> Iterator[RuleResult]:
        for name in dict.fromkeys(piece.cable for piece in self.pieces):
            cable = cable_type(name)
            most = max(
                (piece for piece in self.pieces if piece.cable == name),
                key=lambda piece: abs(piece.current),
            )
            yield RuleResult(
                TRUNK_CURRENT,
                abs(most.current),
                cable.current_limit(),
                "A",
                f"{name} cable from {most.start:g} to {most.end:g} m",
                cable.source_of("max_trunk_current"),
            )

    def _drop_rules(self) -> Iterator[RuleResult]:
        if self.drops:
            most = max(self.drops, key=lambda drop: drop.current / drop_current_limit(drop.length))
            yield drop_current_result(most)

    def _supply_rules(self) -> Iterator[RuleResult]:
        for given in self.supplies:
            supply = given.supply
            where = f"supply {supply.name}".strip() + f" at {supply.position:g} m"
            if supply.rating is not None:
                yield RuleResult(
                    "supply current", given.current, supply.rating, "A", where, RATING_PLATE
                )
            for side, fuse, current in (
                ("left", supply.fuse_left, given.left),
                ("right", supply.fuse_right, given.right),
            ):
                if fuse:
                    where_fuse = f"{side} fuse of {where}"
                    yield RuleResult(
                        "power tap fuse", abs(current), fuse, "A", where_fuse, FUSE_PLATE
                    )
            if given.current < 0:
                yield RuleResult(
                    "back-feed into a supply",
                    -given.current,
                    0.0,
                    "A",
                    where,
                    f"common practice, no source: a power tap's diode prevents it; {FROM_MEMORY}",
                )


def drop_current_result(drop: DropCurrent) -> RuleResult:
    """A drop's current against 4.57 / L and 3 A."""
    return RuleResult(
        "drop current",
        drop.current,
        drop_current_limit(drop.length),
        "A",
        f"{drop.tap}, drop of {drop.length:g} m",
        MANUAL,
    )
