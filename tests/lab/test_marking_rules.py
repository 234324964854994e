"""A change that would mark an answer otherwise is noticed, and says that `RULES` must be raised.

The labs are those of version 0.1 as they were then, so a lab may change without a word here; what
their answers are worth follows from the library alone. `marking-rules.json` holds, by lab and draw,
a digest of what decides (`keys_of`) and of the worth of many answers. Where it differs on purpose:
raise `RULES`, then write it anew by running this file.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from labkit.doors import installed
from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.lab.draw import Scenario, draw
from labkit.lab.marking_rules import RULES, key_digest, keys_of, rules_of
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[1] / "version_0_1" / "labs"
KNOWN = Path(__file__).parent / "data" / "marking-rules.json"
DRAWS = 4
ODD: tuple[Any, ...] = (
    None,
    "",
    "1",
    "60 Ω",
    "85 m",
    7,
    [],
    {},
    ["a"],
    {"a": 1},
    "0.001 V",
    "none",
)


def worth_of_answers(scenario: Scenario) -> str:
    """What many answers to every exercise are worth: right ones, known mistakes, odd ones."""
    digest = sha256()
    for exercise in scenario.lab.exercises:
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        answers = [check.right_answer(prepared.ask, prepared.key)]
        answers += check.slip_answers(prepared.ask, prepared.key).values()
        for answer in (*answers, *ODD):
            verdict = check.check(prepared.ask, prepared.key, answer)
            worth = (f"{verdict.credit:.9g}", verdict.slip, verdict.readable, verdict.awaits)
            digest.update(json.dumps([exercise.id, *worth]).encode())
    return digest.hexdigest()[:16]


def found(lab: str) -> list[list[str]]:
    """By draw what decides, and the worth of answers."""
    definition = read_lab(LABS / lab / "lab.md")
    drawn = [draw(definition, f"rules {number}") for number in range(DRAWS)]
    return [[keys_of(scenario), worth_of_answers(scenario)] for scenario in drawn]


def names() -> Iterator[str]:
    return (file.parent.name for file in sorted(LABS.glob("*/lab.md")))


@pytest.mark.parametrize("lab", list(names()))
def test_answers_are_worth_what_they_were(lab: str) -> None:
    known = json.loads(KNOWN.read_text(encoding="utf-8"))
    assert known["rules"] == RULES, "write marking-rules.json anew, see above"
    assert found(lab) == known["labs"][lab], "the same answers are judged otherwise: raise RULES"


def test_digests_see_a_changed_key_and_no_last_bits() -> None:
    def prepared(value: float, slips: Any = ()) -> Prepared:
        return Prepared({"unit": "m"}, {"value": value}, late={"slips": lambda: slips})

    assert key_digest([prepared(0.1 + 0.2)]) == key_digest([prepared(0.3)])
    assert key_digest([prepared(0.3)]) != key_digest([prepared(0.3001)])
    assert key_digest([prepared(0.3)]) == key_digest([prepared(0.3, slips=[1])])
    assert key_digest([prepared(1), prepared(2)]) != key_digest([prepared(2), prepared(1)])


def test_digests_do_not_see_how_something_is_drawn() -> None:
    """A later labkit may draw it otherwise, and marks it the same."""

    def prepared(svg: str, ask: Any) -> Prepared:
        return Prepared(ask, {"value": 1}, drawn=lambda: {"svg": svg})

    assert key_digest([prepared("a", {})]) == key_digest([prepared("b", {})])
    assert key_digest([prepared("a", {})]) != key_digest([prepared("a", {"family": "other"})])
    assert prepared("a", {"family": "other"}).ask == {"family": "other", "svg": "a"}


def test_the_rules_name_packages_that_kinds_come_from(monkeypatch: pytest.MonkeyPatch) -> None:
    lab = read_lab(LABS / "plan-the-trunk" / "lab.md")
    assert rules_of(lab) == str(RULES)

    def package_of(kind: str) -> str:
        return "torque-kinds 2.3" if kind == "quantity" else ""

    monkeypatch.setattr(installed, "package_of_kind", package_of)
    assert rules_of(lab) == f"{RULES} torque-kinds 2.3"


def test_our_own_kinds_and_families_come_from_no_other_package() -> None:
    assert installed.package_of_kind("quantity") == ""
    assert installed.package_of_family_module("labkit.families.devicenet.network_reading") == ""
    assert installed.package_of_family_module("elsewhere.family") == ""


if __name__ == "__main__":
    text = json.dumps({"rules": RULES, "labs": {lab: found(lab) for lab in names()}}, indent=1)
    KNOWN.write_text(text + "\n", encoding="utf-8")
