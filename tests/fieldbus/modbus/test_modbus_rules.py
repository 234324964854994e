"""Every rule for a planned line: held by a sound one, broken by one change each."""

import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from modbus_lines import random_line, sound_line

from labkit.fieldbus import PlanError
from labkit.fieldbus.modbus import (
    Cable,
    Derivation,
    Device,
    LineCircuit,
    Network,
    Polarization,
    Tap,
    Terminator,
    check_addresses,
    check_driver_load,
    check_idle_voltage,
    check_lengths,
    check_network,
    most_devices,
)
from labkit.fieldbus.serial import CharacterFormat

LINE = sound_line()
OTHER = CharacterFormat.from_text("8N1")
Change = Callable[[Network], Network]


def with_tap(network: Network, *taps: Tap) -> Network:
    return replace(network, taps=(*network.taps, *taps))


def bare(network: Network) -> Network:
    return replace(network, terminators=(), earths=(), polarizations=())


def with_device(network: Network, device: Device) -> Network:
    return with_tap(network, Tap.to(60, device))


def broken(network: Network) -> list[tuple[str, str]]:
    return [(each.rule, each.where) for each in check_network(network) if not each.ok]


def test_a_sound_line_keeps_every_rule() -> None:
    assert broken(LINE) == []
    assert len(check_network(LINE)) == 34
    assert all(each.source for each in check_network(LINE))
    assert check_addresses(LINE.addresses) == ()


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            lambda line: replace(line, cable=Cable(0.1, 10)),
            [("section of the conductors", "the trunk")],
        ),
        (
            lambda line: with_tap(line, Tap.to(60, Device("scale", 41), derivation=20.5)),
            [("length of a derivation", "tap at 60 m, to scale")],
        ),
        (
            lambda line: with_tap(line, Tap(60, (Derivation(14), Derivation(1), Derivation(1)))),
            [("length of one of 3 derivations", "tap at 60 m, to its spare end")],
        ),
        (
            lambda line: with_device(line, Device("old drive", 41, unit_loads=25)),
            [("unit loads without a repeater", "all 6 stations of the line")],
        ),
        (
            lambda line: replace(line, terminators=(Terminator("controller"),)),
            [("terminator missing at the end", "right end of the trunk, 400 m")],
        ),
        (
            lambda line: replace(
                line, terminators=(Terminator("pump drive"), Terminator("controller"))
            ),
            [
                ("terminator missing at the end", "right end of the trunk, 400 m"),
                ("terminators on a derivation", "at pump drive"),
            ],
        ),
        (
            lambda line: replace(line, terminators=(Terminator(250), Terminator(400))),
            [
                ("terminator missing at the end", "left end of the trunk, 0 m"),
                ("terminators between the ends", "at 250 m"),
            ],
        ),
        (
            lambda line: replace(line, terminators=(*line.terminators, Terminator("valve block"))),
            [
                ("terminators in all", "the whole line"),
                ("terminators doubled at the end", "right end of the trunk, 400 m"),
                ("idle voltage", "valve block"),
            ],
        ),
        (
            lambda line: line.with_terminators_at_ends(Terminator(0, 151)),
            [
                ("terminator too large", "terminator at 0 m"),
                ("terminator too large", "terminator at 400 m"),
            ],
        ),
        (
            lambda line: replace(line, terminators=(Terminator(0, 119), line.terminators[1])),
            [("terminator too small", "terminator at 0 m")],
        ),
        (
            lambda line: replace(
                line, polarizations=(*line.polarizations, Polarization("valve block", 600, 600))
            ),
            [("polarizations of the line", "at controller, at valve block")],
        ),
        (
            lambda line: replace(line, polarizations=()),
            [
                ("polarization missing", "needed by flow meter"),
                ("idle voltage", "controller"),
            ],
        ),
        (
            lambda line: replace(line, polarizations=(Polarization(0, 440, 500),)),
            [("polarizing resistor too small", "pull-up resistor at 0 m")],
        ),
        (
            lambda line: replace(line, polarizations=(Polarization(0, 450, 651),)),
            [("polarizing resistor too large", "pull-down resistor at 0 m")],
        ),
        (
            lambda line: replace(line, earths=()),
            [("earth of the common missing", "nowhere")],
        ),
        (
            lambda line: replace(line, earths=("controller", 400)),
            [("points where the common is earthed", "at controller, at 400 m")],
        ),
        (
            lambda line: with_device(line, Device("panel", master=True)),
            [("masters on the line", "controller, panel")],
        ),
        (
            lambda line: replace(bare(line), taps=line.taps[1:]),
            [
                ("terminator missing at the end", "left end of the trunk, 0 m"),
                ("terminator missing at the end", "right end of the trunk, 400 m"),
                ("polarization missing", "needed by flow meter"),
                ("earth of the common missing", "nowhere"),
                ("master missing", "the whole line"),
                ("idle voltage", "flow meter"),
            ],
        ),
        (
            lambda line: with_device(line, Device("scale", 41, bit_rate=19_200)),
            [("stations at another bit rate", "scale")],
        ),
        (
            lambda line: with_device(line, Device("scale", 41, form=OTHER)),
            [("stations with other characters", "scale")],
        ),
        (
            lambda line: replace(line, form=OTHER),
            [("character too short", "8N1, the whole line")],
        ),
        (
            lambda line: replace(line, form=CharacterFormat.from_text("8E2")),
            [("character too long", "8E2, the whole line")],
        ),
    ],
)
def test_a_rule_that_is_broken(change: Change, expected: list[tuple[str, str]]) -> None:
    assert broken(change(LINE)) == expected


def test_a_terminator_at_a_derivation_from_the_end_is_not_at_the_end() -> None:
    *others, last = LINE.taps
    moved = Tap.to(400, *last.derivations[0].devices, derivation=3)
    line = replace(
        LINE, taps=(*others, moved), terminators=(Terminator(0), Terminator("valve block"))
    )
    assert broken(line) == [
        ("terminator missing at the end", "right end of the trunk, 400 m"),
        ("terminators on a derivation", "at valve block"),
    ]


def test_a_device_set_as_the_line_breaks_nothing() -> None:
    same = Device("scale", 41, bit_rate=9600, form=CharacterFormat())
    assert broken(with_device(LINE, same)) == []


@pytest.mark.parametrize(("metres", "ok"), [(1000, True), (1001, False)])
def test_the_length_of_the_trunk(metres: float, ok: bool) -> None:
    trunk, _ = check_lengths(Network(metres, bit_rate=9600))
    assert trunk.ok is ok
    assert trunk.source == "MODBUS over Serial Line V1.02, 3.4.3"


def test_above_9600_the_source_says_that_the_length_is_not_published() -> None:
    trunk, _ = check_lengths(Network(900))
    assert trunk.ok
    assert trunk.source.endswith("published up to 9,600 bit/s, at 19200 less may be possible")


def test_at_a_tap_with_several_the_longest_derivation_shrinks() -> None:
    taps = (Tap(5, (Derivation(20), Derivation(20.1), Derivation(0))),)
    results = check_lengths(Network(10, taps))[2:]
    assert [(each.value, each.limit) for each in results] == [
        (20, 20),
        (20, 20),
        (20.1, 20),
        (20.1, 20),
    ]


def test_polarization_takes_four_unit_loads() -> None:
    without = replace(LINE, polarizations=())
    limits = [
        next(each.limit for each in check_network(line) if each.unit == "unit loads")
        for line in (LINE, without)
    ]
    assert limits == [28, 32]
    assert LINE.unit_loads == 4.5


@pytest.mark.parametrize(
    ("unit_load", "polarized", "most"),
    [
        (1, False, 32),
        (1, True, 28),
        (0.5, True, 56),
        (0.3, False, 106),
        (0.14, True, 200),
        (33, False, 0),
    ],
)
def test_how_many_stations(unit_load: float, polarized: bool, most: int) -> None:
    assert most_devices(unit_load, polarized=polarized) == most


def test_addresses_limit_the_stations_too() -> None:
    assert most_devices(0.125) == 248
    assert most_devices(0.125, polarized=True) == 224


def test_the_idle_voltage_has_a_margin_at_its_lowest_place() -> None:
    (rule,) = check_idle_voltage(LINE)
    volts = LineCircuit(LINE).idle_volts()
    assert rule.value == min(volts.values())
    assert volts[rule.where] == rule.value
    assert rule.margin == pytest.approx(rule.value - 0.2)
    needing_none = replace(LINE, taps=(LINE.taps[0], *LINE.taps[2:]))
    assert check_idle_voltage(replace(needing_none, polarizations=())) == ()
    assert check_idle_voltage(Network(10, polarizations=(Polarization(0),))) == ()


def test_the_load_of_a_driver_is_told_apart() -> None:
    """32 unit loads and two terminators of 120 Ω are allowed, and are 51.7 Ω."""
    taps = tuple(Tap.to(float(at), Device(f"d{at}", at or None, master=not at)) for at in range(32))
    line = Network(31, taps, earths=(0,), cable=Cable(ohm_per_km=0))
    full = line.with_terminators_at_ends(Terminator(0, 120))
    assert broken(full) == []
    (rule,) = check_driver_load(full)
    assert not rule.ok
    assert rule.value == pytest.approx(51.72, abs=0.01)
    assert check_driver_load(Network(10)) == ()
    (rule,) = check_driver_load(LINE)
    ohms = [LineCircuit(LINE).driver_ohm(device.name) for device in LINE.devices]
    assert rule.value == min(ohms) < max(ohms)


def test_addresses_are_checked_by_their_own_rule() -> None:
    doubled = with_device(LINE, Device("scale", 21))
    (problem,) = check_addresses(doubled.addresses)
    assert (problem.kind, problem.devices) == ("duplicate", ("scale", "pump drive"))
    (problem,) = check_addresses(with_device(LINE, Device("scale", 250)).addresses)
    assert problem.kind == "out of range"


def test_a_line_without_polarization_rests_at_nothing() -> None:
    assert set(LineCircuit(replace(LINE, polarizations=())).idle_volts().values()) == {0.0}


@pytest.mark.parametrize("seed", range(30))
def test_any_line_is_judged(seed: int) -> None:
    line = random_line(random.Random(seed))
    assert check_network(line)
    assert Network.from_json(line.to_json()) == line


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Network(0), "length of the trunk is 0 m; it must be at least 0.001"),
        (lambda: Network(10, (Tap.to(11),)), "tap at 11 m lies beyond the trunk, which is 10 m"),
        (lambda: Network(10, (Tap.to(5), Tap.to(5))), "Two taps stand at 5 m"),
        (
            lambda: Network(10, (Tap.to(1, Device("a")), Tap.to(2, Device("a")))),
            "Two devices are called 'a'",
        ),
        (
            lambda: Network(10, (Tap(1, (), "x"), Tap(2, (), "x"))),
            "Two taps are called 'x'; rename",
        ),
        (
            lambda: Network(10, terminators=(Terminator("drive"),)),
            "The terminator is to be at 'drive', but there is no such device; the devices are none",
        ),
        (lambda: Network(10, polarizations=(Polarization(11),)), "polarization at 11 m lies"),
        (lambda: Network(10, earths=(11,)), "earth of the common at 11 m lies"),
        (lambda: Network(10, earths="pump"), "must be a list, not 'pump'"),  # type: ignore[arg-type]
        (lambda: Network(10, form="8E1"), "give a CharacterFormat"),  # type: ignore[arg-type]
        (lambda: Network(10, cable=5), "The cable of the line is 5"),  # type: ignore[arg-type]
        (lambda: Network(10, bit_rate=0), "The bit rate is 0"),
        (lambda: Device("plc", 1, master=True), "plc is the master, which has no address"),
        (lambda: Device("drive", 256), "address is 256, outside 0 to 255"),
        (lambda: Device("drive", unit_loads=0), "unit loads of drive is 0; it must be at least"),
        (lambda: Device("drive", form="8E1"), "characters of drive is '8E1'"),  # type: ignore[arg-type]
        (lambda: Terminator("", 120), "name of the device with a terminator is ''"),
        (lambda: Terminator(0, 0), "resistance of a terminator is 0"),
        (lambda: Polarization(0, volt=0), "voltage of a polarization is 0 V; it must be more"),
        (lambda: LineCircuit(LINE).idle_volt(77), "Nothing is connected at 77 m of the trunk"),
        (lambda: LineCircuit(LINE).meter_ohm("door"), "no such device; the devices are controller"),
    ],
)
def test_what_cannot_be_planned(make: Callable[[], object], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        make()
