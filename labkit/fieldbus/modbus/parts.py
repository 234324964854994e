"""The parts of a planned line: devices, taps with derivations, terminators, polarization, cable.

Each part checks itself when made and raises `PlanError` with a sentence. Positions are metres along
the trunk from its left end; resistances are in Ω. The pair's conductors are D1 (also B/B') and D0
(A/A'), beside them the common C (V1.02, 3.4, from memory); a binary 1 is D1 above D0. Makers use
the letters A and B the other way round as well, so go by D1 and D0 and by the polarity.
"""

from dataclasses import dataclass
from typing import Final, Self

from labkit.fieldbus.checked import every, flag, name, number
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import address_use
from labkit.fieldbus.serial.character import CharacterFormat, rate

Place = float | str
"""Where something is connected: metres along the trunk, or the name of the device at it."""

LONGEST_M: Final = 1e5
"""A choice of this library, far above any line."""
LONGEST_MS: Final = 60_000.0
"""Of a response time and of a reply time-out: a choice of this library."""
UNIT_LOAD_OHM: Final = 12_000.0
"""A receiver of one unit load, taken between D1 and D0 (from memory of EIA/TIA-485)."""
TERMINATOR_OHM: Final = 150.0
"""A terminator without capacitor, 0.5 W (V1.02, 3.4.5)."""
POLARIZATION_OHM: Final = 650.0
"""The largest polarizing resistor, and what is taken where a plan does not say (V1.02, 3.4.6)."""
POLARIZATION_VOLT: Final = 5.0
"""Where the pull-up resistor goes (V1.02, 3.4.6)."""
SECTION_MM2: Final = 0.205
"""AWG 24, usual for the pair (from memory; common practice, no source)."""
COPPER_OHM_MM2_PER_M: Final = 1 / 58
"""Resistivity of annealed copper at 20 °C (from memory of IEC 60028)."""


@dataclass(frozen=True, slots=True)
class Cable:
    """Conductors of the pair: `section_mm2`; `ohm_per_km` of one conductor where it is known.

    Where it is not, it is that of copper at 20 °C with this section.
    """

    section_mm2: float = SECTION_MM2
    ohm_per_km: float | None = None

    def __post_init__(self) -> None:
        number(self.section_mm2, "the section", "mm²", 0.01, 10.0, of="a conductor")
        if self.ohm_per_km is not None:
            number(self.ohm_per_km, "the resistance", "Ω/km", 0.0, 1e5, of="a conductor")

    @property
    def ohm_per_m(self) -> float:
        """Ohm of one conductor, each metre."""
        if self.ohm_per_km is not None:
            return self.ohm_per_km / 1000
        return COPPER_OHM_MM2_PER_M / self.section_mm2


@dataclass(frozen=True, slots=True)
class Device:
    """A station on the line: the master, or a device with an address.

    `address` is what is set at it, 0 to 255, None where the plan does not say and at the master,
    which has none (V1.02, 2.2). `unit_loads` count its receiver. `bit_rate` in bit/s and `form`
    are set at the device; None: like the line's. `needs_polarization`: its maker asks for a
    polarized line (V1.02, 3.4.6). `response_ms`: how soon it begins to answer; None where the plan
    does not say.
    """

    name: str
    address: int | None = None
    unit_loads: float = 1.0
    bit_rate: float | None = None
    form: CharacterFormat | None = None
    needs_polarization: bool = False
    master: bool = False
    response_ms: float | None = None

    def __post_init__(self) -> None:
        label = name(self.name, "a device")
        number(self.unit_loads, "the number of unit loads", "", 1e-3, 1e3, of=label)
        flag(self.needs_polarization, "the field 'needs_polarization'", of=label)
        flag(self.master, "the field 'master'", of=label)
        if self.bit_rate is not None:
            rate(self.bit_rate)
        if self.form is not None:
            check_form(self.form, f"of {label}")
        if self.response_ms is not None:
            number(self.response_ms, "the response time", "ms", 0.0, LONGEST_MS, of=label)
        if self.address is None:
            return
        address_use(self.address)
        if self.master:
            raise PlanError(f"{label} is the master, which has no address; leave the address out.")


@dataclass(frozen=True, slots=True)
class Derivation:
    """A cable of `length` m from a tap to its devices; of length 0 they are in the trunk itself."""

    length: float
    devices: tuple[Device, ...] = ()

    def __post_init__(self) -> None:
        number(self.length, "the length of a derivation", "m", 0.0, LONGEST_M)
        devices = every(self.devices, Device, "The devices of a derivation")
        object.__setattr__(self, "devices", devices)


@dataclass(frozen=True, slots=True)
class Tap:
    """A place at `position` m where one or more derivations leave the trunk.

    A device in the trunk (daisy-chained) is a derivation of length 0.
    """

    position: float
    derivations: tuple[Derivation, ...]
    name: str = ""

    def __post_init__(self) -> None:
        number(self.position, "the position of a tap", "m", 0.0, LONGEST_M)
        derivations = every(self.derivations, Derivation, "The derivations of a tap")
        object.__setattr__(self, "derivations", derivations)
        if self.name != "":
            name(self.name, "a tap")

    @property
    def label(self) -> str:
        """Its name, or where it is."""
        return self.name or f"tap at {round(self.position, 3):.12g} m"

    @classmethod
    def to(cls, position: float, *devices: Device, derivation: float = 0.0) -> Self:
        """A tap with one derivation, or with devices in the trunk itself."""
        return cls(position, (Derivation(derivation, devices),))


@dataclass(frozen=True, slots=True)
class Terminator:
    """A resistor of `ohm` between D1 and D0, in series with a capacitor of `nanofarad` if any."""

    at: Place
    ohm: float = TERMINATOR_OHM
    nanofarad: float = 0.0

    def __post_init__(self) -> None:
        _check_place(self.at, "a terminator")
        number(self.ohm, "the resistance", "Ω", 1e-3, 1e9, of="a terminator")
        number(self.nanofarad, "the capacitance", "nF", 0.0, 1e6, of="a terminator")


@dataclass(frozen=True, slots=True)
class Polarization:
    """A pull-up resistor from `volt` to D1 and a pull-down resistor from D0 to the common."""

    at: Place
    pull_up_ohm: float = POLARIZATION_OHM
    pull_down_ohm: float = POLARIZATION_OHM
    volt: float = POLARIZATION_VOLT

    def __post_init__(self) -> None:
        _check_place(self.at, "a polarization")
        number(self.pull_up_ohm, "the pull-up resistor", "Ω", 1e-3, 1e9)
        number(self.pull_down_ohm, "the pull-down resistor", "Ω", 1e-3, 1e9)
        number(self.volt, "the voltage of a polarization", "V", 0.0, 1e3, above=True)


def check_form(form: object, of: str) -> None:
    """Raise `PlanError` unless `form` is a format of characters."""
    if not isinstance(form, CharacterFormat):
        raise PlanError(
            f"The format of the characters {of} is {form!r}; "
            'give a CharacterFormat, such as CharacterFormat.from_text("8E1").'
        )


def _check_place(at: object, of: str) -> None:
    if isinstance(at, str):
        name(at, f"the device with {of}")
    else:
        number(at, "the position", "m", 0.0, LONGEST_M, of=of)
