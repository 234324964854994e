"""The rules for a line as planned: lengths, loads, terminators, polarization, earth, settings.

Sources: MODBUS over Serial Line V1.02, with its section beside each rule. Addresses are checked by
`check_addresses(plan.addresses)`. The calculations help to plan and to teach: before anything is
built, the standard, the makers' data and the local code decide.
"""

from collections.abc import Iterator
from typing import Final

from labkit.fieldbus.checked import number
from labkit.fieldbus.modbus.addresses import DEVICE_ADDRESSES
from labkit.fieldbus.modbus.linecircuit import LineCircuit
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network
from labkit.fieldbus.modbus.parts import Device, Place, Polarization, Tap, Terminator
from labkit.fieldbus.result import RuleResult

_V102: Final = "MODBUS over Serial Line V1.02"
LENGTH_LIMIT_M: Final = 1000.0
"""Longest trunk up to 9,600 bit/s with AWG 26 or thicker (V1.02, 3.4.3)."""
LENGTH_LIMIT_UP_TO: Final = 9600
"""The bit rate up to which the length is published, bit/s (V1.02, 3.4.3)."""
LEAST_SECTION_MM2: Final = 0.128
"""AWG 26 (V1.02, 3.4.3; the section of the wire from memory)."""
DERIVATION_LIMIT_M: Final = 20.0
"""Longest derivation (V1.02, 3.4.3)."""
TAP_LIMIT_M: Final = 40.0
"""Divided by the number of derivations at a tap: longest of them (V1.02, 3.4.3)."""
MOST_UNIT_LOADS: Final = 32.0
"""Unit loads without a repeater (V1.02, 3.4.1)."""
TAKEN_BY_POLARIZATION: Final = 4.0
"""Unit loads fewer where the line is polarized (V1.02, 3.4.6)."""
TERMINATOR_SPAN_OHM: Final = (120.0, 150.0)
"""150 Ω, or 120 Ω with 1 nF (V1.02, 3.4.5); 120 Ω alone is trade practice, no source."""
POLARIZATION_SPAN_OHM: Final = (450.0, 650.0)
"""Each polarizing resistor (V1.02, 3.4.6)."""
LEAST_IDLE_VOLT: Final = 0.2
"""D1 above D0 from which a receiver reads a 1 for certain (EIA/TIA-485)."""
LEAST_DRIVER_OHM: Final = 54.0
"""The load with which drivers are tested (from memory of EIA/TIA-485)."""
CHARACTER_BITS: Final = 11
"""Bits of a character; without parity with two stop bits (V1.02, 2.5.1)."""
_PIECES: Final = "pcs"


def check_network(network: Network) -> tuple[RuleResult, ...]:
    """Every rule of the specification, in the order in which one would go through a plan.

    Not among them is `check_driver_load`: the specification allows lines that break it.
    """
    return (
        *check_lengths(network),
        check_loads(network),
        *check_terminators(network),
        *check_polarization(network),
        *check_earth(network),
        *check_settings(network),
        *check_idle_voltage(network),
    )


def check_lengths(network: Network) -> tuple[RuleResult, ...]:
    """Trunk and conductor, then every derivation, in trunk order.

    Above 9,600 bit/s the specification gives no figure; the trunk is held against 1000 m there too,
    and the source says so.
    """
    source = f"{_V102}, 3.4.3"
    of_length = source
    if network.bit_rate > LENGTH_LIMIT_UP_TO:
        of_length += f"; published up to 9,600 bit/s, at {network.bit_rate:g} less may be possible"
    section, where = network.cable.section_mm2, "the trunk"
    results = [
        RuleResult("length of the trunk", network.length, LENGTH_LIMIT_M, "m", where, of_length),
        RuleResult(
            "section of the conductors", section, LEAST_SECTION_MM2, "mm²", where, source, True
        ),
    ]
    for tap in network.taps:
        results += _derivation_rules(tap, source)
    return tuple(results)


def most_devices(unit_load: float = 1.0, *, polarized: bool = False) -> int:
    """Stations of so many unit loads each that a line takes without a repeater, master included.

    Addresses set a limit too: 247 devices and the master.

        >>> most_devices(1), most_devices(1, polarized=True), most_devices(0.25)
        (32, 28, 128)
    """
    load = number(unit_load, "the unit loads of a station", "", 1e-3, 1e3)
    # 28 / 0.14 is 200, though it is a little less in floats.
    by_load = int(_unit_loads(polarized=polarized) / load + 1e-9)
    return min(by_load, len(DEVICE_ADDRESSES) + 1)


def check_loads(network: Network) -> RuleResult:
    """Unit loads of all receivers against 32, or 28 on a polarized line."""
    polarized = bool(network.polarizations)
    return RuleResult(
        "unit loads without a repeater",
        network.unit_loads,
        _unit_loads(polarized=polarized),
        "unit loads",
        f"all {len(network.devices)} stations of the line",
        f"{_V102}, {'3.4.1 and 3.4.6' if polarized else '3.4.1'}",
    )


def check_terminators(network: Network) -> tuple[RuleResult, ...]:
    """One at each end of the trunk, none between, none on a derivation, and their resistance."""
    source = f"{_V102}, 3.4.5"
    terminators = network.terminators
    results = [
        RuleResult("terminators in all", len(terminators), 2, _PIECES, "the whole line", source)
    ]
    ends: list[Terminator] = []
    for side, end in (("left", 0.0), ("right", network.length)):
        there = [each for each in terminators if _is_at(network, each.at, end)]
        ends += there
        where = f"{side} end of the trunk, {end:g} m"
        for at_least in (True, False):
            rule = "terminator missing at the end" if at_least else "terminators doubled at the end"
            results.append(RuleResult(rule, len(there), 1, _PIECES, where, source, at_least))
    away = [each for each in terminators if not network.spot(each.at).in_trunk]
    between = [each for each in terminators if each not in ends and each not in away]
    for rule, astray, sound in (
        ("terminators on a derivation", away, "no derivation"),
        ("terminators between the ends", between, "between the ends"),
    ):
        where = ", ".join(_said(each.at) for each in astray) or sound
        results.append(RuleResult(rule, len(astray), 0, _PIECES, where, source))
    least, most = TERMINATOR_SPAN_OHM
    for each in terminators:
        where = f"terminator {_said(each.at)}"
        small = f"{source}; 120 Ω without a capacitor is common practice, no source"
        results += [
            RuleResult("terminator too small", each.ohm, least, "Ω", where, small, True),
            RuleResult("terminator too large", each.ohm, most, "Ω", where, source),
        ]
    return tuple(results)


def check_polarization(network: Network) -> tuple[RuleResult, ...]:
    """One pair of resistors at most, one where a device needs it, and their values."""
    source = f"{_V102}, 3.4.6"
    pairs = network.polarizations
    where = ", ".join(_said(each.at) for each in pairs) or "the whole line"
    results = [RuleResult("polarizations of the line", len(pairs), 1, _PIECES, where, source)]
    needing = [device.name for device in network.devices if device.needs_polarization]
    if needing:
        rule, where = "polarization missing", f"needed by {', '.join(needing)}"
        results.append(RuleResult(rule, len(pairs), 1, _PIECES, where, source, True))
    for each in pairs:
        results += _resistor_rules(each, source)
    return tuple(results)


def check_earth(network: Network) -> tuple[RuleResult, ...]:
    """The common is tied to protective earth at exactly one point, best at the master."""
    source, count = f"{_V102}, 3.4.4", len(network.earths)
    where = ", ".join(_said(place) for place in network.earths) or "nowhere"
    return (
        RuleResult("earth of the common missing", count, 1, _PIECES, where, source, True),
        RuleResult("points where the common is earthed", count, 1, _PIECES, where, source),
    )


def check_settings(network: Network) -> tuple[RuleResult, ...]:
    """One master; characters of 11 bits; every station set to rate and characters of the line.

    8N1, common practice without a source, has 10 bits and breaks the second rule.
    """
    masters = [device for device in network.devices if device.master]
    rates = [each for each in network.devices if each.bit_rate not in (None, network.bit_rate)]
    forms = [each for each in network.devices if each.form not in (None, network.form)]
    named, of_master = _names(masters) or "the whole line", f"{_V102}, 2.1 (from memory)"
    results = [
        RuleResult("master missing", len(masters), 1, _PIECES, named, of_master, True),
        RuleResult("masters on the line", len(masters), 1, _PIECES, named, of_master),
    ]
    form, of_characters = network.form, f"{_V102}, 2.5.1"
    for rule, at_least in (("character too short", True), ("character too long", False)):
        where = f"{form.text}, the whole line"
        results.append(
            RuleResult(rule, form.bits, CHARACTER_BITS, "bits", where, of_characters, at_least)
        )
    for rule, others, source in (
        ("stations at another bit rate", rates, f"{_V102}, 3.2"),
        ("stations with other characters", forms, of_characters),
    ):
        where = _names(others) or "all stations"
        results.append(RuleResult(rule, len(others), 0, _PIECES, where, source))
    return tuple(results)


def check_idle_voltage(network: Network) -> tuple[RuleResult, ...]:
    """The lowest idle voltage at a station against 0.2 V, by the circuit (`LineCircuit`).

    A rule of a line that is polarized, or that has a device that needs it; no rule of others.
    """
    if not network.polarizations and not any(each.needs_polarization for each in network.devices):
        return ()
    volts = LineCircuit(network).idle_volts()
    if not volts:
        return ()
    lowest = min(volts, key=lambda name: volts[name])
    source = "EIA/TIA-485; by the circuit"
    volt = volts[lowest]
    return (RuleResult("idle voltage", volt, LEAST_IDLE_VOLT, "V", lowest, source, True),)


def check_driver_load(network: Network) -> tuple[RuleResult, ...]:
    """The heaviest load that a station's driver has to feed against 54 Ω (`LineCircuit`).

    Two terminators of 120 Ω and 32 unit loads of 12 kΩ are 51.7 Ω already: this is a warning that
    the driver's level is not promised, no rule of the specification.
    """
    if not network.devices:
        return ()
    circuit = LineCircuit(network)
    ohms = {device.name: circuit.driver_ohm(device.name) for device in network.devices}
    heaviest = min(ohms, key=lambda name: ohms[name])
    source = "from memory of EIA/TIA-485; by the circuit"
    ohm = ohms[heaviest]
    return (RuleResult("load of a driver", ohm, LEAST_DRIVER_OHM, "Ω", heaviest, source, True),)


def _unit_loads(*, polarized: bool) -> float:
    return MOST_UNIT_LOADS - (TAKEN_BY_POLARIZATION if polarized else 0.0)


def _derivation_rules(tap: Tap, source: str) -> Iterator[RuleResult]:
    branches = [each for each in tap.derivations if each.length >= SAME_PLACE_M]
    for each in branches:
        where = f"{tap.label}, to {_names(each.devices) or 'its spare end'}"
        yield RuleResult(
            "length of a derivation", each.length, DERIVATION_LIMIT_M, "m", where, source
        )
        if len(branches) > 1:
            limit = TAP_LIMIT_M / len(branches)
            rule = f"length of one of {len(branches)} derivations"
            yield RuleResult(rule, each.length, limit, "m", where, source)


def _resistor_rules(pair: Polarization, source: str) -> Iterator[RuleResult]:
    least, most = POLARIZATION_SPAN_OHM
    for name, ohm in (("pull-up", pair.pull_up_ohm), ("pull-down", pair.pull_down_ohm)):
        where = f"{name} resistor {_said(pair.at)}"
        yield RuleResult("polarizing resistor too small", ohm, least, "Ω", where, source, True)
        yield RuleResult("polarizing resistor too large", ohm, most, "Ω", where, source)


def _is_at(network: Network, at: Place, position: float) -> bool:
    spot = network.spot(at)
    return spot.in_trunk and abs(spot.position - position) < SAME_PLACE_M


def _names(devices: list[Device] | tuple[Device, ...]) -> str:
    return ", ".join(device.name for device in devices)


def _said(at: Place) -> str:
    return f"at {at}" if isinstance(at, str) else f"at {at:g} m"
