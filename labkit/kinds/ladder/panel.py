"""What stands before a program's inputs: buttons, wires that may break, devices that may be lost.

An act is one of these touched; done again the other way round, it is undone. A broken wire carries
nothing, so its input is off. A device that dropped out has its inputs cleared or kept, and its
active bit is off (kept or cleared: common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

from labkit.fieldbus.ladder import Image, power_flow, scan
from labkit.kinds.ladder.data import Control, LadderAsk
from labkit.kinds.ladder.program import all_ids, program_of, unfinished

Deed = Literal["press", "break", "unplug"]
MOST_TRIED: Final = 200
"""Acts that one message of a page may bring."""
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
        return {each["id"]: _input(each, done, before) for each in self.controls}


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


def _input(control: Control, done: Collection[Act], before: Mapping[str, bool]) -> bool:
    lost = Act("unplug", control["device"]) in done
    if control["what"] == "active":
        return not lost
    if lost:
        return control["keeps"] and before.get(control["id"], False)
    if Act("break", control["id"]) in done:
        return False
    return (Act("press", control["id"]) in done) != control["closed"]


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


def try_acts(ask: LadderAsk, message: Mapping[str, Any]) -> dict[str, Any]:
    """What a program does with some acts, one after the other, for the page to draw.

    {"problem", "image", "power", "restless"}. `memory` is the image before; `acts` lists what is
    done at each moment, as [deed, of] pairs. With `scans` "one" each moment is a single scan,
    otherwise scans go on until nothing changes any more.
    """
    problem = unfinished(ask, message.get("program"))
    if problem:
        return {"problem": problem, "image": {}, "power": [], "restless": False}
    program, panel = program_of(message["program"]), panel_of(ask)
    kept = message.get("memory")
    image = _image(all_ids(ask), kept if isinstance(kept, dict) else {})
    most = 1 if message.get("scans") == "one" else MOST_SCANS
    before, restless = image, False
    for done in _moments(message.get("acts")):
        inputs = panel.inputs(done, image)
        for _ in range(most):
            before = {**image, **inputs}
            image = {**scan(program, before), **inputs}
            restless = image != before
            if not restless:
                break
    power = [{"groups": flow.after, "coil": flow.coil} for flow in power_flow(program, before)]
    return {
        "problem": "",
        "image": _image(all_ids(ask), image),
        "power": power,
        "restless": restless and most > 1,
    }


def _image(ids: Collection[str], image: Mapping[str, Any]) -> Image:
    return {name: image.get(name) is True for name in ids}


def _moments(acts: Any) -> list[set[Act]]:
    """What is done at each moment; anything else in a message is left out."""
    moments = acts if isinstance(acts, list) else []
    return [
        {Act(each[0], each[1]) for each in moment if _is_act(each)}
        for moment in moments[-MOST_TRIED:]
        if isinstance(moment, list)
    ]


def _is_act(value: Any) -> bool:
    match value:
        case [str(deed), str()]:
            return deed in get_args(Deed)
    return False
