"""Node address and data rate as switches on a device set them, both ways.

Eight-position switch: positions 1 to 6 give the node address in binary, most significant first;
7 and 8 give the data rate, 00 = 125, 01 = 250, 10 = 500 kbit/s, 11 not allowed. Rotary
switches: two decades give the address 00 to 63. Both are common practice, no source: the
device's own manual decides. A setting is read at power-up, so a change needs a power cycle.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from labkit.fieldbus.checked import whole
from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.fieldbus.devicenet.identifiers import HIGHEST_ADDRESS, node_address
from labkit.fieldbus.errors import PlanError

POSITIONS = 8
ADDRESS_POSITIONS = 6


@dataclass(frozen=True, slots=True)
class DipSwitches:
    """Eight positions, 1 first; True is on, and on counts as 1. Never holds the rate code 11.

    >>> DipSwitches.from_settings(5, 250).text
    '00010101'
    """

    positions: tuple[bool, ...]

    def __post_init__(self) -> None:
        if not isinstance(self.positions, (tuple, list)) or len(self.positions) != POSITIONS:
            raise PlanError(
                f"the switch has {POSITIONS} positions, but {self.positions!r} is given; "
                "give eight on/off values, position 1 first."
            )
        object.__setattr__(self, "positions", tuple(self.positions))
        for at, on in enumerate(self.positions, start=1):
            if not isinstance(on, bool):
                raise PlanError(f"switch position {at} is {on!r}; it is either True (on) or False.")
        if self.positions[ADDRESS_POSITIONS:] == (True, True):
            raise PlanError(
                "positions 7 and 8 are both on, which is no data rate; "
                "set 00 for 125, 01 for 250 or 10 for 500 kbit/s."
            )

    @classmethod
    def from_settings(cls, address: int, rate_kbit_s: int) -> "DipSwitches":
        """The positions for a node address (0-63) and a data rate (125, 250, 500 kbit/s)."""
        bits = node_address(address) << 2 | rate_code(rate_kbit_s)
        return cls(tuple(bool(bits >> shift & 1) for shift in range(POSITIONS - 1, -1, -1)))

    @classmethod
    def from_text(cls, text: str) -> "DipSwitches":
        """Eight characters 0 (off) and 1 (on), position 1 first; spaces are ignored."""
        if not isinstance(text, str):
            raise PlanError(f"the switch setting must be text such as 00010101, not {text!r}.")
        packed = "".join(text.split())
        if len(packed) != POSITIONS or set(packed) - {"0", "1"}:
            raise PlanError(
                f"the switch setting {text!r} is not eight digits 0 and 1; "
                "write position 1 first, 1 for on."
            )
        return cls(tuple(digit == "1" for digit in packed))

    @property
    def address(self) -> int:
        """Node address, 0 to 63."""
        return _binary(self.positions[:ADDRESS_POSITIONS])

    @property
    def rate_kbit_s(self) -> int:
        """Data rate in kbit/s."""
        return DATA_RATES[_binary(self.positions[ADDRESS_POSITIONS:])]

    @property
    def text(self) -> str:
        """Eight digits, position 1 first, 1 for on."""
        return "".join("1" if on else "0" for on in self.positions)


@dataclass(frozen=True, slots=True)
class RotarySwitches:
    """Two decades, tens and ones, that together read 00 to 63.

    >>> RotarySwitches.from_address(42)
    RotarySwitches(tens=4, ones=2)
    """

    tens: int
    ones: int

    def __post_init__(self) -> None:
        whole(self.tens, "the tens switch", 0, 9)
        whole(self.ones, "the ones switch", 0, 9)
        if self.address > HIGHEST_ADDRESS:
            raise PlanError(
                f"the rotary switches read {self.address:02d}, above {HIGHEST_ADDRESS}; set 00 to "
                "63 (some devices take a higher setting as an address kept in memory: see the "
                "device's manual)."
            )

    @classmethod
    def from_address(cls, address: int) -> "RotarySwitches":
        """The two decades for a node address, 0 to 63."""
        return cls(*divmod(node_address(address), 10))

    @property
    def address(self) -> int:
        """Node address, 0 to 63."""
        return 10 * self.tens + self.ones


def rate_code(rate_kbit_s: int) -> int:
    """The code 0, 1 or 2 of a data rate of 125, 250 or 500 kbit/s."""
    if isinstance(rate_kbit_s, bool) or rate_kbit_s not in DATA_RATES:
        raise PlanError(
            f"{rate_kbit_s!r} is not a DeviceNet data rate; choose 125, 250 or 500 kbit/s."
        )
    return DATA_RATES.index(rate_kbit_s)


def address_mistakes(address: int, rate_kbit_s: int) -> dict[str, int]:
    """Addresses that typical slips at an eight-position switch give instead, by what was done.

    Reading the six positions least significant first, reading on as 0, and reading two places
    too far (the rate positions taken for address bits). Slips that give `address` are left out.
    """
    switches = DipSwitches.from_settings(address, rate_kbit_s)
    bits = switches.positions[:ADDRESS_POSITIONS]
    found = {
        "read with the least significant position first": _binary(bits[::-1]),
        "read with on as 0": _binary(tuple(not on for on in bits)),
        "read from position 3 on, the rate positions as address bits": _binary(
            switches.positions[2:]
        ),
    }
    return {slip: wrong for slip, wrong in found.items() if wrong != address}


def _binary(bits: Sequence[bool]) -> int:
    number = 0
    for bit in bits:
        number = number << 1 | bit
    return number
