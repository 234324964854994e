"""The list of signals, the catalogue and the form of a plan, on paper."""

from __future__ import annotations

from typing import Final

from labkit.kinds.choose_modules.data import INVENTED, Answer, ChooseModulesAsk
from labkit.kinds.choose_modules.plan import RAILS
from labkit.kinds.choose_modules.tables import Table, tables
from labkit.kinds.common import paper

_SHORT: Final = 14


def task(ask: ChooseModulesAsk) -> str:
    """All that is given."""
    shown = tables(ask)
    notes = "".join(paper.note(rule) for rule in shown["rules"])
    made = (_table(shown[name]) for name in ("signals", "catalogue", "supplies", "fixed"))
    return "".join(made) + notes + paper.note(INVENTED)


def form(ask: ChooseModulesAsk, answer: Answer | None) -> str:
    """The chassis, its supply, a row a slot, the sums; filled in where there is an answer."""
    types = {each["id"]: each["type"] for each in ask["modules"]}
    fixed = len(ask["fixed"])
    rows = [
        [str(slot), _module(answer, types, slot) if slot >= fixed else ask["fixed"][slot]["text"]]
        for slot in range(int(answer["chassis"]) if answer else max(ask["chassis"]))
    ]
    return _heads(ask, answer) + paper.table(["Slot", "Module"], rows, "tick", "fill wide")


def by_field(ask: ChooseModulesAsk, answer: Answer) -> dict[str, str]:
    """Every field of a plan by its name, in words."""
    types = {each["id"]: each["type"] for each in ask["modules"]}
    supplies = {each["id"]: each["text"] for each in ask["supplies"]}
    found = {
        "Chassis": answer["chassis"] and f"{answer['chassis']} slots",
        "Supply": supplies.get(answer["supply"], ""),
    }
    if ask["loads"]:
        found |= {f"Load at {volts}": answer[rail] for rail, volts in RAILS.items()}
    for slot in range(max(ask["chassis"])):
        found[f"Slot {slot}"] = types.get(answer["slots"].get(str(slot), ""), "")
    return {name: words or "empty" for name, words in found.items()}


def _heads(ask: ChooseModulesAsk, answer: Answer | None) -> str:
    supplies = {each["id"]: each["text"] for each in ask["supplies"]}
    sizes = [f"{size} slots" for size in ask["chassis"]]
    rows = [
        ["Chassis", paper.filled(f"{answer['chassis']} slots") if answer else paper.ticks(sizes)],
        [
            "Supply",
            paper.filled(supplies[answer["supply"]]) if answer else paper.ticks(supplies.values()),
        ],
    ]
    if ask["loads"]:
        rows += [
            [f"Load at {volts}, mA", paper.filled(answer[rail]) if answer else ""]
            for rail, volts in RAILS.items()
        ]
    return paper.table(["Chosen", ""], rows, "asked", "fill")


def _module(answer: Answer | None, types: dict[str, str], slot: int) -> str:
    name = answer["slots"].get(str(slot)) if answer else None
    return paper.filled(types[name]) if name else ""


def _table(shown: Table) -> str:
    rows = [[_unbroken(name), *map(paper.text, cells)] for name, *cells in shown["rows"]]
    return paper.note(shown["title"]) + paper.table(shown["heads"], rows)


def _unbroken(name: str) -> str:
    """A type code stays on one line."""
    words = paper.text(name)
    return f'<span class="whole">{words}</span>' if len(name) <= _SHORT else words
