"""Readings taken beforehand, for a laptop that must not know the fault.

A recording holds what the instruments show in every situation that a trainee can bring about by
switching the power, unplugging one connector, or lifting the earth; nothing of the cause. With a
plug in its socket both halves of a terminal read the same (they are 2.5 mΩ apart), so a place is a
joint or a part; an unplugged connector's plug is a place of its own.
"""

from __future__ import annotations

import base64
import zlib
from array import array
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any

from labkit.bench.actions import (
    Action,
    FitEarth,
    LiftEarth,
    NotDoneError,
    Plug,
    PowerOff,
    PowerOn,
    Unplug,
)
from labkit.bench.actions.plugs import refuse_live_plug
from labkit.bench.bench import Bench
from labkit.bench.layout import EARTH, Layout
from labkit.bench.live import MICROVOLTS
from labkit.bench.measurements import Look, Measurement, Ohms, Reading, SupplyCurrent, Volts
from labkit.bench.meter import LIVE_REFUSAL, all_ohms_shown, ohms_shown, volts_shown
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal
from labkit.bench.wiring import Wiring
from labkit.fieldbus.circuit import paired_resistances
from labkit.fieldbus.errors import PlanError

ONE_AT_A_TIME = "Only one connector can be unplugged at a time here: plug the other in first."
NOT_HERE = "In an assessed class nothing is repaired on the bench: say what you found instead."


def situations(bench: Bench) -> Iterator[Situation]:
    """Every situation that a recording holds."""
    for power in (False, True):
        yield Situation(power=power)
        for connector in bench.layout.connectors:
            yield Situation(power=power, unplugged=frozenset({connector}))
    yield Situation(earth_lifted=True)


def name_of(situation: Situation) -> str:
    """A situation as a recording names it."""
    plugs = ", ".join(sorted(situation.unplugged))
    return (
        f"{'on' if situation.power else 'off'}|{plugs}|{'lifted' if situation.earth_lifted else ''}"
    )


def record(bench: Bench) -> dict[str, Any]:
    """The recording of a bench as plain JSON. It takes a circuit solution for every situation."""
    parts = ReadWhenAsked(bench)
    return {name: dict(p) if isinstance(p, Mapping) else p for name, p in parts.items()}


class ReadWhenAsked(Mapping[str, Any]):
    """The same parts where the bench is at hand: each reading is taken when it is first needed.

    `Recording` reads it back like a recording, so it offers the same steps and shows the same. It
    is not for a file.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def __repr__(self) -> str:
        """Equal for equal benches of one set-up, and without a reading taken."""
        faults = sorted(map(repr, self.bench.faults))
        return f"{type(self).__name__}({faults}, {self.bench.situation})"

    def __getitem__(self, name: str) -> Any:
        return self._parts[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._parts)

    def __len__(self) -> int:
        return len(self._parts)

    @cached_property
    def _parts(self) -> dict[str, Any]:
        bench = self.bench
        # By number: each situation adds those that it is the first to show.
        texts: list[str] = []
        numbers: dict[str, int] = {}
        whole = bench.standing(Situation(power=True))
        looks = {c: Look(c).take(bench).text for c in bench.layout.connectors}
        usual = max(set(looks.values()), key=list(looks.values()).count)

        def standing(situation: Situation) -> dict[str, Any]:
            here = bench.standing(situation)
            return _live(here) if situation.power else _dead(here, texts, numbers)

        return {
            "texts": texts,
            "situations": _WhenAsked({name_of(s): partial(standing, s) for s in situations(bench)}),
            "watched": _WhenAsked({w.key: partial(_kept, w, whole) for w in bench.setup.watches()}),
            "looks": {c: text for c, text in looks.items() if text != usual},
            "usual_look": usual,
        }


class _WhenAsked(Mapping[str, Any]):
    """Parts by their names, each worked out once, when it is first asked for."""

    def __init__(self, ways: Mapping[str, Callable[[], Any]]) -> None:
        self._ways = ways
        self._found: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._found:
            self._found[name] = self._ways[name]()
        return self._found[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._ways)

    def __len__(self) -> int:
        return len(self._ways)


def _kept(what: Measurement, bench: Bench) -> dict[str, Any]:
    reading = what.take(bench)
    return {"text": reading.text, "detail": reading.detail}


def dead_texts(bench: Bench) -> list[str]:
    """What the ohmmeter shows between every two places of a bench without power."""
    ohms, shown = _dead_shown(bench)
    return [shown[ohm] for ohm in ohms]


def _dead_shown(bench: Bench) -> tuple[list[float], dict[float, str]]:
    """The ohms between every two places, and what each of them is shown as."""
    nodes = list(places(bench.wiring).values())
    ohms = paired_resistances(bench.wiring.probed, nodes)
    shown, sure = all_ohms_shown(ohms)
    if not sure:
        ohms = paired_resistances(bench.wiring.dead, nodes)
        shown, _ = all_ohms_shown(ohms)
    return ohms, shown


def _dead(bench: Bench, texts: list[str], numbers: dict[str, int]) -> dict[str, Any]:
    ohms, shown = _dead_shown(bench)
    codes: dict[float, int] = {}
    for ohm, text in shown.items():
        if text not in numbers:
            numbers[text] = len(texts)
            texts.append(text)
        codes[ohm] = numbers[text]
    return {"ohms": _packed(array("H", [codes[ohm] for ohm in ohms]))}


def _live(bench: Bench) -> dict[str, Any]:
    nodes = places(bench.wiring).values()
    potentials = bench.potentials
    parts = array("h", [potentials.part.get(node, -1) for node in nodes])
    volts = array("l" if array("l").itemsize == 4 else "i")
    volts.extend(potentials.microvolts(node) for node in nodes)
    return {
        "parts": _packed(parts),
        "volts": _packed(volts),
        "supplies": {s: bench.supply_current(s).text for s in bench.layout.supplies},
    }


def places(wiring: Wiring) -> dict[tuple[str, int], str]:
    """The node of every place: (joint or part or unplugged connector's plug, terminal) → node."""
    found: dict[tuple[str, int], str] = {}
    numbers, sockets = wiring.layout.conductors.in_order, wiring.sockets
    for connector in wiring.layout.connectors.values():
        unplugged = connector.id in wiring.situation.unplugged
        for number, socket in zip(numbers, sockets[connector.id], strict=True):
            if unplugged:
                plug = Terminal(connector.id, number)
                found[f"{connector.id}:plug", number] = wiring.node(plug)
            place = (connector.socket, number)
            if found.setdefault(place, socket) != socket:
                found[connector.id, number] = socket
    found[EARTH, 0] = EARTH
    return found


def _packed(codes: array[int]) -> str:
    data = array(codes.typecode, codes)
    return base64.b85encode(zlib.compress(data.tobytes(), 9)).decode()


def _unpacked(text: str, typecode: str) -> array[int]:
    codes = array(typecode)
    codes.frombytes(zlib.decompress(base64.b85decode(text)))
    return codes


@dataclass(frozen=True)
class Recording:
    """A recording read back, with the set-up that it belongs to."""

    setup: Setup
    data: Mapping[str, Any]

    @property
    def layout(self) -> Layout:
        """Connectors and pieces."""
        return self.setup.layout

    def take(self, measurement: Measurement, situation: Situation) -> Reading:
        """What was read. Raises `PlanError` for what the recording does not hold."""
        held = self.data["situations"].get(name_of(replace(situation, clock_s=0.0)))
        if isinstance(measurement, Look):
            self.layout.connector(measurement.connector)
            looks = self.data["looks"]
            return Reading(looks.get(measurement.connector, self.data["usual_look"]))
        if held is None:
            raise PlanError("No readings were taken in this situation; plug everything in first.")
        if isinstance(measurement, Ohms):
            return self._ohms(measurement, situation, held)
        if isinstance(measurement, Volts):
            return self._volts(measurement, situation, held)
        if isinstance(measurement, SupplyCurrent):
            self.layout.supply(measurement.supply)
            text = held["supplies"][measurement.supply] if situation.power else "0.0 mA"
            return Reading(text)
        return self._watched(measurement, situation)

    def _watched(self, measurement: Measurement, situation: Situation) -> Reading:
        kept = self.data["watched"].get(measurement.key)
        known = measurement in self.setup.watches()
        if kept is None or not known:
            raise NotDoneError(
                f"There is no {measurement.words_on(self.layout)} in an assessed class."
            )
        if not situation.power or situation.unplugged:
            raise NotDoneError("In an assessed class watch with power on and all plugged in.")
        return Reading(kept["text"], detail=kept["detail"])

    def _ohms(self, probe: Ohms, situation: Situation, held: Mapping[str, Any]) -> Reading:
        if situation.power:
            return Reading(LIVE_REFUSAL, refused=True)
        order = self._order(situation)
        a, b = sorted((self._place(probe.a, situation), self._place(probe.b, situation)))
        if a == b:
            return Reading.of(ohms_shown(0.0))
        codes = _unpacked(held["ohms"], "H")
        return Reading(self.data["texts"][codes[_pair(a, b, len(order))]])

    def _volts(self, probe: Volts, situation: Situation, held: Mapping[str, Any]) -> Reading:
        if not situation.power:
            return Reading.of(volts_shown(0.0))
        a, b = self._place(probe.a, situation), self._place(probe.b, situation)
        parts = _unpacked(held["parts"], "h")
        volts = _unpacked(held["volts"], "i")
        joined = parts[a] == parts[b] != -1
        return Reading.of(volts_shown((volts[a] - volts[b]) / MICROVOLTS if joined else 0.0))

    def _order(self, situation: Situation) -> list[tuple[str, int]]:
        return list(places(Wiring(self.layout, frozenset(), situation)))

    def _place(self, terminal: Terminal, situation: Situation) -> int:
        terminal.require_on(self.layout)
        order = {place: number for number, place in enumerate(self._order(situation))}
        if terminal.connector == EARTH:
            return order[EARTH, 0]
        connector = self.layout.connectors[terminal.connector]
        if not terminal.socket and connector.id in situation.unplugged:
            return order[f"{connector.id}:plug", terminal.number]
        own = order.get((connector.id, terminal.number))
        return order[connector.socket, terminal.number] if own is None else own

    @cached_property
    def allowed(self) -> tuple[type[Action], ...]:
        """The actions whose effect is recorded."""
        return (PowerOn, PowerOff, Unplug, Plug, LiftEarth, FitEarth)

    def do(self, action: Action, situation: Situation) -> Situation:
        """The situation after an action. Raises `NotDoneError` where it was not recorded."""
        if not isinstance(action, self.allowed):
            raise NotDoneError(NOT_HERE)
        if isinstance(action, LiftEarth) and (situation.power or situation.unplugged):
            raise NotDoneError("Lift the earth with power off and everything plugged in.")
        if situation.earth_lifted and not isinstance(action, FitEarth):
            raise NotDoneError("Fit the earth at the supply again first.")
        if isinstance(action, PowerOn | PowerOff):
            return replace(situation, power=isinstance(action, PowerOn))
        if isinstance(action, LiftEarth | FitEarth):
            return replace(situation, earth_lifted=isinstance(action, LiftEarth))
        refuse_live_plug(self.setup, situation)
        if isinstance(action, Unplug):
            self.layout.connector(action.connector)
            if situation.unplugged - {action.connector}:
                raise NotDoneError(ONE_AT_A_TIME)
            return replace(situation, unplugged=frozenset({action.connector}))
        return replace(situation, unplugged=frozenset())


def _pair(a: int, b: int, size: int) -> int:
    """Where the pair a < b stands among all pairs of `size` places in order."""
    return a * size - a * (a + 1) // 2 + b - a - 1
