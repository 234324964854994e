"""The list of signals, the catalogue and the form of a plan, on paper."""

from __future__ import annotations

from labkit.kinds.choose_modules.data import INVENTED, Answer, ChooseModulesAsk
from labkit.kinds.choose_modules.plan import RAILS
from labkit.kinds.choose_modules.tables import Table, tables
from labkit.kinds.common import paper


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
    return paper.note(shown["title"]) + paper.table(
        shown["heads"], [[paper.text(cell) for cell in row] for row in shown["rows"]]
    )
