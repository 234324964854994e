"""In which unit the functions of each network give their value: an amount with its unit, published
or worked out by hand beside it, is what the function gives in the unit that it is said to give.

And what each function's own documentation says first is that unit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pytest
from test_devicenet_power import centre_fed, end_fed

from labkit.doors.installed import network_for
from labkit.doors.network import SaysUnits
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.modbus import Device as Station
from labkit.fieldbus.modbus import Network as Line
from labkit.fieldbus.modbus import Polarization, Terminator
from labkit.fieldbus.modbus import Tap as LineTap
from labkit.language.quantity import read_quantity, unit_named

ODVA, ISO = "ODVA PUB00027R1", "ISO 11898-1"
FOOT = 0.3048

SMALL = Network(
    125,
    (Segment("thick", 100 * FOOT),),
    (
        Tap(10, Drop(2, (Device("a", 0.5, 1),))),
        Tap(20, Drop(4, (Device("b", 0.5, 2),))),
    ),
    (Supply(5),),
)
MIXED = Network(125, (Segment("thick", 100), Segment("thin", 20)), SMALL.taps, (Supply(5),))
SCAN = [{"address": 5, "kind": "poll", "input": 8, "output": 8}]
MESSAGES = [
    {"name": "a", "identifier": 1, "bytes": 8, "period": 100},
    {"name": "b", "identifier": 2, "bytes": 8, "period": 100},
]
BIT = {"clock": 16, "prescaler": 4, "prop": 6, "phase1": 4, "phase2": 4}


def line(ohm: float) -> Line:
    """Two stations of one unit load each over 100 m, 120 Ω at both ends, one pair of resistors."""
    return Line(
        100,
        (LineTap.to(0, Station("boss", master=True)), LineTap.to(50, Station("d", 1))),
        (Terminator(0.0, 120), Terminator(100, 120)),
        (Polarization("boss", ohm, ohm),),
        ("boss",),
        9600,
    )


POLL = {"address": 5, "function": 3, "start": 0, "count": 10, "response": 20}
NAMES: Mapping[str, Any] = {
    "small": SMALL,
    "mixed": MIXED,
    "end_fed": end_fed(),
    "centre_fed": centre_fed(),
    "scan": SCAN,
    "messages": MESSAGES,
    "bit": BIT,
    "l650": line(650),
    "poll": POLL,
}

# Family, formula, the amount, how near it must be, and where it is from.
AMOUNTS = [
    ("devicenet", "longest_distance(end_fed)", "800 ft", 1e-9, f"{ODVA}: the example's trunk"),
    ("devicenet", "drops_total(small)", "6 m", 1e-9, "2 m and 4 m"),
    ("devicenet", "mixed_length(mixed)", "200 m", 1e-9, f"{ODVA}: 100 m + 5 · 20 m at 125 kbit/s"),
    ("devicenet", "trunk_limit('thick', 125)", "500 m", 1e-9, ODVA),
    ("devicenet", "drops_limit(500)", "39 m", 1e-9, ODVA),
    ("devicenet", "drop_limit", "6 m", 1e-9, ODVA),
    (
        "devicenet",
        "longest_bus(bit, 5, 150)",
        "120 m",
        1e-9,
        "6 quanta of 250 ns there and back, 150 ns a node: (750 ns - 150 ns) / (5 ns/m)",
    ),
    ("devicenet", "look_up_row('thick', 86)", "100 m", 1e-9, "a published guide, 86 m by 100 m"),
    ("devicenet", "look_up_row_before('thick', 158)", "150 m", 1e-9, f"{ODVA}: its table"),
    ("devicenet", "look_up_next('thick', 86)", "2.93 A", 1e-9, "the same guide"),
    ("devicenet", "look_up_current('thick', 120)", "2.56 A", 0.002, f"{ODVA}: centre-fed"),
    ("devicenet", "section_current(centre_fed, 120, 'left')", "2.85 A", 1e-9, f"{ODVA}: the same"),
    ("devicenet", "drop_current_limit(6)", "0.75 A", 0.02, f"{ODVA}: its table"),
    ("devicenet", "section_drop(end_fed, 0, 'right')", "2.28 V", 0.016, f"{ODVA}: end-fed"),
    ("devicenet", "trunk_drop_limit", "4.65 V", 1e-9, ODVA),
    ("devicenet", "method_share(end_fed, 0, 'full calculation')", "49 %", 0.016, ODVA),
    ("devicenet", "voltage_at(end_fed, 0, 0)", "24 V", 1e-9, "at the supply"),
    (
        "devicenet",
        "v_minus_rise(end_fed, 0)",
        "1.379 V",
        0.001,
        "152.4 A·m · 8.9 mΩ/m + 4.5 A · 5 mΩ",
    ),
    (
        "devicenet",
        "circuit_voltage(end_fed, 0, 'node at 800 ft')",
        "21.242 V",
        0.001,
        "24 V less that in both conductors",
    ),
    ("devicenet", "conductor_ohms('thick')", "8.9 Ω/km", 1e-9, f"{ODVA}: theoretical loop data"),
    ("devicenet", "signal_ohms('thin')", "91.9 Ω/km", 1e-9, f"{ODVA}: theoretical loop data"),
    ("devicenet", "ohms_with(small, 'a')", "60.5 Ω", 0.01, "two of 121 Ω side by side, cable"),
    ("devicenet", "ohms_between(small, 'a/4', 'a/2')", "60.5 Ω", 0.01, "the same"),
    ("devicenet", "terminator_ohms", "121 Ω", 1e-9, ODVA),
    ("devicenet", "receiver_ohm", "30 kΩ", 1e-9, "as the library says of its receivers"),
    ("devicenet", "open_circuit", "1000 MΩ", 1e-9, "our own figure for none"),
    ("devicenet", "good_position(small)", "50 ft", 0.005, "all of a short trunk is good"),
    ("devicenet", "supply_room(small)", "100 ft", 1e-9, "the same"),
    ("devicenet", "frame_bits(8)", "111 bit", 1e-9, f"{ISO}: 47 + 8 · 8"),
    ("devicenet", "worst_frame_bits(8)", "135 bit", 1e-9, "Davis et al. 2007"),
    ("devicenet", "exact_frame_bits(1365, [85] * 8)", "111 bit", 0.02, "hardly a bit to stuff"),
    ("devicenet", "scan_bits(scan, False)", "222 bit", 1e-9, "two frames of 8 bytes"),
    ("devicenet", "shortest_scan(scan, 125)", "1776 µs", 1e-9, "222 bit / 125 kbit/s"),
    ("devicenet", "longest_scan(scan, 125)", "2160 µs", 1e-9, "270 bit / 125 kbit/s"),
    ("devicenet", "bus_load(scan, 125, 2.16)", "50 %", 1e-9, "as long a pause"),
    ("devicenet", "worst_response(messages[:1], 125, 'a')", "1080 µs", 1e-9, "135 bit alone"),
    ("devicenet", "worst_blocking(messages, 125, 'a')", "1080 µs", 1e-9, "135 bit of the other"),
    ("devicenet", "charging_ms(10, 8, 0)", "0.03 s", 1e-9, "t = C · U / I: 10 mF · 24 V / 8 A"),
    ("modbus", "trunk_limit(9600, 0.2)", "1000 m", 1e-9, "V1.02, 3.4.3"),
    ("modbus", "derivation_limit()", "20 m", 1e-9, "V1.02, 3.4.3"),
    ("modbus", "conductor_ohms(0.205)", "84 Ω/km", 0.002, "1 / (58 m/(Ω·mm²) · 0.205 mm²)"),
    ("modbus", "parallel_ohms([120, 120])", "60 Ω", 1e-9, "half of two equal ones"),
    ("modbus", "meter_ohms(l650, 'd')", "60 Ω", 0.06, "two terminators, and 50 m of cable"),
    ("modbus", "driver_ohms(l650, 'd')", "60 Ω", 0.06, "the same, 1,300 Ω beside them"),
    ("modbus", "driver_test_ohms", "54 Ω", 1e-9, "EIA/TIA-485, from memory"),
    ("modbus", "unit_load_ohms", "12 kΩ", 1e-9, "EIA/TIA-485, from memory"),
    ("modbus", "idle_volts(l650, 'd')", "0.221 V", 0.02, "5 V · 60 / (60 + 1300)"),
    ("modbus", "least_idle_volts(l650)", "0.221 V", 0.02, "the same"),
    ("modbus", "idle_margin(l650)", "21 mV", 0.2, "that less 0.2 V"),
    ("modbus", "least_idle", "200 mV", 1e-9, "EIA/TIA-485"),
    ("modbus", "character_bits()", "11 bit", 1e-9, "V1.02, 2.5.1"),
    ("modbus", "character_ms(9600)", "1145.8 µs", 1e-4, "11 bit / 9600 bit/s"),
    ("modbus", "frame_ms(8, 9600)", "9.1667 ms", 1e-4, "88 bit / 9600 bit/s"),
    ("modbus", "silence_ms(38400)", "1750 µs", 1e-9, "V1.02, 2.5.1.1"),
    ("modbus", "gap_ms(38400)", "750 µs", 1e-9, "V1.02, 2.5.1.1"),
    (
        "modbus",
        "poll_ms(poll, 9600)",
        "0.06583 s",
        1e-3,
        "8 and 25 characters, two silences of 3.5 of them, 20 ms of the device's own",
    ),
    ("modbus", "cycle_ms([poll, poll], 9600)", "0.13167 s", 1e-3, "twice that"),
    ("canopen", "canopen_bus_limit(1000)", "25 m", 1e-9, "CiA, CANopen lower layers"),
    ("canopen", "canopen_stub_limit(1000)", "1.5 m", 1e-9, "CiA, CANopen lower layers"),
    ("canopen", "canopen_stubs_limit(1000)", "7.5 m", 1e-9, "CiA, CANopen lower layers"),
    ("canopen", "canopen_fastest_rate(100)", "500 kbit/s", 1e-9, "CiA, CANopen lower layers"),
    ("canopen", "canopen_reach(90, 16)", "220 m", 0.022, "AN96116"),
    ("canopen", "canopen_reach_by_delays(500)", "103 m", 0.005, "a device manual"),
    ("canopen", "canopen_there_and_back(125, 500)", "5.9 µs", 1e-9, "a note of CiA DS 102"),
    ("canopen", "canopen_time_to_sample(125)", "7 µs", 1e-9, "a note of CiA DS 102"),
]


def units_of(family: str) -> Mapping[str, str]:
    known = network_for(family)
    assert isinstance(known, SaysUnits)
    return known.units


@pytest.mark.parametrize(
    ("family", "formula", "amount", "near"),
    [each[:4] for each in AMOUNTS],
    ids=[f"{family} {formula.split('(')[0]}" for family, formula, *_ in AMOUNTS],
)
def test_an_amount_is_given_in_the_unit_that_is_said(
    family: str, formula: str, amount: str, near: float
) -> None:
    unit = unit_named(units_of(family)[formula.partition("(")[0]])
    given = eval(formula, {**network_for(family).functions, **NAMES})
    assert read_quantity(amount, unit).to(unit) == pytest.approx(given, rel=near)


@pytest.mark.parametrize("family", ["devicenet", "modbus", "canopen"])
def test_every_unit_that_is_said_is_looked_at(family: str) -> None:
    looked_at = {formula.partition("(")[0] for name, formula, *_ in AMOUNTS if name == family}
    assert looked_at == {*units_of(family)}


SAID = {
    "m": r"\bm\b|\b[Mm]etres?\b",
    "V": r"\bV\b|\b[Vv]olts?\b",
    "A": r"\bA\b|\b[Aa]mperes\b",
    "Ω/m": r"Ω per metre|Ω of one metre",
    "Ω": "Ω",
    "ms": r"\bms\b|\bMilliseconds\b",
    "ns": r"\bns\b",
    "%": "Per cent",
    "bit": r"\b[Bb]its\b",
    "kbit/s": "kbit/s",
}
"""How a unit is written in a sentence of ours."""
COUNTS = {
    # Numbers of things, of shares or of steps: `unit: ''` is right for them.
    *("stuff_count", "thin_weight", "loads_limit", "most_devices", "unit_loads"),
    *("cob_id", "mapping_word", "number_in", "protocol_address", "pdo_load"),
}


def said_first(words: str) -> str:
    """The unit that a sentence names first; of two at one place the longer one."""
    matches = {unit: re.search(how, words) for unit, how in SAID.items()}
    found = {unit: match.start() for unit, match in matches.items() if match}
    return min(found, key=lambda unit: (found[unit], -len(unit)), default="")


def callables(family: str) -> dict[str, Any]:
    """The functions of a family that give one number."""
    functions: Mapping[str, Any] = network_for(family).functions
    return {
        name: function
        for name, function in functions.items()
        if callable(function)
        and str(function.__annotations__["return"]) in ("float", "int", "<class 'float'>")
    }


@pytest.mark.parametrize("family", ["devicenet", "modbus", "canopen"])
def test_a_function_names_its_unit_first(family: str) -> None:
    units = units_of(family)
    for name, function in callables(family).items():
        if name in COUNTS:
            assert name not in units
            continue
        assert said_first(function.__doc__.splitlines()[0]) == units.get(name), name
