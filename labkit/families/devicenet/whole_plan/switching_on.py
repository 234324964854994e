"""A whole plan built on the bench and switched on: what is seen, and which broken rule shows it.

A broken rule shows what would be gone if it alone were mended. If nothing would, it may show
something when all the others are mended: what is seen of that is its symptom, and of what is not
seen, the others hide it. Else the bench forgives it: margin.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from labkit.bench.bench import RUN_S, Bench
from labkit.bench.can.frame_log import heard
from labkit.bench.situation import Terminal
from labkit.doors.plans import DeviceSeen, Outcome, Site, SwitchedOn, WholePlan
from labkit.families.devicenet.bench.bus import Bus
from labkit.families.devicenet.bench.cabling import CABLING
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import EntryState, Trace
from labkit.families.devicenet.whole_plan.made import Made, MadeDevice, made_of
from labkit.families.devicenet.whole_plan.rules import Broken, broken_in, mended
from labkit.fieldbus.devicenet.indicators import NETWORK_MEANING, Indicator

_EACH_S: Final = 0.3
"""How long one device's outputs, or inputs, are kept on: many scans."""
_MANY: Final = 20
NO_ERRORS: Final = "none"
_SILENT: Final = ((), None)
"""Nothing moves, nobody is asked: any mistake may be behind that."""
_TAKEN: Final = "stays off the network"
NOT_ASKED: Final = "not in the scan list: nobody asks for it"

Looks = dict[tuple[str, str], Hashable]
"""What can be seen, by what and where: power, light, report, moves, reads, errors."""


@dataclass(frozen=True)
class Seen:
    """A made plan after switching on.

    `clear`: every device has power and hears every other one, were all set alike.
    """

    devices: tuple[DeviceSeen, ...]
    supply_volts: float
    supply_current: float
    errors: str
    moves: tuple[tuple[str, tuple[str, ...]], ...]
    reads: tuple[tuple[str, tuple[str, ...]], ...]
    states: Mapping[str, EntryState | None]
    clear: bool

    @property
    def looks(self) -> Looks:
        """All of it that is yes or no."""
        found: Looks = {("errors", ""): self.errors}
        for each in self.devices:
            found["power", each.name] = each.powered
            found["light", each.name] = each.light
        found |= {("report", name): state for name, state in self.states.items()}
        found |= {("reads", name): read for name, read in self.reads}
        return found | {("moves", name): moving for name, moving in self.moves}

    @property
    def wrong(self) -> set[tuple[str, str]]:
        """Where it looks otherwise than a plan that keeps every rule."""
        right: Looks = {("errors", ""): NO_ERRORS}
        for each in self.devices:
            right["power", each.name] = True
            right["light", each.name] = Indicator.GREEN.value
        right |= {("report", name): EntryState.OK for name in self.states}
        right |= {("moves", name): (name,) for name, _ in self.moves}
        right |= {("reads", name): (name,) for name, _ in self.reads}
        return {key for key, look in self.looks.items() if right[key] != look}


def switched_on(site: Site, plan: WholePlan) -> SwitchedOn:
    """The plan built as it stands. Raises `PlanError` for what nobody could build."""
    made = made_of(site, plan)
    played = _Played()
    seen = played.of(made)
    outcomes = tuple(_outcome(made, broken, played) for broken in broken_in(made))
    return SwitchedOn(
        seen.devices,
        made.supply_at,
        seen.supply_volts,
        seen.supply_current,
        CABLING.least_volt,
        seen.errors,
        seen.moves,
        seen.reads,
        outcomes,
    )


def seen_of(made: Made) -> Seen:
    """What a made plan shows from power-up on, and when each one's outputs and inputs come on."""
    bench = made.bench
    bus = Bus(bench.devices, bench.ears, _setup(bench).master_on(bench))
    bus.run_until(RUN_S)
    trace = bus.trace()
    scans = next(each.powered for each in bench.devices if each.name == made.scanner)
    states = {
        each.name: trace.report(each.address).state if each.listed and scans else None
        for each in made.asked
    }
    devices = tuple(_device_seen(each, made, bench, trace, scans=scans) for each in made.devices)
    [supply] = bench.layout.supplies
    return Seen(
        devices,
        _volts(bench, supply),
        bench.supply_current(supply).value or 0.0,
        _errors(trace, made.scanner),
        tuple(_moves(made, bus)),
        tuple(_reads(made, bus, states)),
        states,
        _clear(bench),
    )


class _Played:
    """What was seen of made plans: the same one is not played twice."""

    def __init__(self) -> None:
        self._known: dict[Made, Seen] = {}

    def of(self, made: Made) -> Seen:
        if made not in self._known:
            self._known[made] = seen_of(made)
        return self._known[made]


def _setup(bench: Bench) -> Setup:
    setup = bench.setup
    assert isinstance(setup, Setup)
    return setup


def _clear(bench: Bench) -> bool:
    names = [each.name for each in bench.devices if each.powered]
    if len(names) < len(bench.devices):
        return False
    return all(bench.ears.hear(one, other) for one in names for other in names)


def _volts(bench: Bench, part: str) -> float:
    """From V- to V+ at a part, as a voltmeter shows it; of what is unplugged, at its own side."""
    out = part in bench.situation.unplugged
    return bench.volts(Terminal(part, 5, out), Terminal(part, 1, out)).value or 0.0


def _device_seen(
    device: MadeDevice, made: Made, bench: Bench, trace: Trace, *, scans: bool
) -> DeviceSeen:
    light = trace.network_status(device.name)
    report = ""
    if device.name != made.scanner:
        report = NOT_ASKED if not device.listed else "the scanner has no power"
        if device.listed and scans:
            report = trace.report(device.address).text
    refusals = [text for _, text in trace.said[device.name] if _TAKEN in text]
    return DeviceSeen(
        device.name,
        device.at,
        _volts(bench, device.name),
        next(each.powered for each in bench.devices if each.name == device.name),
        light.value,
        NETWORK_MEANING[light],
        report,
        refusals[-1] if refusals else "",
    )


def _errors(trace: Trace, scanner: str) -> str:
    """How many error frames the scanner hears in the last second."""
    count = sum(each.frame is None for each in heard(trace, scanner) if each.time_s >= RUN_S - 1)
    return NO_ERRORS if not count else "a few" if count < _MANY else "many"


def _moves(made: Made, bus: Bus) -> Iterable[tuple[str, tuple[str, ...]]]:
    """For each device with outputs: what moves when the program switches on its bytes."""
    moving = [each for each in made.asked if each.consumes]
    takers = {each.address: each for each in reversed(made.asked) if each.listed}
    for wanted in moving:
        written = range(wanted.program_at, wanted.program_at + wanted.consumes)
        for taker in takers.values():
            at = taker.outputs_at
            data = bytes(0xFF if n in written else 0 for n in range(at, at + taker.output_bytes))
            bus.set_outputs(taker.name, data)
        bus.run_until(bus.time_s + _EACH_S)
        yield wanted.name, tuple(_moving(e.name, bus) for e in moving if any(bus.outputs(e.name)))


def _moving(name: str, bus: Bus) -> str:
    return name if all(bus.outputs(name)) else f"{name} in part"


def _reads(
    made: Made, bus: Bus, states: Mapping[str, EntryState | None]
) -> Iterable[tuple[str, tuple[str, ...]]]:
    """For each device with inputs: whose the program sees on when its own come on."""
    giving = [each for each in made.asked if each.produces]
    for wanted in giving:
        for each in giving:
            bus.set_inputs(each.name, bytes([0xFF if each is wanted else 0] * each.produces))
        bus.run_until(bus.time_s + _EACH_S)
        on = _on_in_table(made, bus, states)
        seen = [(each, _as_read(each) & on) for each in giving]
        yield (
            wanted.name,
            tuple(
                each.name if bits == _as_read(each) else f"{each.name} in part"
                for each, bits in seen
                if bits
            ),
        )


def _on_in_table(made: Made, bus: Bus, states: Mapping[str, EntryState | None]) -> set[int]:
    """The bytes of the scanner's input table that are on.

    It is filled node by node; of two in the same byte the later one stays (our choice).
    """
    on: set[int] = set()
    for each in sorted(made.asked, key=lambda each: each.address):
        if states[each.name] is EntryState.OK:
            for at, byte in enumerate(bus.scanner.inputs(each.address), each.inputs_at):
                on.discard(at)
                if byte:
                    on.add(at)
    return on


def _as_read(device: MadeDevice) -> set[int]:
    """The bytes that the program takes for a device's inputs."""
    return set(range(device.reads_at, device.reads_at + device.produces))


# Which broken rule shows what.


def _outcome(made: Made, broken: Broken, played: _Played) -> Outcome:
    whole = played.of(made)
    if not whole.wrong or (broken.of_line and whole.clear):
        return Outcome(broken.rule, "", margin=broken.margin)
    without = played.of(broken.mend(made))
    gone = {key for key in whole.wrong if without.looks[key] != whole.looks[key]}
    # A terminator too many may be the only one: taken off, the line is worse, which shows nothing.
    is_worse = broken.of_line and without.wrong > whole.wrong
    if gone and not is_worse:
        return Outcome(broken.rule, _in_words(gone, whole))
    alone = played.of(mended(made, broken.name))
    # Of two that suffice each, neither is gone with its mend: what each shows is seen all the same.
    alike = {
        key
        for key in alone.wrong
        if alone.looks[key] == whole.looks[key] and alone.looks[key] not in _SILENT
    }
    if alike:
        return Outcome(broken.rule, _in_words(alike, whole))
    if alone.wrong:
        return Outcome(broken.rule, _in_words(alone.wrong, alone), alone=True)
    return Outcome(broken.rule, "", margin=broken.margin)


def _in_words(keys: set[tuple[str, str]], seen: Seen) -> str:
    """What is seen at these places, the cause before what follows from it."""
    dark = {name for what, name in keys if what == "power"}
    told = [_no_power(dark, seen)] if dark else []
    told += _by_look([d for d in seen.devices if ("light", d.name) in keys and d.name not in dark])
    lights = {name for what, name in keys if what == "light"}
    silent = [
        d
        for d in seen.devices
        if ("report", d.name) in keys
        and (d.name not in dark | lights or seen.states.get(d.name) is EntryState.SIZES_DIFFER)
    ]
    told += [_by_report(each) for each in silent]
    quiet = dark | lights | {each.name for each in silent}
    for name, moving in seen.moves:
        if ("moves", name) in keys and (name not in quiet or moving):
            what = ", ".join(moving) if moving else "nothing"
            told.append(f"When the program switches on {name}, what moves: {what}.")
    for name, read in seen.reads:
        if ("reads", name) in keys and (name not in quiet or read):
            what = ", ".join(read) if read else "nothing"
            told.append(f"When the inputs of {name} come on, the program sees: {what}.")
    if ("errors", "") in keys:
        told.append(f"Error frames at the scanner: {seen.errors}.")
    return " ".join(told)


def _by_report(device: DeviceSeen) -> str:
    if device.report == NOT_ASKED:
        return f"Nobody asks for {device.name}."
    return f"The scanner says of {device.name}: {device.report}."


def _no_power(names: set[str], seen: Seen) -> str:
    volts = [f"{d.name} ({d.volts:.1f} V)" for d in seen.devices if d.name in names]
    return f"Too little voltage, {CABLING.least_volt:g} V at least: {', '.join(volts)}."


def _by_look(devices: list[DeviceSeen]) -> list[str]:
    looks: dict[tuple[str, str, str], list[str]] = {}
    for each in devices:
        looks.setdefault((each.light, each.meaning, each.refusal), []).append(each.name)
    return [
        f"Network indicator {light} ({refusal or meaning}): {', '.join(names)}."
        for (light, meaning, refusal), names in looks.items()
    ]
