"""What a trainee can do to the bench. Each action makes another bench, or says why it cannot.

Whether an action is refused, and in which words, depends only on what a person at the bench can
see: the plan, the power, the plugs. A refusal costs no time, so it must not tell of a hidden fault.

A repair takes away the faults that it would take away in life, and no others; a wrong repair
makes a new fault.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Final

from labkit.bench.bench import Bench
from labkit.bench.conductors import Wire
from labkit.bench.faults import (
    IN_ORDER,
    AddressSet,
    AtPiece,
    AtSupply,
    Babbling,
    Broken,
    Corroded,
    DeviceDead,
    Draws,
    Earthed,
    Fault,
    IoSizes,
    Landed,
    Loose,
    NotEarthed,
    RateSet,
    ScanListAs,
    SupplyReversed,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    Touching,
)
from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.fieldbus.devicenet.cable import data_rate
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

NEW_ADDRESS: Final = 63
NEW_RATE: Final = 125
"""A new device usually comes set to node address 63 and 125 kbit/s (common practice, no source)."""
ENDS: Final = (LEFT_END, RIGHT_END)


class NotDoneError(PlanError):
    """An action that cannot be done now; the sentence is for the trainee."""


@dataclass(frozen=True)
class Action:
    """Base of all actions."""

    kind: ClassVar[str] = ""
    needs_dead: ClassVar[bool] = False

    def do(self, bench: Bench) -> Bench:
        """The bench afterwards. Raises `NotDoneError`, or `PlanError` for what is not there."""
        if self.needs_dead and bench.situation.power:
            raise NotDoneError(
                "Not done: the network is live. Switch the supply off, secure it, check that it is "
                "dead; then work on the wiring."
            )
        return self._done(bench)

    def _done(self, bench: Bench) -> Bench:
        raise NotImplementedError

    @property
    def words(self) -> str:
        """The action as a log names it."""
        raise NotImplementedError


@dataclass(frozen=True)
class PowerOn(Action):
    """Switch all supplies on."""

    kind: ClassVar[str] = "power on"

    def _done(self, bench: Bench) -> Bench:
        return bench.standing(replace(bench.situation, power=True))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "power on"


@dataclass(frozen=True)
class PowerOff(Action):
    """Switch all supplies off."""

    kind: ClassVar[str] = "power off"

    def _done(self, bench: Bench) -> Bench:
        return bench.standing(replace(bench.situation, power=False))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "power off"


@dataclass(frozen=True)
class _AtConnector(Action):
    connector: str

    def _checked(self, bench: Bench) -> None:
        bench.layout.connector(self.connector)


@dataclass(frozen=True)
class Unplug(_AtConnector):
    """Pull a connector."""

    kind: ClassVar[str] = "unplug"

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        out = bench.situation.unplugged | {self.connector}
        return bench.standing(replace(bench.situation, unplugged=out))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"unplug {self.connector}"


@dataclass(frozen=True)
class Plug(_AtConnector):
    """Put a connector back."""

    kind: ClassVar[str] = "plug"

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        out = bench.situation.unplugged - {self.connector}
        return bench.standing(replace(bench.situation, unplugged=out))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"plug {self.connector} in again"


@dataclass(frozen=True)
class LiftEarth(Action):
    """Take the earth conductor off at the supply, to look for a second earth."""

    kind: ClassVar[str] = "lift earth"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        return bench.standing(replace(bench.situation, earth_lifted=True))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "lift the earth at the supply"


@dataclass(frozen=True)
class FitEarth(Action):
    """Earth shield and V- at the supply."""

    kind: ClassVar[str] = "fit earth"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        rest = [fault for fault in bench.faults if not isinstance(fault, NotEarthed)]
        return bench.with_faults(rest).standing(replace(bench.situation, earth_lifted=False))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "earth shield and V- at the supply"


@dataclass(frozen=True)
class Land(_AtConnector):
    """Make a connector anew, its conductors on the terminals given (0: left off).

    `terminals` as in `Landed`. A conductor that was broken, loose or corroded there is cut back
    and is good again; one that touched another no longer does.
    """

    terminals: tuple[int, int, int, int, int] = IN_ORDER
    kind: ClassVar[str] = "land"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        gone = (Landed, Broken, Loose, Touching, Corroded)
        rest: set[Fault] = {
            fault
            for fault in bench.faults
            if not (isinstance(fault, gone) and fault.connector == self.connector)
        }
        if tuple(self.terminals) != IN_ORDER:
            rest.add(Landed(self.connector, self.terminals))
        return bench.with_faults(rest)

    @property
    def words(self) -> str:
        """As a log names it."""
        if tuple(self.terminals) == IN_ORDER:
            return f"make {self.connector} anew"
        return f"make {self.connector} anew: {Landed(self.connector, self.terminals).words}"


@dataclass(frozen=True)
class PartFromEarth(_AtConnector):
    """Free a conductor from earth at a connector. Where none touches, nothing changes: that the
    hands found nothing to do is not told, or asking everywhere would find the fault for nothing.
    """

    wire: Wire = Wire.DRAIN
    kind: ClassVar[str] = "part from earth"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        self._checked(bench)
        return bench.with_faults(bench.faults - {Earthed(self.connector, self.wire)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"part {self.wire.label} from earth at {self.connector}"


@dataclass(frozen=True)
class FitTerminator(Action):
    """Fit a terminator of 121 ohm at an end of the trunk or at a connector.

    At an end it takes the place of what is there.
    """

    place: str
    kind: ClassVar[str] = "fit terminator"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if self.place not in ENDS:
            bench.layout.connector(self.place)
            return bench.with_faults(bench.faults | {TerminatorExtra(self.place)})
        return bench.with_faults(bench.faults - _of_end(bench, self.place))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"fit a terminator at {self.place}"


@dataclass(frozen=True)
class RemoveTerminator(Action):
    """Leave a place without a terminator; where none was, nothing changes."""

    place: str
    kind: ClassVar[str] = "remove terminator"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if self.place in ENDS:
            rest = bench.faults - _of_end(bench, self.place)
            return bench.with_faults(rest | {TerminatorMissing(self.place)})
        bench.layout.connector(self.place)
        return bench.with_faults(bench.faults - {TerminatorExtra(self.place)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"take the terminator at {self.place} away"


@dataclass(frozen=True)
class SetSwitches(Action):
    """Set a device's node address and data rate in kbit/s."""

    device: str
    address: int
    rate: int
    kind: ClassVar[str] = "set switches"

    def _done(self, bench: Bench) -> Bench:
        return bench.with_faults(_set(bench, self.device, self.address, self.rate))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set {self.device} to node address {self.address}, {self.rate} kbit/s"


@dataclass(frozen=True)
class ReplaceDevice(Action):
    """Put a new device in the place of one. It comes set to node address 63 and 125 kbit/s."""

    device: str
    kind: ClassVar[str] = "replace device"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        gone = (DeviceDead, Babbling, Draws, IoSizes)
        rest = {
            fault
            for fault in _set(bench, self.device, NEW_ADDRESS, NEW_RATE)
            if not (isinstance(fault, gone) and fault.device == self.device)
        }
        return bench.with_faults(rest)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"replace {self.device}"


@dataclass(frozen=True)
class ReplaceSupply(Action):
    """Put a new supply in the place of one, wired the right way round."""

    supply: str
    kind: ClassVar[str] = "replace supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.supply(self.supply)
        return bench.with_faults(
            f for f in bench.faults if not (isinstance(f, AtSupply) and f.supply == self.supply)
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"replace {self.supply}"


@dataclass(frozen=True)
class TurnSupply(Action):
    """Exchange V+ and V- at a supply."""

    supply: str
    kind: ClassVar[str] = "turn supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.supply(self.supply)
        return bench.with_faults(bench.faults ^ {SupplyReversed(self.supply)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"exchange V+ and V- at {self.supply}"


@dataclass(frozen=True)
class MoveSupply(Action):
    """Move the only supply to another position along the trunk, m.

    Trunk cable that this cuts or joins is laid anew, as planned, and so loses what was wrong
    with it: at the supply's old neighbours and at its new ones.
    """

    position: float
    kind: ClassVar[str] = "move supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if len(bench.layout.supplies) != 1:
            raise NotDoneError("Not done: only a network with one supply has its supply moved.")
        before = bench.layout.pieces
        setup = replace(bench.setup, plan=bench.setup.plan.with_supply_at(self.position))
        after = setup.layout.pieces
        kept = frozenset(
            fault
            for fault in bench.faults
            if not isinstance(fault, AtPiece) or after.get(fault.piece) == before[fault.piece]
        )
        return replace(bench, setup=setup, faults=kept)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"move the supply to {self.position:g} m"


@dataclass(frozen=True)
class ReplaceCable(Action):
    """Lay a piece of cable anew, as planned."""

    piece: str
    kind: ClassVar[str] = "replace cable"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.piece(self.piece)
        return bench.with_faults(
            f for f in bench.faults if not (isinstance(f, AtPiece) and f.piece == self.piece)
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"lay {self.piece} anew"


@dataclass(frozen=True)
class Download(Action):
    """Load a scan list into the scanner; None: the planned one.

    On a real scanner this stops its I/O and overwrites what is there: those who run the machine
    must know.
    """

    entries: tuple[ScanEntry, ...] | None = None
    kind: ClassVar[str] = "download"

    def _done(self, bench: Bench) -> Bench:
        rest = {fault for fault in bench.faults if not isinstance(fault, ScanListAs)}
        listed = [entry.address for entry in self.entries or ()]
        twice = next((address for address in listed if listed.count(address) > 1), None)
        if twice is not None:
            raise NotDoneError(f"Not loaded: node {twice} stands in the list twice; remove one.")
        if self.entries is not None and tuple(self.entries) != bench.setup.entries:
            rest.add(ScanListAs(tuple(self.entries)))
        return bench.with_faults(rest)

    @property
    def words(self) -> str:
        """As a log names it."""
        return "download the scan list"


ACTIONS: Final[dict[str, type[Action]]] = {
    action.kind: action
    for action in (
        PowerOn, PowerOff, Unplug, Plug, LiftEarth, FitEarth, Land, PartFromEarth, FitTerminator,
        RemoveTerminator, SetSwitches, ReplaceDevice, ReplaceSupply, TurnSupply, MoveSupply,
        ReplaceCable, Download,
    )
}  # fmt: skip
"""Every kind of action by its name."""


def _of_end(bench: Bench, end: str) -> frozenset[Fault]:
    kinds = (TerminatorMissing, TerminatorValue)
    return frozenset(f for f in bench.faults if isinstance(f, kinds) and f.end == end)


def _set(bench: Bench, device: str, address: int, rate: int) -> set[Fault]:
    planned = bench.layout.device(device)
    rest = {
        fault
        for fault in bench.faults
        if not (isinstance(fault, AddressSet | RateSet) and fault.device == device)
    }
    if address != planned.address:
        rest.add(AddressSet(device, address))
    if data_rate(rate) != bench.setup.plan.data_rate:
        rest.add(RateSet(device, rate))
    return rest
