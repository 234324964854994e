"""What a trainee chose, read; and a plan of our own, written as the page keeps one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from labkit.fieldbus.chassis_modules import ModuleType, Rails, SignalLine
from labkit.fieldbus.chassis_search import Apart, stood
from labkit.kinds.choose_modules.data import Answer, CatalogueModule, ChooseModulesAsk
from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, read_quantity

Rail = Literal["at_5", "at_24"]
RAILS: Final[dict[Rail, str]] = {"at_5": "5 V", "at_24": "24 V"}
_MA: Final = UNITS["mA"]


@dataclass(frozen=True, slots=True)
class Plan:
    """What is chosen: 0 and "" for no chassis and no supply; by slot a number of the catalogue."""

    chassis: int
    supply: str
    placed: Mapping[int, int]
    loads: Mapping[Rail, str]

    def modules(self, ask: ChooseModulesAsk) -> list[ModuleType]:
        """The modules in the order of their slots."""
        types = catalogue(ask)
        return [types[number] for number in self.placed.values()]


def catalogue(ask: ChooseModulesAsk) -> list[ModuleType]:
    """The catalogue, for the rules. Raises `PlanError`."""
    return [
        ModuleType(
            each["point"],
            each["count"],
            each["commons"],
            each["slots"],
            each["at_5"],
            each["at_24"],
            each["each"],
            each["together"],
        )
        for each in ask["modules"]
    ]


def signal_lines(ask: ChooseModulesAsk) -> list[SignalLine]:
    """The list of signals, for the rules. Raises `PlanError`."""
    return [
        SignalLine(each["point"], each["count"], each["fed_by"], each["load"])
        for each in ask["signals"]
    ]


def kept_apart(ask: ChooseModulesAsk) -> Apart:
    """The kinds that may not stand side by side."""
    return {frozenset(pair) for pair in ask["apart"]}


def drawn_by_fixed(ask: ChooseModulesAsk) -> Rails:
    """What the modules draw that stand there already."""
    return Rails(
        sum(each["at_5"] for each in ask["fixed"]), sum(each["at_24"] for each in ask["fixed"])
    )


def given_by(ask: ChooseModulesAsk, supply: str) -> Rails | None:
    """What a supply gives."""
    found = next((each for each in ask["supplies"] if each["id"] == supply), None)
    return Rails(found["at_5"], found["at_24"]) if found else None


def of_rail(rails: Rails, rail: Rail) -> int:
    """One of the two."""
    return rails.at_5_ma if rail == "at_5" else rails.at_24_ma


def points_of(module: CatalogueModule, ask: ChooseModulesAsk) -> str:
    """What a module has, in words: "16 × 24 V DC input"."""
    return f"{module['count']} × {kind_text(ask, module['point'])}"


def kind_text(ask: ChooseModulesAsk, kind: str) -> str:
    """What a kind of points is called."""
    return next(each["text"] for each in ask["points"] if each["id"] == kind)


def read_plan(ask: ChooseModulesAsk, answer: Any) -> Plan | None:
    """The plan of an answer; None where it is none that this page could make."""
    if not isinstance(answer, dict) or not isinstance(answer.get("slots", {}), dict):
        return None
    numbers = {each["id"]: number for number, each in enumerate(ask["modules"])}
    slots = {str(slot): slot for slot in range(max(ask["chassis"]))}
    placed: dict[int, int] = {}
    for slot, module in answer.get("slots", {}).items():
        if slot not in slots or not isinstance(module, str) or module not in numbers:
            return None
        placed[slots[slot]] = numbers[module]
    texts = {name: answer.get(name, "") for name in ("chassis", "supply", *RAILS)}
    if not all(isinstance(text, str) for text in texts.values()):
        return None
    sizes = {"": 0, **{str(size): size for size in ask["chassis"]}}
    supplies = {"", *(each["id"] for each in ask["supplies"])}
    if texts["chassis"] not in sizes or texts["supply"] not in supplies:
        return None
    return Plan(
        sizes[texts["chassis"]],
        texts["supply"],
        dict(sorted(placed.items())),
        {rail: texts[rail].strip() for rail in RAILS},
    )


def read_load(typed: str) -> float:
    """A load in mA; a bare number is in mA. Raises `QuantityError`."""
    return float(read_quantity(typed, _MA, unit_beside=True).to(_MA))


def unread_load(typed: str) -> str:
    """Why a load cannot be read; "" where it can, or nothing is typed."""
    try:
        if typed:
            read_load(typed)
    except QuantityError as error:
        return str(error)
    return ""


def written(ask: ChooseModulesAsk, modules: Sequence[int], chassis: int, supply: str) -> Answer:
    """The plan of these modules, stood in the fewest slots, with what they draw."""
    types = catalogue(ask)
    slots = stood(types, modules, len(ask["fixed"]), kept_apart(ask))
    answer: Answer = {
        "chassis": str(chassis),
        "supply": supply,
        "slots": {str(slot): ask["modules"][number]["id"] for slot, number in slots.items()},
        "at_5": "",
        "at_24": "",
    }
    return with_loads(ask, answer) if ask["loads"] else answer


def with_loads(ask: ChooseModulesAsk, answer: Answer) -> Answer:
    """The same with both loads typed as they are."""
    drawn = total_of(ask, [*answer["slots"].values()])
    return {**answer, "at_5": f"{drawn.at_5_ma} mA", "at_24": f"{drawn.at_24_ma} mA"}


def total_of(ask: ChooseModulesAsk, ids: Sequence[str]) -> Rails:
    """What these modules and those that stand there already draw."""
    total = drawn_by_fixed(ask)
    for each in ask["modules"]:
        count = ids.count(each["id"])
        total += Rails(count * each["at_5"], count * each["at_24"])
    return total
