"""A program tried out at its panel and, where there is one, against the line, act by act."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Final, get_args

from labkit.fieldbus.ladder import Image, power_flow, scan
from labkit.kinds.common.line import Line
from labkit.kinds.ladder.data import LadderAsk
from labkit.kinds.ladder.panel import MOST_SCANS, Act, Deed, Panel, panel_of
from labkit.kinds.ladder.program import all_ids, program_of, unfinished

MOST_TRIED: Final = 200
"""Acts that one message of a page may bring."""
Done = frozenset[Act]


def try_acts(ask: LadderAsk, message: Mapping[str, Any]) -> dict[str, Any]:
    """What a program does with some acts, one after the other, for the page to draw.

    {"problem", "image", "power", "restless", "moved"}. `memory` is the image before; `acts` lists
    what is done at each moment, as [deed, of] pairs. With `scans` "one" each moment is a single
    scan, otherwise scans go on until nothing changes any more. `line` says how the line is.
    """
    problem = unfinished(ask, message.get("program"))
    if problem:
        return {"problem": problem, "image": {}, "power": [], "restless": False, "moved": {}}
    program, field = program_of(message["program"]), _field_of(ask, message.get("line"))
    kept = message.get("memory")
    image = _image(all_ids(ask), kept if isinstance(kept, dict) else {})
    most = 1 if message.get("scans") == "one" else MOST_SCANS
    before, restless, done = image, False, Done()
    for done in _moments(message.get("acts")):
        inputs = field.inputs(done, image)
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
        "moved": field.moved(done, image),
    }


class _Beside:
    """A panel whose wires end at the controller itself: nothing moves."""

    def __init__(self, panel: Panel) -> None:
        self._panel = panel

    def inputs(self, done: Done, before: Image) -> Image:
        """What the program reads."""
        return self._panel.inputs(done, before)

    def moved(self, done: Done, image: Image) -> dict[str, bool]:  # noqa: ARG002
        """No line, nothing on it."""
        return {}


class _OnTheLine:
    """A panel whose wires end at devices of a line."""

    def __init__(self, ask: LadderAsk, condition: Any) -> None:
        self._panel = panel_of(ask)
        self._data = ask["line"]
        self._condition = condition

    def inputs(self, done: Done, before: Image) -> Image:
        """What the program reads: what the bus brings, of what stands at the terminals."""
        terminals = self._panel.terminals(done)
        bits, lost = self._line(done).read(terminals)
        return self._panel.read({**terminals, **bits}, lost | _unplugged(done), before)

    def moved(self, done: Done, image: Image) -> dict[str, bool]:
        """What moves on the line, by what hangs there."""
        moved = self._line(done).moved(image)
        return {what: moved[name] for name, what in self._data["things"].items()}

    def _line(self, done: Done) -> Line:
        return Line(self._data, self._condition, _unplugged(done))


def _unplugged(done: Done) -> frozenset[str]:
    return frozenset(act.of for act in done if act.deed == "unplug")


def _field_of(ask: LadderAsk, condition: Any) -> _Beside | _OnTheLine:
    return _OnTheLine(ask, condition) if "line" in ask else _Beside(panel_of(ask))


def _image(ids: Collection[str], image: Mapping[str, Any]) -> Image:
    return {name: image.get(name) is True for name in ids}


def _moments(acts: Any) -> list[Done]:
    """What is done at each moment; anything else in a message is left out."""
    moments = acts if isinstance(acts, list) else []
    return [
        Done(Act(each[0], each[1]) for each in moment if _is_act(each))
        for moment in moments[-MOST_TRIED:]
        if isinstance(moment, list)
    ]


def _is_act(value: Any) -> bool:
    match value:
        case [str(deed), str()]:
            return deed in get_args(Deed)
    return False
