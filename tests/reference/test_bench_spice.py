"""The bench's meters against ngspice (Debian's package) on random faulty networks, to 1e-4.

The netlist is drawn here a second time, from the plan and from what the faults are in life: cables
with their ohm per metre, contacts, terminators, receivers, loads, supplies, earth. It shares the
names of connectors with the bench, nothing else. Copper: loop data of PUB00027R1 (flat: its
planning figure); contacts 5 mΩ a tap, half in each connector; other values as the bench's
docstrings state them.
"""

import math
import random
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from ngspice_batch import MISSING, TIGHT, run_deck

from labkit.bench.bench import Bench
from labkit.bench.conductors import Wire
from labkit.bench.faults import (
    Broken,
    Corroded,
    DeviceDead,
    Draws,
    Earthed,
    Fault,
    FuseBlown,
    Landed,
    Loose,
    NotEarthed,
    PlusJoined,
    SupplyDead,
    SupplyReversed,
    SupplyWeak,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    Touching,
    WrongCable,
    swapped,
)
from labkit.bench.live import Potentials
from labkit.bench.situation import Situation, Terminal
from labkit.families.devicenet.bench.conductors import CONDUCTORS, V_MINUS, V_PLUS, WIRES
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.circuit import resistance
from labkit.fieldbus.devicenet.cable import DataSheet
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.errors import PlanError

pytestmark = [pytest.mark.spice, pytest.mark.skipif(MISSING, reason="ngspice is not installed")]

POWER_OHM = {"thick": 0.0089, "thin": 0.0574, "flat": 0.019}
SIGNAL_OHM = {"thick": 0.0226, "thin": 0.0919, "flat": 0.019}
CONTACT, TOUCH, EARTH_LEAD, INPUT, INNER, FUSE = 2.5e-3, 0.2, 0.1, 15e3, 1e-3, 0.03
LEAK = 1e13
"""From every node, so that nothing floats; what depends on where the leaks lead is not compared."""
RELATIVE = 1e-4
OHM_STEP, VOLT_STEP, AMPERE_STEP = 0.05, 0.5e-4, 0.5e-4
"""Half the last digit of the meter's finest range."""

FIRST_FED = 1000
"""From this seed on plans have fuses in their drops, or supplies joined."""
SEEDS = [*range(60), *range(FIRST_FED, FIRST_FED + 30)]

Spot = tuple[object, ...]
"""A point of the circuit before it has a node's name."""


class Netlist:
    """Cards of one bench. A node is a tuple of words; `self.name` makes it one for ngspice."""

    def __init__(self, setup: Setup, faults: list[Fault], situation: Situation) -> None:
        self.plan, self.faults, self.situation = setup.plan, faults, situation
        self.fused = setup.tap_fuse > 0
        self.cards: list[str] = []
        self.names: dict[tuple[object, ...], str] = {}
        self.volts: dict[str, float] = {}
        """The bench's volts at each device: they say what a power load draws."""
        self.joints: dict[str, str] = {}
        self.supplies = self._supply_names()
        self._trunk()
        self._terminators()
        self._shorts_and_earth()
        for device in self.plan.devices:
            for number in (2, 4):
                self.resistor(self.part(device.name, number), ("middle", device.name), INPUT)

    def _supply_names(self) -> dict[str, Supply]:
        alone = len(self.plan.supplies) == 1
        return {
            s.name or ("supply" if alone else f"supply {k}"): s
            for k, s in enumerate(self.plan.supplies, 1)
        }

    def of(self, kind: type, **where: object) -> list[Any]:
        return [
            f
            for f in self.faults
            if isinstance(f, kind) and all(getattr(f, k) == v for k, v in where.items())
        ]

    def name(self, node: Spot) -> str:
        return self.names.setdefault(node, f"n{len(self.names)}")

    def card(self, letter: str, a: Spot, b: Spot, value: str) -> str:
        made = f"{letter}{len(self.cards)}"
        self.cards.append(f"{made} {self.name(a)} {self.name(b)} {value}")
        return made

    def resistor(self, a: Spot, b: Spot, ohm: float) -> None:
        if ohm:
            self.card("R", a, b, repr(ohm))
        else:
            self.card("V", a, b, "0")

    def part(self, part: str, number: int) -> Spot:
        return ("part", part, number)

    def socket(self, connector: str, joint: str, number: int) -> Spot:
        tap = number == 5 and self.fused and joint in {t.name for t in self.plan.taps}
        if tap and connector.startswith(f"{joint}, drop"):
            return ("behind the drop's fuse", connector)
        for name, supply in self.supplies.items():
            for side, fuse in (("left", supply.fuse_left), ("right", supply.fuse_right)):
                if number == 5 and fuse == 0 and connector == f"power tap of {name}, {side}":
                    return ("behind the empty fuse", connector)
        return self.part(joint, number)

    # A cable's end: conductors, the terminals that they are landed on, the contacts of the plug.

    def connector(self, name: str, joint: str) -> None:
        self.joints[name] = joint
        if name not in self.situation.unplugged:
            for number in range(1, 6):
                self.resistor(("plug", name, number), self.socket(name, joint, number), CONTACT)
        landed = next((f.terminals for f in self.of(Landed, connector=name)), (1, 2, 3, 4, 5))
        for wire, terminal in zip(WIRES, landed, strict=True):
            clock = self.situation.clock_s
            parted = self.of(Broken, connector=name, wire=wire) or any(
                clock % f.every_s >= f.every_s - f.open_s
                for f in self.of(Loose, connector=name, wire=wire)
            )
            if terminal and not parted:
                extra = sum(f.ohm for f in self.of(Corroded, connector=name, wire=wire))
                self.resistor(("end", name, wire), ("plug", name, terminal), extra)

    def cable(self, a: str, b: str, runs: list[tuple[str, float]], *, v_plus: bool = True) -> None:
        piece, planned = f"{a} – {b}", math.fsum(metres for _, metres in runs)
        for wrong in self.of(WrongCable, piece=piece):
            runs = [(wrong.cable, planned)]
        for longer in self.of(TooLong, piece=piece):
            runs = [(cable, metres * longer.metres / planned) for cable, metres in runs]
        for wire in WIRES:
            if wire is not V_PLUS or v_plus:
                self.conductor(a, b, wire, runs)

    def conductor(self, a: str, b: str, wire: Wire, runs: list[tuple[str, float]]) -> None:
        power = wire in (V_PLUS, V_MINUS)
        ohm = dict(POWER_OHM if power else SIGNAL_OHM)
        for sheet in self.plan.data_sheets:
            ohm[sheet.cable] = (sheet.power if power else sheet.signal) or ohm[sheet.cable]
        whole = math.fsum(ohm[cable] * metres for cable, metres in runs)
        self.resistor(("end", a, wire), ("end", b, wire), whole)

    # The plan, walked from left to right.

    def _trunk(self) -> None:
        points: list[tuple[float, int, str, str | Tap]] = [
            (s.position, 0, f"power tap of {n}", n) for n, s in self.supplies.items()
        ]
        points += [(t.position, 1, t.name, t) for t in self.plan.taps]
        ends = [(0.0, "left end", "left end")]
        for position, _, joint, what in sorted(points, key=lambda p: p[:2]):
            for side in ("left", "right"):
                self.connector(f"{joint}, {side}", joint)
                ends.append((position, f"{joint}, {side}", joint))
            if isinstance(what, Tap):
                drops = what.cable_drops
                for k, drop in enumerate(drops, 1):
                    port = f"{joint}, drop" + ("" if len(drops) == 1 else f" {k}")
                    self.drop(drop, port, joint)
            else:
                self.connector(f"{joint}, lead", joint)
                self.connector(what, what)
                self.cable(f"{joint}, lead", what, [])
        length = math.fsum(s.length for s in self.plan.segments)
        ends.append((length, "right end", "right end"))
        for end in ("left end", "right end"):
            self.connector(end, end)
        for (start, a, joint), (stop, b, other) in pairwise(ends):
            if joint == other:
                continue
            cut = any(start < at < stop for at in self.plan.section_breaks)
            joined = bool(self.of(PlusJoined, piece=f"{a} – {b}"))
            self.cable(a, b, self.runs(start, stop), v_plus=joined or not cut)

    def runs(self, start: float, stop: float) -> list[tuple[str, float]]:
        found, begin = [], 0.0
        for segment in self.plan.segments:
            metres = min(stop, begin + segment.length) - max(start, begin)
            if metres > 1e-12:
                found.append((segment.cable, metres))
            begin += segment.length
        return found

    def drop(self, drop: Drop, port: str, joint: str) -> None:
        self.connector(port, joint)
        if self.fused and ", far end" not in port and not self.of(FuseBlown, connector=port):
            self.resistor(self.part(joint, 5), self.socket(port, joint, 5), FUSE)
        runs = [(drop.cable, drop.length)] if drop.length else []
        if len(drop.devices) == 1 and not drop.branches:
            self.connector(drop.devices[0].name, drop.devices[0].name)
            self.cable(port, drop.devices[0].name, runs)
            return
        far = f"{port}, far end"
        self.connector(far, far)
        self.cable(port, far, runs)
        for device in drop.devices:
            self.connector(f"{far}, {device.name}", far)
            self.connector(device.name, device.name)
            self.cable(f"{far}, {device.name}", device.name, [])
        for k, branch in enumerate(drop.branches, 1):
            self.drop(branch, f"{far}, branch {k}", far)

    def _terminators(self) -> None:
        for end in ("left end", "right end"):
            ohm = next((f.ohm for f in self.of(TerminatorValue, end=end)), 121.0)
            if not self.of(TerminatorMissing, end=end):
                self.resistor(self.part(end, 4), self.part(end, 2), ohm)
        for extra in self.of(TerminatorExtra):
            joint = self.joints[extra.connector]
            self.resistor(self.part(joint, 4), self.part(joint, 2), 121.0)

    def _shorts_and_earth(self) -> None:
        for touch in self.of(Touching):
            at = touch.connector
            self.resistor(("end", at, touch.a), ("end", at, touch.b), TOUCH)
        for leak in self.of(Earthed):
            self.resistor(("end", leak.connector, leak.wire), ("earth",), TOUCH)
        middle = math.fsum(s.length for s in self.plan.segments) / 2
        earthed = min(self.supplies, key=lambda n: abs(self.supplies[n].position - middle))
        self.name(("earth",))
        if self.of(NotEarthed):
            return
        self.resistor(self.part(earthed, 3), self.part(earthed, 1), 0.0)
        if not self.situation.earth_lifted:
            self.resistor(self.part(earthed, 1), ("earth",), EARTH_LEAD)

    # What stands on it.

    def dead(self) -> None:
        for device in self.plan.devices:
            self.resistor(("middle", device.name), self.part(device.name, 1), 0.0)

    def live(
        self,
        supplies: dict[str, str],
        loads: dict[str, str],
        working: set[str],
        driver: str | None = None,
    ) -> None:
        """Everything under power, supplies and loads each on the given stretch of its curve."""
        for device in self.plan.devices:
            self._load(device, loads[device.name])
            common = self.part(device.name, 1)
            idle = 2.5 if device.name in working else 0.0
            self.card("V", ("middle", device.name), common, repr(idle))
            if device.name == driver:
                # 3 V behind 30 ohm between the wires, half in each leg about the middle
                for number, volt in ((4, 1.5), (2, -1.5)):
                    leg = ("leg", device.name, number)
                    self.card("V", leg, ("middle", device.name), repr(volt))
                    self.card("R", leg, self.part(device.name, number), "15")
        self.meters = {name: self._feed(name, state) for name, state in supplies.items()}

    def terminals(self, supply: str) -> tuple[Spot, Spot]:
        turned = bool(self.of(SupplyReversed, supply=supply))
        plus, minus = (1, 5) if turned else (5, 1)
        return self.part(supply, plus), self.part(supply, minus)

    def limit(self, supply: str) -> float:
        plate = self.supplies[supply].rating or 8.0
        return float(min([plate, *(f.ampere for f in self.of(SupplyWeak, supply=supply))]))

    def _feed(self, name: str, state: str) -> str:
        """A supply at its voltage, at its limit, or shut off; the card that carries its current."""
        plus, minus = self.terminals(name)
        inner, out = ("inner", name), ("out", name)
        if state == "voltage":
            self.card("V", inner, minus, repr(self.supplies[name].voltage))
        elif state == "limit":
            self.card("I", minus, inner, repr(self.limit(name)))
        self.resistor(inner, out, self.supplies[name].resistance or INNER)
        return self.card("V", out, plus, "0")

    def _load(self, device: Device, state: str) -> None:
        """11 V and more: its current or power; 0 to 11 V: a resistor; backwards nothing."""
        plus, minus = self.part(device.name, 5), self.part(device.name, 1)
        other = [f.ampere for f in self.of(Draws, device=device.name)]
        watt = device.constant_power if not other else None
        ampere = other[0] if other else device.current
        if state == "full" and watt:
            self.card("I", plus, minus, repr(watt / self.volts[device.name]))
        elif state == "full":
            self.card("I", plus, minus, repr(ampere))
        elif state == "low" and (watt or ampere):
            self.card("R", plus, minus, repr(121 / watt if watt else 11 / ampere))

    def node(self, terminal: Terminal) -> str:
        if terminal.connector == "earth":
            return self.name(("earth",))
        if terminal.socket or terminal.connector not in self.situation.unplugged:
            joint = self.joints[terminal.connector]
            return self.name(self.socket(terminal.connector, joint, terminal.number))
        return self.name(("plug", terminal.connector, terminal.number))

    def leaks(self, volt: float) -> list[str]:
        nodes = list(self.names.values())
        return [f"Vleak leak 0 {volt!r}", *(f"Rl{n} {n} leak {LEAK!r}" for n in nodes)]


def random_plan(rng: random.Random) -> Network:
    taps, position, number = [], 0.0, 0

    def device() -> Device:
        nonlocal number
        number += 1
        if rng.random() < 0.15:
            return Device(f"node {number}", 0.0, number, constant_power=rng.uniform(1, 8))
        return Device(f"node {number}", round(rng.uniform(0, 0.6), 2), number)

    for _ in range(rng.randint(2, 5)):
        position += rng.randint(4, 40) / 2
        shape = rng.random()
        length = rng.choice([0.0, 1.0, 2.5, 5.0])
        cable = rng.choice(["thin", "thin", "thick"])
        if shape < 0.5:
            drop = Drop(length, (device(),), cable=cable)
        elif shape < 0.7:
            drop = Drop(length, tuple(device() for _ in range(rng.randint(2, 3))), cable=cable)
        elif shape < 0.85:
            branches = tuple(Drop(1.5, (device(),)) for _ in range(2))
            drop = Drop(2.0, (device(),) if rng.random() < 0.5 else (), branches, cable)
        else:
            drop = Drop(0.0, (), tuple(Drop(1.0 + k, (device(),)) for k in range(2)))
        taps.append(Tap(position, drop))
    end = position + rng.randint(2, 20) / 2
    cut = round(rng.uniform(0.2, 0.8) * end, 1)
    segments: tuple[Segment, ...] = (Segment("thick", end),)
    if rng.random() < 0.5:
        kinds = rng.choice([("thick", "thin"), ("thin", "thick"), ("flat", "thick")])
        segments = (Segment(kinds[0], cut), Segment(kinds[1], end - cut))
    supplies = []
    for k in range(rng.choice([1, 1, 2, 2, 3])):
        supplies.append(
            Supply(
                round(rng.uniform(0.5, end - 0.5), 1) + 0.013 * k,
                rng.choice([24.0, 24.0, 23.5, 24.6]),
                rating=rng.choice([None, 2.0, 4.0]),
                resistance=rng.choice([0.0, 0.05]),
                fuse_left=rng.choice([None, None, None, 0.0]),
                diode=rng.random() < 0.8,
            )
        )
    breaks: tuple[float, ...] = ()
    places = sorted(s.position for s in supplies)
    if len(supplies) > 1 and rng.random() < 0.6:
        breaks = tuple((a + b) / 2 + 0.0071 for a, b in pairwise(places))
    sheets = []
    # Of its own chance, so that the plans themselves stay those that were looked at.
    rng = random.Random(f"sheets {end}")
    if rng.random() < 0.4:
        # Thick of 1.65 mm² (15 AWG), and thin whose maker says nothing of the power conductors.
        sheets.append(DataSheet("thick", rng.uniform(0.0104, 0.0118), rng.choice([None, 0.0236])))
        sheets.append(DataSheet("thin", None, rng.uniform(0.05, 0.1)))
    return Network(125, segments, tuple(taps), tuple(supplies), breaks, data_sheets=tuple(sheets))


def random_fault(rng: random.Random, setup: Setup) -> Fault:
    layout = setup.layout
    connector = rng.choice(list(layout.connectors))
    wire = rng.choice(WIRES)
    a, b = rng.sample(WIRES, 2)
    supply, device = rng.choice(list(layout.supplies)), rng.choice(list(layout.devices))
    end = rng.choice(["left end", "right end"])
    piece = rng.choice([p.id for p in layout.pieces.values() if p.runs])
    some = [0, *rng.sample(range(1, 6), 4)]
    rng.shuffle(some)
    kinds: list[Callable[[], Fault]] = [
        lambda: swapped(connector, a, b, CONDUCTORS),
        lambda: Landed(connector, tuple(some)),
        lambda: Landed(connector, tuple(rng.choices(range(6), k=5))),
        lambda: Broken(connector, wire),
        lambda: Loose(connector, wire, 6.0, 5.9),
        lambda: Touching(connector, a, b),
        lambda: Corroded(connector, wire, rng.choice([0.5, 5.0, 40.0, 2000.0])),
        lambda: Earthed(connector, wire),
        lambda: NotEarthed(),
        lambda: TerminatorMissing(end),
        lambda: TerminatorValue(end, rng.choice([12.0, 60.0, 1000.0])),
        lambda: TerminatorExtra(connector),
        lambda: SupplyReversed(supply),
        lambda: SupplyDead(supply),
        lambda: SupplyWeak(supply, rng.choice([0.4, 1.0])),
        lambda: WrongCable(piece, rng.choice(["thin", "thick", "flat"])),
        lambda: TooLong(piece, rng.uniform(1, 200)),
        lambda: Draws(device, rng.choice([1.5, 4.0])),
        lambda: DeviceDead(device),
    ]
    return rng.choice(kinds)()


def random_bench(seed: int) -> tuple[Setup, list[Fault], random.Random]:
    rng = random.Random(seed)
    while True:
        try:
            plan = random_plan(rng)
            setup = Setup(plan, plan.devices[0].name)
            faults = list({random_fault(rng, setup) for _ in range(rng.randint(1, 3))})
            if seed >= FIRST_FED:
                setup, faults = fed(rng, plan, faults[:1])
            Bench(setup, frozenset(faults))
        except PlanError:
            continue
        return setup, faults, rng


def fed(rng: random.Random, plan: Network, more: list[Fault]) -> tuple[Setup, list[Fault]]:
    """The plan with fuses in its drops, one blown, or with two supplies joined; perhaps both."""
    setup = Setup(plan, plan.devices[0].name, tap_fuse=rng.choice([0.0, 3.0]))
    faults: list[Fault] = [PlusJoined(p.id) for p in setup.layout.pieces.values() if not p.plus]
    if setup.layout.fused:
        faults.append(FuseBlown(rng.choice(setup.layout.fused)))
    if not faults:
        raise PlanError("Nothing of it here.")
    return setup, [*faults[-2:], *(more if rng.random() < 0.5 else [])]


def random_pairs(rng: random.Random, bench: Bench, count: int) -> list[tuple[Terminal, Terminal]]:
    out = bench.situation.unplugged
    found = [
        Terminal(c, k, socket)
        for c in bench.layout.connectors
        for k in range(1, 6)
        for socket in ((False, True) if c in out else (False,))
    ]
    by = {k: [t for t in found if t.number == k] for k in range(1, 6)}
    pairs = []
    for _ in range(count):
        a = rng.choice(found)
        kind = {1: 5, 2: 4, 3: 1, 4: 2, 5: 1}[a.number] if rng.random() < 0.6 else rng.randint(1, 5)
        b = rng.choice([*by[kind], Terminal("earth")] if rng.random() < 0.3 else by[kind])
        pairs.append((a, b))
    at = rng.choice(list(bench.layout.devices))
    pairs += [(Terminal(at, 4), Terminal(at, 2)), (Terminal(at, 5), Terminal(at, 1))]
    return [(a, b) for a, b in pairs if a != b]


def printed(lines: list[str], control: list[str], wanted: int, folder: Path) -> list[float]:
    deck = [TIGHT, *lines, ".control", "set numdgt=16", *control, "quit", ".endc"]
    output = run_deck(deck, folder)
    values = [
        float(line.split(" = ")[1]) for line in output.splitlines() if line.startswith(("v(", "i("))
    ]
    assert len(values) == wanted, output
    return values


@pytest.mark.parametrize("seed", SEEDS)
def test_resistance_readings(seed: int, tmp_path: Path) -> None:
    setup, faults, rng = random_bench(seed)
    out = rng.choice([frozenset(), frozenset({rng.choice(list(setup.layout.connectors))})])
    situation = Situation(unplugged=out, earth_lifted=rng.random() < 0.3, clock_s=rng.uniform(0, 9))
    bench = Bench(setup, frozenset(faults), situation)
    pairs = random_pairs(rng, bench, 14)
    net = Netlist(setup, faults, situation)
    net.dead()
    sources, control = [], []
    for k, pair in enumerate(pairs):
        a, b = (net.node(t) for t in pair)
        sources.append(f"Ip{k} {b} {a} 0")
        control += [f"alter Ip{k} = 1m", "op", f"print v({a},{b})", f"alter Ip{k} = 0"]
    lines = [*net.cards, *sources, *net.leaks(0.0)]
    volts = printed(lines, control, len(pairs), tmp_path)
    for (one, other), volt in zip(pairs, volts, strict=True):
        truth = volt / 1e-3
        ours = resistance(bench.wiring.dead, bench.wiring.node(one), bench.wiring.node(other))
        if ours == math.inf:
            assert truth > 1e9, (a, b, faults)
        else:
            assert math.isclose(ours, truth, rel_tol=RELATIVE, abs_tol=OHM_STEP), (a, b, faults)


def live_lines(net: Netlist, leak: float) -> list[str]:
    common = net.name(net.part(next(iter(net.supplies)), 1))
    return [*net.cards, f"Vcommon {common} 0 0", *net.leaks(leak)]


def stretches(
    bench: Bench, here: Potentials, net: Netlist
) -> tuple[dict[str, str], dict[str, str], set[str]]:
    """Where the bench says that each supply and load is on its curve, and who works.

    `contradictions` holds this against ngspice. Curves of supplies and current loads only rise or
    fall, so that an answer without a contradiction is the only one.
    """
    assert bench.live is not None
    live, supplies, loads = bench.live, {}, {}
    for name, supply in net.supplies.items():
        if net.of(SupplyDead, supply=name):
            assert live.supply_currents[name] == 0
            continue
        plus, minus = ("#".join(map(str, end[1:])) for end in net.terminals(name))
        drop = supply.voltage - here.between(plus, minus)
        supplies[name] = "voltage"
        if drop > net.limit(name) * (supply.resistance or INNER) + 1e-7:
            supplies[name] = "limit"
        elif drop < -1e-7 and supply.diode:
            supplies[name] = "off"
    for name in bench.layout.devices:
        volt = net.volts[name] = here.between(f"{name}#5", f"{name}#1")
        loads[name] = "full" if volt >= 11 else "low" if volt > -1e-6 else "back"
    return supplies, loads, {d for d in loads if live.works(d)}


def contradictions(
    net: Netlist,
    supplies: dict[str, str],
    loads: dict[str, str],
    working: set[str],
    found: list[float],
    driven: bool,
) -> list[str]:
    """What ngspice's volts and amperes say against the stretches.

    Who works is settled on the idle bus: a driver on crossed wires can move others' supply.
    """
    wrong = []
    count = len(supplies)
    for name, ampere, volt in zip(supplies, found, found[count:], strict=False):
        rise = volt - net.supplies[name].voltage
        state = supplies[name]
        over = ampere > net.limit(name) * (1 + 1e-6)
        backwards = ampere < -1e-6 and net.supplies[name].diode
        if state == "voltage" and (over or backwards):
            wrong.append(f"{name} gives {ampere} A")
        if (state == "limit" and rise > 1e-4) or (state == "off" and rise < -1e-4):
            wrong.append(f"{name} stands at {volt} V")
    lifeless = {f.device for f in net.of(DeviceDead)}
    for name, volt in zip(loads, found[2 * count :], strict=True):
        fits = {"full": volt >= 11 - 1e-6, "low": -1e-4 < volt < 11 + 1e-6, "back": volt < 1e-4}
        if math.isnan(volt):
            continue
        if not math.isclose(volt, net.volts[name], rel_tol=1e-5, abs_tol=1e-4):
            wrong.append(f"{name} has {volt} V, not {net.volts[name]} V")
        if not fits[loads[name]]:
            wrong.append(f"{name} has {volt} V, not {loads[name]}")
        if not driven and (name in working) != (11 <= volt <= 25 and name not in lifeless):
            wrong.append(f"{name} has {volt} V, works: {name in working}")
    return wrong


@pytest.mark.parametrize("seed", SEEDS)
def test_volts_and_supply_currents(seed: int, tmp_path: Path) -> None:
    setup, faults, rng = random_bench(seed)
    out = rng.choice([frozenset(), frozenset({rng.choice(list(setup.layout.connectors))})])
    situation = Situation(power=True, unplugged=out, clock_s=rng.uniform(0, 9))
    bench = Bench(setup, frozenset(faults), situation)
    assert bench.live is not None
    pairs = random_pairs(rng, bench, 14)
    talkers = sorted(d for d in setup.layout.devices if bench.live.works(d))
    for driver in [None, *rng.sample(talkers, min(1, len(talkers)))]:
        here = bench.live.dominant(driver) if driver else bench.live.idle
        first = Netlist(setup, faults, situation)
        supplies, loads, working = stretches(bench, here, first)
        if not supplies:
            assert all(bench.volts(a, b).value == 0 for a, b in pairs)
            return
        runs = []
        for leak in (0.0, 3.0):
            net = Netlist(setup, faults, situation)
            net.volts = first.volts
            net.live(supplies, loads, working, driver)
            ends = [tuple(net.node(t) for t in pair) for pair in pairs]
            ends += [(net.name(("inner", s)), net.name(net.terminals(s)[1])) for s in supplies]
            ends += [tuple(net.name(net.part(d, n)) for n in (5, 1)) for d in loads]
            control = ["op", *(f"print i({meter})" for meter in net.meters.values())]
            control += [f"print v({a},{b})" for a, b in ends]
            runs.append(printed(live_lines(net, leak), control, len(control) - 1, tmp_path))
        count = len(supplies)
        # nan, which contradicts nothing, where the leaks decide
        held = [a if abs(a - b) < 1e-6 else math.nan for a, b in zip(*runs, strict=True)]
        rest = [*held[:count], *held[count + len(pairs) :]]
        wrong = contradictions(net, supplies, loads, working, rest, driver is not None)
        assert not wrong, (wrong, supplies, loads, faults)
        volts = [run[count : count + len(pairs)] for run in runs]
        for (a, b), truth, other in zip(pairs, *volts, strict=True):
            if abs(truth - other) > 1e-6:
                continue
            ours = here.between(bench.wiring.node(a), bench.wiring.node(b))
            close = math.isclose(ours, truth, rel_tol=RELATIVE, abs_tol=VOLT_STEP)
            assert close, (driver, a, b, ours, truth, supplies, faults)
        for supply, truth in zip(supplies, runs[0], strict=False):
            ours = bench.live.supply_currents[supply]
            close = math.isclose(ours, truth, rel_tol=RELATIVE, abs_tol=AMPERE_STEP)
            assert close or driver, (supply, ours, truth, supplies, faults)
