"""What stands before a program's inputs: buttons, wires that may break, devices that may be lost.

An act is one of these touched; done again the other way round, it is undone. A broken wire carries
nothing, so its input is off. A device that dropped out has its inputs cleared or kept, and its
active bit is off (kept or cleared: common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from labkit.fieldbus.ladder import Image
from labkit.kinds.ladder.data import Control, LadderAsk

Deed = Literal["press", "break", "unplug"]
MOST_SCANS: Final = 100
"""Scans with the inputs held, after which a program that still changes never comes to rest."""


@dataclass(frozen=True, slots=True)
class Act:
    """A button pressed, a wire broken, or a device unplugged."""

    deed: Deed
    of: str


@dataclass(frozen=True, slots=True)
class Panel:
    """Controls, in the order of the inputs."""

    controls: tuple[Control, ...]

    def acts(self) -> tuple[Act, ...]:
        """All that can be done here."""
        pressed = [Act("press", each["id"]) for each in self.controls if each["what"] != "active"]
        broken = [Act("break", each["id"]) for each in self.controls if each["breaks"]]
        devices = dict.fromkeys(each["device"] for each in self.controls if each["device"])
        return (*pressed, *broken, *(Act("unplug", device) for device in devices))

    def inputs(self, done: Collection[Act], before: Mapping[str, bool]) -> Image:
        """What the inputs are with these acts done; `before` is what they were."""
        lost = {act.of for act in done if act.deed == "unplug"}
        return self.read(self.terminals(done), lost, before)

    def terminals(self, done: Collection[Act]) -> Image:
        """What stands at the terminals of the inputs with these acts done."""
        return {each["id"]: _terminal(each, done) for each in self.controls}

    def read(
        self, terminals: Mapping[str, bool], lost: Collection[str], before: Mapping[str, bool]
    ) -> Image:
        """What a program reads with some devices lost; `before` is what it read last."""
        return {each["id"]: _input(each, terminals, lost, before) for each in self.controls}


def panel_of(ask: LadderAsk) -> Panel:
    """The panel of an exercise; plain switches where it states none."""
    plain = (switch(each["id"]) for each in ask["inputs"])
    return Panel(tuple(ask.get("panel", plain)))


def switch(name: str) -> Control:
    """An input of which nothing is said: a switch that stays where it is put."""
    return {
        "id": name,
        "what": "switch",
        "closed": False,
        "breaks": False,
        "device": "",
        "keeps": False,
    }


def _terminal(control: Control, done: Collection[Act]) -> bool:
    if Act("break", control["id"]) in done:
        return False
    return (Act("press", control["id"]) in done) != control["closed"]


def _input(
    control: Control,
    terminals: Mapping[str, bool],
    lost: Collection[str],
    before: Mapping[str, bool],
) -> bool:
    if control["what"] == "active":
        return control["device"] not in lost
    if control["device"] in lost:
        return control["keeps"] and before.get(control["id"], False)
    return terminals[control["id"]]


def words_of(ask: LadderAsk, act: Act, *, undone: bool) -> str:
    """The act as somebody is told to do it."""
    if act.deed == "unplug":
        return f"plug the {act.of} in again" if undone else f"unplug the {act.of}"
    control = next(each for each in panel_of(ask).controls if each["id"] == act.of)
    name = name_of(ask, act.of)
    if act.deed == "break":
        return f"{'mend' if undone else 'break'} the wire of {name}"
    if control["what"] == "button":
        return f"{'let go of' if undone else 'press'} {name}"
    return f"switch {name} {'off' if undone else 'on'}"


def name_of(ask: LadderAsk, operand: str) -> str:
    """An operand with what it is, up to the first comma: %IX4.2 (stop button)."""
    for part in (ask["inputs"], ask["outputs"], ask["memory"]):
        for each in part:
            if each["id"] == operand and each["text"]:
                return f"{operand} ({each['text'].split(',')[0]})"
    return operand
