"""A Modbus line as planned: one frozen value that cannot exist in an impossible state.

Broken *rules* (too long, a terminator too many, two devices with one address) can be planned;
`rules` finds them. What cannot be built at all (a tap beyond the trunk's end, a terminator at a
device that is not there) raises `PlanError` with a sentence.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from math import fsum
from typing import Any, Final

from labkit.fieldbus.checked import every, number, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.parts import (
    LONGEST_M,
    LONGEST_MS,
    Cable,
    Derivation,
    Device,
    Place,
    Polarization,
    Tap,
    Terminator,
    check_form,
)
from labkit.fieldbus.modbus.timing import MOST_RETRIES
from labkit.fieldbus.serial.character import CharacterFormat, rate

SAME_PLACE_M: Final = 1e-3
"""Metres within which two places are the same, and under which a derivation has no length."""
DEFAULT_BIT_RATE: Final = 19_200
"""Default bit rate, bit/s (V1.02, 3.2; its section 5 only recommends it for the basic class)."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place as found: metres along the trunk, and the derivation it lies in, if in one."""

    position: float
    derivation: Derivation | None = None

    @property
    def in_trunk(self) -> bool:
        """Whether it lies in the trunk itself."""
        return self.derivation is None or self.derivation.length < SAME_PLACE_M


@dataclass(frozen=True)
class Network:
    """A trunk of `length` m with taps; terminators, polarizations, and where the common is earthed.

    `bit_rate` in bit/s and `form` are those of the line; a device may be set otherwise by mistake.
    `timeout_ms` and `tries` are set at the master: how long it waits for a reply, and how often it
    asks before it goes on; None where the plan does not say. Taps are kept in trunk order.
    """

    length: float
    taps: tuple[Tap, ...] = ()
    terminators: tuple[Terminator, ...] = ()
    polarizations: tuple[Polarization, ...] = ()
    earths: tuple[Place, ...] = ()
    bit_rate: float = DEFAULT_BIT_RATE
    form: CharacterFormat = field(default_factory=CharacterFormat)
    cable: Cable = field(default_factory=Cable)
    timeout_ms: float | None = None
    tries: int | None = None

    def __post_init__(self) -> None:
        put = object.__setattr__
        number(self.length, "the length of the trunk", "m", SAME_PLACE_M, LONGEST_M)
        rate(self.bit_rate)
        check_form(self.form, "of the line")
        if not isinstance(self.cable, Cable):
            raise PlanError(f"The cable of the line is {self.cable!r}; give a Cable.")
        if self.timeout_ms is not None:
            number(self.timeout_ms, "the reply time-out", "ms", 1.0, LONGEST_MS)
        if self.tries is not None:
            whole(self.tries, "The number of tries", 1, MOST_RETRIES + 1)
        put(self, "taps", self._taps_in_order())
        put(self, "terminators", every(self.terminators, Terminator, "The terminators"))
        put(self, "polarizations", every(self.polarizations, Polarization, "The polarizations"))
        put(self, "earths", self._earths())
        self._require_unique_names()
        for what, part in (("terminator", self.terminators), ("polarization", self.polarizations)):
            for each in part:
                self.spot(each.at, f"The {what}")
        for place in self.earths:
            self.spot(place, "The earth of the common")

    @cached_property
    def devices(self) -> tuple[Device, ...]:
        """All stations in trunk order, the master among them."""
        return tuple(device for device, _ in self._placed())

    @cached_property
    def spots(self) -> Mapping[str, Spot]:
        """Where each device is connected, by its name."""
        return {device.name: spot for device, spot in self._placed()}

    @property
    def addresses(self) -> tuple[tuple[str, int | None], ...]:
        """(name, address) of every device but the master, as the address checks take them."""
        return tuple((each.name, each.address) for each in self.devices if not each.master)

    @property
    def unit_loads(self) -> float:
        """The unit loads of all receivers, the master's too."""
        return fsum(device.unit_loads for device in self.devices)

    def spot(self, at: Place, what: str = "The point") -> Spot:
        """Where a place lies; `PlanError` for a device that is not there or beyond the trunk."""
        if isinstance(at, str):
            if at in self.spots:
                return self.spots[at]
            names = ", ".join(self.spots) or "none"
            raise PlanError(
                f"{what} is to be at {at!r}, but there is no such device; the devices are {names}."
            )
        position = number(at, "the position in the trunk", "m")
        self._require_on_trunk(position, what)
        return Spot(min(position, self.length))

    def with_terminators_at_ends(self, terminator: Terminator) -> "Network":
        """The same plan with two terminators like this one, at the trunk's ends, and no others."""
        ends = tuple(replace(terminator, at=end) for end in (0.0, self.length))
        return replace(self, terminators=ends)

    def to_json(self) -> dict[str, Any]:
        """The plan as plain lists and dicts."""
        from labkit.fieldbus.modbus import plan_json

        return plan_json.network_to_json(self)

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> "Network":
        """The plan read from plain lists and dicts; `PlanError` names the place of a mistake."""
        from labkit.fieldbus.modbus import plan_json

        return plan_json.network_from_json(data)

    def _placed(self) -> Iterator[tuple[Device, Spot]]:
        for tap in self.taps:
            for derivation in tap.derivations:
                for device in derivation.devices:
                    yield device, Spot(tap.position, derivation)

    def _taps_in_order(self) -> tuple[Tap, ...]:
        taps = sorted(every(self.taps, Tap, "The taps"), key=lambda tap: tap.position)
        if taps:
            self._require_on_trunk(taps[-1].position, "The tap")
        for tap, following in pairwise(taps):
            if following.position - tap.position < SAME_PLACE_M:
                raise PlanError(
                    f"Two taps stand at {tap.position:g} m; move one, or make it one tap with "
                    "several derivations."
                )
        return tuple(taps)

    def _earths(self) -> tuple[Place, ...]:
        if isinstance(self.earths, str) or not isinstance(self.earths, tuple | list):
            raise PlanError(
                f"The places where the common is earthed must be a list, not {self.earths!r}."
            )
        return tuple(self.earths)

    def _require_on_trunk(self, position: float, what: str) -> None:
        if position > self.length + SAME_PLACE_M:
            raise PlanError(
                f"{what} at {position:g} m lies beyond the trunk, which is {self.length:g} m long; "
                "move it or lengthen the trunk."
            )

    def _require_unique_names(self) -> None:
        for what, names in (
            ("devices", [device.name for device in self.devices]),
            ("taps", [tap.name for tap in self.taps if tap.name]),
        ):
            if len(set(names)) < len(names):
                twice = next(name for name in names if names.count(name) > 1)
                raise PlanError(f"Two {what} are called {twice!r}; rename one of them.")
