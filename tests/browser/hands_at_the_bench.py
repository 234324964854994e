"""At the virtual bench: parts opened, probes put, repairs made, a verdict given; and wiring.

Nothing is found by the class of a style: only by what a trainee reads or what a screen reader says,
and by the names that the page gives terminals, connectors and conductors.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from dealt import Solution
from driving import WAIT_MS
from playwright.sync_api import expect
from typing_in import choose, write

from labkit.bench.at_devices import DeviceWork
from labkit.bench.front import BenchFront
from labkit.bench.situation import Situation
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis.naming import WITH_WIRES


def diagnose(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:
    """A look at the bench, the repairs that are not made yet, and the verdict."""
    bench = VirtualBench(frame, solution)
    if not bench.steps_taken():
        bench.measure()
    if solution.ask["repairs"]:
        for step in answer["steps"]:
            bench.repair(step)
    names = solution.ask.get("names", 1)
    named = [answer["verdict"], *answer.get("more", [])]
    for number in range(1, names + 1):
        name = re.compile(f"^Fault {number}(,|$)") if names > 1 else "Your verdict"
        form = frame.get_by_role("group", name=name)
        if number > len(named):
            choose(form.get_by_role("combobox", name="The fault", exact=True), "")
            choose(form.get_by_role("combobox", name="Its place", exact=True), "")
            continue
        name_a_fault(form, named[number - 1], bench.setup.catalogue.choices)


def name_a_fault(form: Any, said: dict[str, Any], choices: Mapping[str, str]) -> None:
    """Choose a fault, its place, and its conductors where it has some."""
    fault, place = (
        form.get_by_role("combobox", name=name, exact=True) for name in ("The fault", "Its place")
    )
    fault.select_option(label=choices[said["fault"]])
    place.select_option(label=said["place"])
    if said["fault"] in WITH_WIRES:
        concerned = form.get_by_role("group", name="Conductors concerned")
        for box in concerned.get_by_role("checkbox").all():
            box.set_checked(box.input_value() in said["wires"])


class VirtualBench:
    """One bench on the page, worked on by clicks."""

    def __init__(self, frame: Any, solution: Solution) -> None:
        self.frame, self.solution = frame, solution
        self.setup = setup_of(solution.ask["setup"])
        self.done = frame.locator("details").filter(has_text="What you did so far").locator("li")

    def steps_taken(self) -> int:
        """How many steps the bench's own list tells of."""
        return int(self.done.count())

    def open(self, part: str) -> None:
        """Choose a part in the picture of the line."""
        name = re.compile(f"^{re.escape(part)}(,|$)")
        line = self.frame.get_by_role("group", name="The network as a line")
        line.get_by_role("button", name=name).click()

    def card(self, connector: str) -> Any:
        """What is shown of one connector; its part is opened for it."""
        self.open(self.setup.layout.connector(connector).socket)
        plug = self.frame.page.locator(f'[data-plug="{connector}"]')
        return self.frame.locator("div").filter(has=plug).last

    def step(self, press: Callable[[], None]) -> None:
        """Do something, and wait until the bench tells of it."""
        before = self.steps_taken()
        press()
        expect(self.done).to_have_count(before + 1, timeout=WAIT_MS)

    def power(self, on: bool) -> None:
        """Switch the supplies."""
        switch = self.frame.get_by_role("switch", name="Power is")
        if switch.get_attribute("aria-checked") != ("true" if on else "false"):
            self.step(switch.click)

    def measure(self) -> None:
        """Ohms between the signal wires with the power off, a look inside, and the indicators."""
        powered = self.frame.get_by_role("switch", name="Power is").get_attribute("aria-checked")
        connector = next(iter(self.setup.layout.device_connectors.values())).id
        self.power(False)
        card = self.card(connector)
        self.frame.get_by_role("button", name="Resistance").click()
        high, low = (f"{connector}/{wire.terminal}" for wire in self.setup.layout.conductors.pair)
        card.locator(f'[data-terminal="{high}"]').click()
        self.step(card.locator(f'[data-terminal="{low}"]').click)
        reading = {"kind": "ohms", "a": high, "b": low}
        expect(self.frame.locator("output")).to_have_text(self.worked_out(reading))
        self.step(card.get_by_role("button", name="Look inside").click)
        self.power(powered == "true")
        self.step(self.frame.get_by_role("button", name="Watch the indicators").click)

    def worked_out(self, reading: dict[str, Any]) -> str:
        """What an instrument of this bench must show with the power off."""
        faults = [
            self.setup.catalogue.fault_from_json(data) for data in self.solution.key["faults"]
        ]
        front = BenchFront(self.setup, faults=faults, start=Situation(power=False))
        return str(front.take(reading)["text"])

    def repair(self, step: dict[str, Any]) -> None:
        """One step of a repair; one that was made before is not made again."""
        kind = step["kind"]
        if kind in ("power off", "power on"):
            self.power(kind == "power on")
            return
        words = self.setup.catalogue.step_from_json(step).words_on(self.setup.layout)
        if self.done.filter(has_text=f"{words}: done").count():
            return
        work = next((each for each in self.setup.device_work if each.kind == kind), None)
        if work is None:
            REPAIRS[kind](self, step)
        else:
            _at_device(self, work, step)

    def press(self, label: str) -> None:
        """Press one of the buttons at the part that is open."""
        self.step(self.frame.get_by_role("button", name=label, exact=True).click)

    def at_connector(self, connector: str, label: str) -> None:
        """Press one of the repairs at a connector."""
        found = self.setup.layout.connector(connector)
        self.open(found.socket)
        repairs = self.frame.get_by_role("group", name="Repair", exact=True)
        repairs.get_by_text(found.words, exact=True).click()
        press = repairs.get_by_role("button", name=label, exact=True).locator("visible=true")
        self.step(press.click)


def _at_device(bench: VirtualBench, work: DeviceWork, step: dict[str, Any]) -> None:
    """What is asked for filled in, and the button pressed."""
    bench.open(step["device"] if work.names_device else bench.setup.scanner)
    for ask in work.asks:
        if ask.options:
            field = bench.frame.get_by_role("combobox", name=ask.label, exact=True)
            choose(field, str(step[ask.field]))
        else:
            write(bench.frame.get_by_label(ask.label, exact=True), str(step[ask.field]))
    bench.press(work.words)


def _cable(bench: VirtualBench, step: dict[str, Any]) -> None:
    piece = bench.setup.layout.pieces[step["piece"]]
    bench.open(bench.setup.layout.connector(piece.a).socket)
    bench.frame.get_by_text("Cables here", exact=True).click()
    bench.press(f"Lay {piece.id} anew")


def _plus(bench: VirtualBench, step: dict[str, Any]) -> None:
    piece = bench.setup.layout.pieces[step["piece"]]
    bench.open(bench.setup.layout.connector(piece.a).socket)
    bench.frame.get_by_text("Cables here", exact=True).click()
    bench.press(f"Break V+ in {piece.id}")


def _terminator_away(bench: VirtualBench, step: dict[str, Any]) -> None:
    if step["place"] in bench.setup.layout.connectors:
        bench.at_connector(step["place"], "Take the terminator away")
    else:
        _at("place", "Take the terminator away")(bench, step)


def _at(where: str, label: str) -> Callable[[VirtualBench, dict[str, Any]], None]:
    def press(bench: VirtualBench, step: dict[str, Any]) -> None:
        bench.open(step[where])
        bench.press(label)

    return press


def _bias(label: str) -> Callable[[VirtualBench, dict[str, Any]], None]:
    def press(bench: VirtualBench, step: dict[str, Any]) -> None:
        bench.at_connector(step["place"], label)

    return press


def _in(label: str) -> Callable[[VirtualBench, dict[str, Any]], None]:
    def press(bench: VirtualBench, step: dict[str, Any]) -> None:
        bench.at_connector(step["connector"], label)

    return press


def _earth(bench: VirtualBench, step: dict[str, Any]) -> None:  # noqa: ARG001
    layout = bench.setup.layout
    bench.open(layout.earthed_part)
    bench.press(f"Earth shield and {layout.conductors.common.words}")


REPAIRS: dict[str, Callable[[VirtualBench, dict[str, Any]], None]] = {
    "land": _in("Make the connector anew"),
    "part from earth": _in("Free the shield from earth"),
    "fit terminator": _at("place", "Fit a terminator"),
    "remove terminator": _terminator_away,
    "fit bias": _bias("Fit a bias"),
    "remove bias": _bias("Take the bias away"),
    "replace supply": _at("supply", "Replace the supply"),
    "turn supply": _at("supply", "Exchange V+ and V−"),
    "replace cable": _cable,
    "replace fuse": _in("Replace the fuse"),
    "break plus": _plus,
    "fit earth": _earth,
}


def wire_up(frame: Any, solution: Solution, answer: dict[str, Any]) -> None:
    """Conductors chosen and landed, terminators and earths switched along the trunk."""
    shares = solution.ask["shares"]
    if shares["conductors"]:
        _land(frame, answer["conductors"])
    for part in ("terminators", "shield"):
        if not shares[part]:
            continue
        for toggle in frame.locator(f'[data-part="{part}"]').all():
            on = toggle.get_attribute("aria-pressed") == "true"
            if on != (toggle.get_attribute("data-place") in answer[part]):
                toggle.click()


def _land(frame: Any, conductors: dict[str, int]) -> None:
    cable = frame.get_by_role("group", name="Conductors of the cable")
    terminals = frame.get_by_role("group", name="Terminals", exact=True)
    for colour, number in conductors.items():
        # Beside a bare one stands in brackets which strand of the cable it is.
        name = re.compile(rf"^Conductor {re.escape(colour)}( \(.*\))?,")
        strand = cable.get_by_role("button", name=name)
        if number and f"on terminal {number}" not in strand.get_attribute("aria-label"):
            strand.click()
            terminals.get_by_role("button", name=re.compile(f"^Terminal {number}:")).click()
