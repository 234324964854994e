"""What is given, as tables of words: the same on the page and on paper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypedDict

from labkit.kinds.choose_modules.data import (
    CatalogueModule,
    ChooseModulesAsk,
    FixedModule,
    Supply,
)
from labkit.kinds.choose_modules.plan import kind_text, points_of


class Table(TypedDict):
    """A title, its columns' heads, and rows of words."""

    title: str
    heads: list[str]
    rows: list[list[str]]


class Given(TypedDict):
    """All that is given."""

    signals: Table
    catalogue: Table
    supplies: Table
    fixed: Table
    rules: list[str]


def tables(ask: ChooseModulesAsk) -> Given:
    """All that is given, in words."""
    return {
        "signals": _signals(ask),
        "catalogue": _catalogue(ask),
        "supplies": _rails("Supplies of the chassis", "Supply", "Gives", ask["supplies"]),
        "fixed": _rails("What stands there already", "From slot 0 on", "Takes", ask["fixed"]),
        "rules": _rules(ask),
    }


def _signals(ask: ChooseModulesAsk) -> Table:
    loaded = any(each["load"] for each in ask["signals"])
    heads = ["Signals", "Number", "Kind", "Fed by", *(["Load of each, mA"] if loaded else [])]
    rows = [
        [
            each["text"],
            str(each["count"]),
            kind_text(ask, each["point"]),
            each["fed_by"],
            *([str(each["load"] or "–")] if loaded else []),
        ]
        for each in ask["signals"]
    ]
    return {"title": "List of signals", "heads": heads, "rows": rows}


def _catalogue(ask: ChooseModulesAsk) -> Table:
    limited = any(each["each"] or each["together"] for each in ask["modules"])
    heads = ["Module", "Points", "Commons", "Slots"]
    heads += ["A point carries, mA", "All together, mA"] if limited else []
    heads += ["Takes at 5 V, mA", "Takes at 24 V, mA"]
    rows = [
        [
            each["type"],
            points_of(each, ask),
            _commons(each),
            str(each["slots"]),
            *([str(each["each"] or "–"), str(each["together"] or "–")] if limited else []),
            str(each["at_5"]),
            str(each["at_24"]),
        ]
        for each in ask["modules"]
    ]
    return {"title": "Catalogue (invented)", "heads": heads, "rows": rows}


def _commons(module: CatalogueModule) -> str:
    a_common = module["count"] // module["commons"]
    if a_common == 1:
        return "each point its own"
    return f"{module['commons']} of {a_common}"


def _rails(
    title: str, head: str, does: str, items: Sequence[Supply] | Sequence[FixedModule]
) -> Table:
    rows = [[each["text"], str(each["at_5"]), str(each["at_24"])] for each in items]
    return {
        "title": title,
        "heads": [head, f"{does} at 5 V, mA", f"{does} at 24 V, mA"],
        "rows": rows,
    }


def _rules(ask: ChooseModulesAsk) -> list[str]:
    """What is asked, a sentence each."""
    texts = {each["id"]: each["text"] for each in ask["points"]}
    rules = []
    if ask["reserve"]:
        rules.append(
            f"Each line of the list gets {ask['reserve']} % more points in reserve, rounded up. "
            "A point in reserve counts as loaded like the others of its line."
        )
    rules.append("What different supplies feed never shares a common.")
    rules += [f"No module of {texts[a]} stands beside one of {texts[b]}." for a, b in ask["apart"]]
    if ask["smallest"]:
        rules.append(
            "Take the smallest chassis in which it can be done, and the smallest supply that feeds "
            "your modules; they are listed from the smallest on."
        )
    return rules
