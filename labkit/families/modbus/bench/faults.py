"""What can be set wrongly on a Modbus line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final

from labkit.bench.faults import AtDevice, Fault, above_zero
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import device_address
from labkit.fieldbus.modbus.functions import Function, RefusedRequestError
from labkit.fieldbus.modbus.messages import ReadRequest
from labkit.fieldbus.modbus.registers import Entry
from labkit.fieldbus.serial.character import CharacterFormat, rate

TIMEOUT: Final = "time-out of the master"
"""The place of a reply time-out that is set wrongly."""


@dataclass(frozen=True)
class AddressSet(AtDevice):
    """A device set to another address than planned."""

    address: int
    kind: ClassVar[str] = "address set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        device_address(self.address)

    def check(self, layout: Layout) -> None:
        """The device must be there, and have an address at all."""
        AtDevice.check(self, layout)
        if layout.device(self.device).address is None:
            raise PlanError(f"{self.device} is the master, which has no address.")

    @property
    def words(self) -> str:
        """Which device, which address."""
        return f"address {self.address} is set at {self.device}"


@dataclass(frozen=True)
class RateSet(AtDevice):
    """A device set to another bit rate than the line's, bit/s."""

    rate: int
    kind: ClassVar[str] = "rate set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        rate(self.rate)

    @property
    def words(self) -> str:
        """Which device, which rate."""
        return f"{self.rate} bit/s is set at {self.device}"


@dataclass(frozen=True)
class FormSet(AtDevice):
    """A device set to other characters than the line's, such as 8O1."""

    form: str
    kind: ClassVar[str] = "form set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "form", CharacterFormat.from_text(self.form).text)

    @property
    def words(self) -> str:
        """Which device, which characters."""
        return f"characters {self.form} are set at {self.device}"


@dataclass(frozen=True)
class SecondMaster(AtDevice):
    """A device set to be a master, which polls the others as well."""

    kind: ClassVar[str] = "second master"
    wired: ClassVar[bool] = False

    def check(self, layout: Layout) -> None:
        """The device must be there, and not be the master itself."""
        AtDevice.check(self, layout)
        if layout.device(self.device).address is None:
            raise PlanError(f"{self.device} is the master of this line, not a second one.")

    @property
    def words(self) -> str:
        """Which device."""
        return f"{self.device} is set to be a master and polls as well"


def request_place(device: str) -> str:
    """The place of a request that is set wrongly in the master."""
    return f"request to {device}"


@dataclass(frozen=True)
class RequestSet(Fault):
    """A master that reads other registers of a device than planned, from `start` on.

    `start` is the address in the frame, from 0 on; `function` reads holding registers (3) or input
    registers (4).
    """

    device: str
    function: int
    start: int
    kind: ClassVar[str] = "request set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        require_register_request(self.function, self.start)

    @property
    def place(self) -> str:
        """The entry of the master's poll list."""
        return request_place(self.device)

    @property
    def words(self) -> str:
        """Which registers."""
        return f"the master asks {self.device} for {registers_from(self.function, self.start)}"

    def check(self, layout: Layout) -> None:
        """The device must be there, and be asked at all."""
        if layout.device(self.device).address is None:
            raise PlanError(f"{self.device} is the master, which nobody asks.")


def require_register_request(function: int, start: int) -> None:
    """Raise `PlanError` unless a master may read registers so."""
    if type(function) is not int or function not in (3, 4):
        raise PlanError(f"The master reads registers with function 3 or 4, not with {function!r}.")
    try:
        ReadRequest(Function(function), start, 1)
    except RefusedRequestError as error:
        raise PlanError(str(error)) from error


def registers_from(function: int, start: int) -> str:
    """The registers that are asked for, in words, as documents number them and as frames do."""
    entry = Entry.at(Function(function).table, start)
    return f"{entry.table.entry}s from address {start} ({entry.text}) on"


@dataclass(frozen=True)
class TimeoutSet(Fault):
    """A master that waits `ms` for a reply instead of the planned time."""

    ms: float
    kind: ClassVar[str] = "time-out set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        above_zero(self.ms, "The time-out", "ms")

    @property
    def place(self) -> str:
        """The master's setting."""
        return TIMEOUT

    @property
    def words(self) -> str:
        """How long it waits."""
        return f"the master waits {self.ms:g} ms for a reply"

    def check(self, layout: Layout) -> None:
        """Can be on every bench."""
