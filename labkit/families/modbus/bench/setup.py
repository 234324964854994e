"""A Modbus line on the bench as planned: the network, its master, what that one asks."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, ClassVar, Final

from labkit.bench.actions import Action
from labkit.bench.at_devices import BenchNames, DeviceWork
from labkit.bench.bench import LONG_RUN_S, Bench
from labkit.bench.codec import Catalogue
from labkit.bench.faults import DeviceDead, Fault
from labkit.bench.layout import Layout
from labkit.bench.measurements import Measurement, Reading
from labkit.bench.setup import Exchanged, Sent, Words
from labkit.families.modbus.bench.actions import (
    AnswerOnly,
    ReplaceDevice,
    SetAddress,
    SetForm,
    SetRate,
    SetRequest,
    SetTimeout,
)
from labkit.families.modbus.bench.at_devices import NAMES, device_work
from labkit.families.modbus.bench.cabling import cabling_of
from labkit.families.modbus.bench.catalogue import CATALOGUE
from labkit.families.modbus.bench.faults import (
    TIMEOUT,
    AddressSet,
    FormSet,
    RateSet,
    RequestSet,
    SecondMaster,
    TimeoutSet,
    request_place,
)
from labkit.families.modbus.bench.hearing import hearing
from labkit.families.modbus.bench.line import Line
from labkit.families.modbus.bench.measurements import FrameLog, Indicators, MasterReport
from labkit.families.modbus.bench.playing import Trace, play
from labkit.families.modbus.bench.stations import Asked, Polling, Setting, StationSet
from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import device_address
from labkit.fieldbus.modbus.functions import Function
from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.modbus.timing import MOST_RETRIES, REPLY_TIMEOUT_S
from labkit.fieldbus.serial.character import CharacterFormat, frame_bits

FAMILY: Final = "modbus"
REGISTERS: Final = 4
"""What is read of each device, where nothing is said of it (a choice)."""
_RESPONSE_S: Final = (0.008, 0.010, 0.012, 0.009, 0.014, 0.011, 0.016)
"""How soon devices answer where the plan does not say, in turn along the trunk (invented)."""
_READS: Final = int(Function.READ_HOLDING_REGISTERS)
_ONE_TOO_FAR: Final = 1
"""The number of a document's first register, written where a frame's address is asked for."""
_OTHER_RATES: Final = (9_600, 19_200)
_SHORT_MS: Final = 20.0
"""A time-out within which no device has answered in full."""


class NoShared:
    """Every run is played anew: it takes little."""

    quick: ClassVar[bool] = True

    def trace(self, bench: Bench) -> Trace:
        """The usual run."""
        trace: Trace = bench.trace
        return trace

    def agrees(self, bench: Bench, measurement: Measurement, seen: Reading) -> None:
        """Needs the whole run."""


@dataclass(frozen=True)
class Setup:
    """What was planned. `scanner` names the master; every other station needs an address.

    `registers` are those that the master reads of each device, which has no others; `timeout_ms`
    is how long it waits for a reply, and so many `tries` it takes before it goes on: what the plan
    says of them holds. Without `live_plugs` no connector is pulled or put back while the line is
    live.
    """

    network: Network
    scanner: str
    registers: Mapping[str, int] = field(default_factory=dict)
    timeout_ms: float = REPLY_TIMEOUT_S * 1000
    live_plugs: bool = True
    tries: int = 1
    with_outputs: ClassVar[tuple[str, ...]] = ()

    def __post_init__(self) -> None:
        devices = self.layout.devices
        self.layout.device(self.scanner)
        for name, device in devices.items():
            if name == self.scanner and device.address is not None:
                raise PlanError(f"{name} is the master, which has no address; leave it out.")
            if name != self.scanner:
                if device.address is None:
                    raise PlanError(f"{name} needs an address to stand on a bench.")
                device_address(device.address, f"The address of {name}")
        for name in ("timeout_ms", "tries"):
            planned = getattr(self.network, name)
            if planned is not None:
                object.__setattr__(self, name, planned)
        whole(self.tries, "The number of tries", 1, MOST_RETRIES + 1)
        for name in self.registers:
            self.layout.device(name)
        registers = {
            name: self.registers.get(name, REGISTERS) for name in devices if name != self.scanner
        }
        object.__setattr__(self, "registers", registers)

    @cached_property
    def plan(self) -> Line:
        """The line as the bench takes it."""
        return Line(self.network)

    @cached_property
    def layout(self) -> Layout:
        """Connectors and pieces. The common is earthed at one station, the master as a rule."""
        earths = [place for place in self.network.earths if isinstance(place, str)]
        earthed_at = earths[0] if earths else self.scanner
        plan = self.plan
        return Layout(plan, cabling_of(plan), earthed_at=earthed_at, bias=plan.bias)

    @property
    def tells_polling(self) -> bool:
        """Whether the master's report says how it is set: where the plan does."""
        return self.network.timeout_ms is not None or self.network.tries is not None

    @property
    def catalogue(self) -> Catalogue:
        """The family's faults, actions and measurements."""
        return CATALOGUE

    @property
    def other_places(self) -> tuple[str, ...]:
        """The master's time-out, and what it asks of each device."""
        return (TIMEOUT, *(request_place(name) for name in self.registers))

    @property
    def report(self) -> Measurement:
        """The master's report."""
        return MasterReport()

    def first_look(self) -> Measurement:
        """The lamps."""
        return Indicators()

    def readings(self, *, from_power_up: bool) -> list[tuple[str, Measurement | Words]]:  # noqa: ARG002
        """Lamps, the master's report and its frame log."""
        return [
            ("Lamps, from power-up on", Indicators()),
            ("The master's report", MasterReport()),
            (f"Frame log at {self.scanner}", FrameLog(self.scanner)),
        ]

    def watches(self) -> tuple[Measurement, ...]:
        """The same, the longer watch, and a frame log at every station."""
        logs = (FrameLog(name) for name in self.log_places)
        return (Indicators(), Indicators(LONG_RUN_S), MasterReport(), *logs)

    @property
    def names(self) -> BenchNames:
        """The master, an address, the two lamps."""
        return NAMES

    @property
    def device_work(self) -> tuple[DeviceWork, ...]:
        """Settings, and a new device."""
        network = self.network
        return device_work(network.bit_rate, network.form.text, self.timeout_ms)

    @property
    def log_places(self) -> tuple[str, ...]:
        """Every station: only a log there tells a wrong rate from wrong characters."""
        return tuple(self.layout.devices)

    def with_supply_at(self, position: float) -> Setup:
        """Raises `PlanError`: a Modbus line has no supply."""
        self.plan.with_supply_at(position)
        return self

    def to_json(self) -> dict[str, Any]:
        """The set-up as plain JSON, read back by `from_json`."""
        return {
            "family": FAMILY,
            "plan": self.network.to_json(),
            "scanner": self.scanner,
            "registers": dict(self.registers),
            "timeout_ms": self.timeout_ms,
            "live_plugs": self.live_plugs,
            "tries": self.tries,
        }

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Setup:
        """Read a set-up; raises `PlanError`."""
        try:
            return Setup(
                Network.from_json(data["plan"]),
                data["scanner"],
                dict(data["registers"]),
                data["timeout_ms"],
                data["live_plugs"] is not False,
                # Older set-ups, whose master tries but once, do not say it.
                data.get("tries", 1),
            )
        except (KeyError, TypeError, AttributeError, ValueError) as error:
            raise PlanError(f"This is no set-up of a Modbus bench: {error}.") from error

    # The line in motion.

    @property
    def entries(self) -> tuple[Asked, ...]:
        """The poll list: every device once, in trunk order."""
        devices = self.layout.devices.values()
        return tuple(
            Asked(device.address, self.registers[device.name])
            for device in devices
            if device.address is not None
        )

    def devices_on(self, bench: Bench) -> tuple[StationSet, ...]:
        """The stations as they are set."""
        addresses = {f.device: f.address for f in bench.faults if isinstance(f, AddressSet)}
        rates = {f.device: float(f.rate) for f in bench.faults if isinstance(f, RateSet)}
        forms = {f.device: f.form for f in bench.faults if isinstance(f, FormSet)}
        masters = {f.device for f in bench.faults if isinstance(f, SecondMaster)} | {self.scanner}
        live = bench.live
        return tuple(
            StationSet(
                name,
                addresses.get(name, device.address),
                Setting(
                    rates.get(name, self.network.bit_rate),
                    CharacterFormat.from_text(forms.get(name, self.network.form.text)),
                ),
                self._response_s(name, number),
                works=live is not None and live.works(name),
                polls=name in masters,
                registers=self.registers.get(name, 0),
            )
            for number, (name, device) in enumerate(self.layout.devices.items())
        )

    def _response_s(self, name: str, number: int) -> float:
        planned = self._responses_ms[name]
        return _RESPONSE_S[number % len(_RESPONSE_S)] if planned is None else planned / 1000

    @cached_property
    def _responses_ms(self) -> Mapping[str, float | None]:
        return {device.name: device.response_ms for device in self.network.devices}

    def run(self, bench: Bench, later: Sequence[tuple[float, Bench]], seconds: float) -> Trace:
        """What happens on the line from power-up on."""
        hearings = [(0.0, hearing(bench)), *((at, hearing(then)) for at, then in later)]
        usual = Polling(self.entries, self.timeout_ms / 1000, self.tries)
        pollings = dict.fromkeys(self.layout.devices, usual)
        pollings[self.scanner] = self.polling(bench)
        return play(bench.devices, hearings, pollings, seconds)

    def polling(self, bench: Bench) -> Polling:
        """What the master does as it is set."""
        waits = [f.ms for f in bench.faults if isinstance(f, TimeoutSet)]
        asked = {
            self.layout.device(f.device).address: (Function(f.function), f.start)
            for f in bench.faults
            if isinstance(f, RequestSet)
        }
        entries = [
            replace(entry, function=asked[entry.address][0], start=asked[entry.address][1])
            if entry.address in asked
            else entry
            for entry in self.entries
        ]
        return Polling(tuple(entries), (waits or [self.timeout_ms])[0] / 1000, self.tries)

    def exchanged(
        self,
        bench: Bench,  # noqa: ARG002
        given: Mapping[str, bytes],  # noqa: ARG002
        sent: Mapping[str, bytes],  # noqa: ARG002
    ) -> Exchanged:
        """No program runs against this bench."""
        return Exchanged({}, {})

    def driven_shares(self, trace: Trace, start_s: float) -> dict[tuple[str, bool], float]:
        """Share of the last second, from `start_s` on, in which each sends ones, and zeros."""
        shares: dict[tuple[str, bool], float] = {}
        for talk in trace.talks[bisect_left(trace.starts_s, start_s) :]:
            bits = frame_bits(talk.data, talk.setting.form)
            for up in (True, False):
                driven_s = bits.count(int(up)) / talk.setting.bit_rate
                shares[talk.sender, up] = shares.get((talk.sender, up), 0.0) + driven_s
        return shares

    def first_bits(self, bench: Bench, talker: str) -> Sent:
        """The line at rest, and then a station's first frame; nothing of one that never sends."""
        trace: Trace = bench.trace
        first = next((talk for talk in trace.talks if talk.sender == talker), None)
        if first is None:
            return Sent(())
        setting = first.setting
        return Sent((None, *frame_bits(first.data, setting.form)), 1 / setting.bit_rate)

    def shared_play(self) -> NoShared:
        """Nothing is shared."""
        return NoShared()

    # What can be wrong, and what mends it.

    def possible_faults(self) -> Iterator[Fault]:
        """Of every station, and of the master's time-out."""
        devices = self.layout.devices
        taken = [each.address for each in devices.values() if each.address is not None]
        other_rate = next(rate for rate in _OTHER_RATES if rate != self.network.bit_rate)
        other_form = "8O1" if self.network.form.text != "8O1" else "8E1"
        for name, device in devices.items():
            yield DeviceDead(name)
            yield RateSet(name, other_rate)
            yield FormSet(name, other_form)
            if device.address is None:
                continue
            other = next((address for address in taken if address != device.address), None)
            if other is not None:
                yield AddressSet(name, other)
            yield SecondMaster(name)
            if self.tries > 1:
                # Older set-ups, whose master tries but once, know nothing of it.
                yield RequestSet(name, _READS, _ONE_TOO_FAR)
        yield TimeoutSet(_SHORT_MS)

    def mend(self, fault: Fault) -> list[Action]:
        """What sets right what only this family knows."""
        if isinstance(fault, AddressSet):
            planned = self.layout.device(fault.device).address
            return [SetAddress(fault.device, planned)] if planned is not None else []
        if isinstance(fault, RateSet):
            return [SetRate(fault.device, round(self.network.bit_rate))]
        if isinstance(fault, FormSet):
            return [SetForm(fault.device, self.network.form.text)]
        if isinstance(fault, SecondMaster):
            return [AnswerOnly(fault.device)]
        if isinstance(fault, RequestSet):
            return [SetRequest(fault.device, _READS, 0)]
        if isinstance(fault, TimeoutSet):
            return [SetTimeout(self.timeout_ms)]
        return [ReplaceDevice(fault.device)] if isinstance(fault, DeviceDead) else []


class ModbusBench:
    """See `labkit.doors.family.FamilyBench`."""

    from_json = staticmethod(Setup.from_json)
