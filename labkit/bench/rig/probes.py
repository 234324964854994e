"""What is measured at a rig, in an order of its own: at the same places on every card.

Ohms with the power off, volts with it on and nobody sending. Nothing is read through a device: what
lies inside it is nobody's plan (see `labkit.bench.rig.spans`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from labkit.bench.conductors import Wire
from labkit.bench.layout import Layout
from labkit.bench.situation import Situation, Terminal

OHMS = "ohms"
VOLTS = "volts"


@dataclass(frozen=True, slots=True)
class Probe:
    """A meter between two terminals: `instrument` is "ohms" or "volts"; `where` is told and read.

    `unplugged` is the connector that is pulled first, "" for none.
    """

    instrument: str
    where: str
    a: Terminal
    b: Terminal
    unplugged: str = ""

    @property
    def unit(self) -> str:
        """Ω or V."""
        return "Ω" if self.instrument == OHMS else "V"

    @property
    def situation(self) -> Situation:
        """How the rig stands."""
        out = frozenset({self.unplugged} if self.unplugged else ())
        return Situation(power=self.instrument == VOLTS, unplugged=out)


def probes_of(layout: Layout, reference: str) -> tuple[Probe, ...]:
    """All readings of a rig. `reference` is the device from which conductors are followed."""
    devices = [reference, *(name for name in layout.device_connectors if name != reference)]
    return (
        *_across(layout, devices),
        *_along(layout, devices),
        *_unplugged(layout, devices),
        *_live(layout, devices),
    )


def followed(layout: Layout) -> tuple[Wire, ...]:
    """The conductors that are followed from device to device: those that a device works by."""
    return layout.conductors.working


def _across(layout: Layout, devices: Sequence[str]) -> Iterator[Probe]:
    high, low = layout.conductors.pair
    for name in devices:
        yield _pair(layout, name, f"{name}: {high.label} to {low.label}")


def _pair(layout: Layout, name: str, where: str, unplugged: str = "") -> Probe:
    high, low = layout.conductors.pair
    at = layout.device_connectors[name].id
    return Probe(OHMS, where, Terminal.of(at, high), Terminal.of(at, low), unplugged)


def _along(layout: Layout, devices: Sequence[str]) -> Iterator[Probe]:
    first, *others = devices
    at = layout.device_connectors
    for wire in followed(layout):
        for name in others:
            where = f"{wire.label}: {first} to {name}"
            yield Probe(
                OHMS, where, Terminal.of(at[first].id, wire), Terminal.of(at[name].id, wire)
            )


def _unplugged(layout: Layout, devices: Sequence[str]) -> Iterator[Probe]:
    """The pair once a device's drop is off the line, and both halves of a trunk that is parted."""
    high, low = (wire.label for wire in layout.conductors.pair)
    other_end = {piece.b: piece.a for piece in layout.pieces.values()}
    for name in devices:
        seen_at = next((other for other in devices if other != name), None)
        if seen_at:
            pulled = other_end[layout.device_connectors[name].id]
            where = f"{pulled} unplugged, {seen_at}: {high} to {low}"
            yield _pair(layout, seen_at, where, pulled)
    parted = middle_of(layout)
    if parted is None:
        return
    left, right, connector = parted
    for name in (left, right):
        yield _pair(layout, name, f"{connector} unplugged, {name}: {high} to {low}", connector)


def middle_of(layout: Layout) -> tuple[str, str, str] | None:
    """A device on either half, and the trunk connector that is pulled to part the two; or None."""
    connectors = list(layout.device_connectors.values())
    half = len(connectors) // 2
    for number in (*range(half, len(connectors)), *range(half - 1, 0, -1)):
        before, after = connectors[number - 1], connectors[number]
        if before.position < after.position:
            joint = next(
                c.id
                for c in layout.connectors.values()
                if c.kind == "trunk"
                and c.position == after.position
                and c.id == f"{c.socket}, left"
                and c.socket in {tap.name for tap in layout.plan.taps}
            )
            return before.socket, after.socket, joint
    return None


def _live(layout: Layout, devices: Sequence[str]) -> Iterator[Probe]:
    """Volts of the power pair; of the signal pair only where a bias holds it at rest."""
    conductors, at = layout.conductors, layout.device_connectors
    pairs = [conductors.power] if conductors.power else []
    if layout.bias is not None and not layout.cabling.levels.holds:
        pairs.append(conductors.pair)
    for plus, minus in pairs:
        for name in devices:
            where = f"{name}: {plus.label} against {minus.label}"
            yield Probe(
                VOLTS, where, Terminal.of(at[name].id, plus), Terminal.of(at[name].id, minus)
            )
