"""How far real parts may lie from their plates, and a layout with all of them at such an edge.

Nothing here is a measurement of a real part: the usual figures say beside them where they are from.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from labkit.bench.layout import Layout
from labkit.bench.plan import Cable, Device, Plan, Segment, Supply, Tap, Terminator

NO_SOURCE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Between:
    """A real value lies from `low` to `high` times its planned one; `source` says who says so."""

    low: float
    high: float
    source: str = NO_SOURCE

    @staticmethod
    def within(share: float, source: str = NO_SOURCE) -> Between:
        """The same share (0.01 is 1 %) on either side."""
        return Between(1 - share, 1 + share, source)


_TERMINATORS: Final = Between.within(0.01)
_CABLE: Final = Between.within(0.1)
_CONTACTS: Final = Between(0.2, 10)
_INPUTS: Final = Between(1 / 3, 10 / 3)
_SUPPLIES: Final = Between.within(0.04)
_LOADS: Final = Between(0.0, 1.1)
_BIAS: Final = Between.within(0.05)


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts of a rig. `inputs` are receivers, `loads` the currents that devices draw."""

    terminators: Between = _TERMINATORS
    cable: Between = _CABLE
    contacts: Between = _CONTACTS
    inputs: Between = _INPUTS
    supplies: Between = _SUPPLIES
    loads: Between = _LOADS
    bias: Between = _BIAS


@dataclass(frozen=True, slots=True)
class Factors:
    """What the planned values are multiplied with, part by part."""

    terminators: float = 1.0
    cable: float = 1.0
    contacts: float = 1.0
    inputs: float = 1.0
    supplies: float = 1.0
    loads: float = 1.0
    bias: float = 1.0

    @staticmethod
    def of(parts: Parts, high: Iterable[str]) -> Factors:
        """The upper edge of the parts that `high` names, the lower one of all others."""
        above = frozenset(high)
        edges = {
            each.name: getattr(parts, each.name).high
            if each.name in above
            else getattr(parts, each.name).low
            for each in fields(parts)
        }
        return Factors(**edges)


def layout_with(layout: Layout, factors: Factors) -> Layout:
    """The same layout with parts of other values; the planned layout stays as it is."""
    cabling, planned = layout.cabling, dict(layout.devices)
    input_ohm = cabling.levels.input_ohm

    def of_input(device: Any) -> float:
        return factors.inputs * input_ohm(planned[device.name])

    bias = layout.bias
    if bias is not None:
        bias = replace(
            bias,
            up_ohm=bias.up_ohm * factors.bias,
            down_ohm=bias.down_ohm * factors.bias,
            volt=bias.volt * factors.supplies,
        )
    return Layout(
        _OtherPlan(layout.plan, factors),
        replace(
            cabling,
            terminator_ohm=cabling.terminator_ohm * factors.terminators,
            contact_ohm=cabling.contact_ohm * factors.contacts,
            levels=replace(cabling.levels, input_ohm=of_input),
        ),
        layout.earthed_at,
        bias,
    )


@dataclass(frozen=True, slots=True)
class _OtherCable:
    name: str
    power_loop_data: float | None
    signal_loop_data: float | None
    power_resistance: float | None


@dataclass(frozen=True, slots=True)
class _OtherDevice:
    name: str
    address: int | None
    current: float
    constant_power: float | None


@dataclass(frozen=True, slots=True)
class _OtherSupply:
    position: float
    name: str
    voltage: float
    rating: float | None
    resistance: float
    fuse_left: float | None
    fuse_right: float | None
    diode: bool
    reversed_polarity: bool


@dataclass(frozen=True)
class _OtherPlan:
    """A plan whose cable, supplies and devices have other values; all else is the plan's own."""

    plan: Plan
    factors: Factors

    @property
    def data_rate(self) -> float:
        return self.plan.data_rate

    @property
    def trunk_length(self) -> float:
        return self.plan.trunk_length

    @property
    def taps(self) -> Sequence[Tap]:
        return self.plan.taps

    @property
    def terminators(self) -> Sequence[Terminator] | None:
        return self.plan.terminators

    @property
    def section_breaks(self) -> Sequence[float]:
        return self.plan.section_breaks

    @property
    def devices(self) -> Sequence[Device]:
        by = self.factors.loads
        return tuple(
            _OtherDevice(
                each.name,
                each.address,
                each.current * by,
                each.constant_power and each.constant_power * by,
            )
            for each in self.plan.devices
        )

    @property
    def supplies(self) -> Sequence[Supply]:
        return tuple(
            _OtherSupply(
                each.position,
                each.name,
                each.voltage * self.factors.supplies,
                each.rating,
                each.resistance,
                each.fuse_left,
                each.fuse_right,
                each.diode,
                each.reversed_polarity,
            )
            for each in self.plan.supplies
        )

    def pieces(self, start: float, end: float) -> Sequence[tuple[Segment, float]]:
        return self.plan.pieces(start, end)

    def cable(self, name: str) -> Cable:
        cable, by = self.plan.cable(name), self.factors.cable
        known = (cable.power_loop_data, cable.signal_loop_data, cable.power_resistance)
        return _OtherCable(cable.name, *(ohm and ohm * by for ohm in known))

    def with_supply_at(self, position: float) -> Plan:
        return _OtherPlan(self.plan.with_supply_at(position), self.factors)
