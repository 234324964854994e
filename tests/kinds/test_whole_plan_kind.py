"""Whole plans: read, judged by the rules, switched on from the answer and the ask alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.doors.page import NotPlayedError, Play
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

TEXT = (Path(__file__).parents[1] / "lab" / "labs" / "a-whole-plan" / "lab.md").read_text("utf-8")
CHECK: Any = check_for("whole_plan")
PARTS = {
    "addresses", "rate", "drops", "trunk", "supply", "terminators", "scan-list", "inputs",
    "outputs",
}  # fmt: skip


def made(text: str = TEXT, seed: str = "one") -> tuple[dict[str, Any], dict[str, Any]]:
    """Its ask and key in a draw."""
    lab = read_lab_text(text)
    found = draw(lab, seed).prepare(lab.exercises[0])
    return found.ask, found.key


ASK, KEY = made()
RIGHT = CHECK.right_answer(ASK, KEY)
NAMES = [each["name"] for each in ASK["site"]["devices"]]


def spoilt(name: str, **changes: Any) -> dict[str, Any]:
    row = {**RIGHT["devices"][name], **changes}
    return {**RIGHT, "devices": {**RIGHT["devices"], name: row}}


def tried(answer: Any, play: Play | None = None) -> dict[str, Any]:
    page = page_for("whole_plan")(ASK, None)
    page.play = play  # type: ignore[attr-defined]
    found: dict[str, Any] = page.try_out({"do": "try", "plan": answer})  # type: ignore[attr-defined]
    return found


@pytest.mark.parametrize("seed", ["a", "b", "c", "d", "e"])
def test_the_right_answer_is_right_in_every_draw(seed: str) -> None:
    ask, key = made(seed=seed)
    assert CHECK.check(ask, key, CHECK.right_answer(ask, key)).right
    assert key == {}


def test_each_part_that_is_broken_costs_its_share_and_is_told() -> None:
    verdict = CHECK.check(
        ASK, KEY, spoilt(NAMES[1], address=RIGHT["devices"]["scanner"]["address"])
    )
    assert verdict.credit == pytest.approx(8 / 9)
    assert verdict.slip == "addresses"
    first, *rest = verdict.message.split("\n")
    assert first == (
        f"Node address 0 is given twice: scanner and {NAMES[1]}. Give each device an address of "
        "its own."
    )
    assert rest[0].startswith("Kept: Every device is set to the scanner's data rate.")


def test_two_rules_of_one_part_cost_it_once() -> None:
    both = spoilt(NAMES[1], drop="8")
    both["devices"] = {**both["devices"], NAMES[4]: {**RIGHT["devices"][NAMES[4]], "drop": "1"}}
    verdict = CHECK.check(ASK, KEY, both)
    assert verdict.credit == pytest.approx(8 / 9)
    assert "(8 m)" in verdict.message
    assert "1 m do not reach it" in verdict.message


def test_every_part_has_a_known_mistake() -> None:
    slips = CHECK.slip_answers(ASK, KEY)
    # No data rate that the lab offers makes this trunk too long.
    assert set(slips) == PARTS - {"trunk"}
    for slip, answer in slips.items():
        assert CHECK.check(ASK, KEY, answer).slip == slip


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        (None, "The plan is still empty."),
        ({}, "The plan is still empty."),
        ({**RIGHT, "supply": "near the middle"}, "Place of the supply"),
        ({**RIGHT, "supply": "999 m"}, "is not on the trunk"),
        ({**RIGHT, "cables": ["copper", "thin"]}, "Choose the cable of piece 1 of the trunk."),
        (spoilt(NAMES[1], address="64"), "node address: 0 to 63, not 64."),
        (spoilt(NAMES[1], address="five"), "node address"),
        (spoilt(NAMES[1], rate=""), "data rate"),
        (spoilt(NAMES[1], drop="2.5"), "drop"),
        (spoilt(NAMES[1], inputs=""), "input bytes: fill it in."),
    ],
)
def test_what_cannot_be_read_is_told_and_not_built(answer: Any, told: str) -> None:
    assert told in CHECK.unreadable(ASK, answer)
    assert not CHECK.check(ASK, KEY, answer).readable
    assert told in tried(answer)["problem"]


def test_of_many_empty_fields_a_few_are_told() -> None:
    told = CHECK.unreadable(ASK, {"supply": "20 m"}).split("\n")
    assert len(told) == 5
    assert told[-1].startswith("And ")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(
        ["cables", "supply", "rating", "terminators", "devices", *NAMES, "address", "listed"]
    ), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@given(JSON)
def test_any_json_is_judged(answer: Any) -> None:
    assert CHECK.check(ASK, KEY, answer).credit == 0
    assert isinstance(CHECK.shown(ASK, answer), str)


def test_a_right_plan_comes_alive() -> None:
    seen = tried(RIGHT)
    assert (seen["problem"], seen["outcomes"], seen["errors"]) == ("", (), "none")
    assert {each["light"] for each in seen["devices"]} == {"green"}
    assert all(moving == (name,) for name, moving in seen["moves"])


def test_a_broken_rule_shows_or_is_margin() -> None:
    seen = tried(spoilt(NAMES[1], address="63", listed=False))
    [free, listed] = seen["outcomes"]
    assert free["symptom"] == ""
    assert "next new device" in free["margin"]
    assert NAMES[1] in listed["symptom"]


def test_what_is_long_is_played_where_the_host_plays() -> None:
    heard: list[Any] = []

    def play(asked: Any, known: Any = None, *, rarely: bool = False) -> dict[str, Any]:
        heard.append((asked, known, rarely))
        return {"problem": "elsewhere"}

    assert tried(RIGHT, play) == {"problem": "elsewhere"}
    assert heard == [({"ask": ASK, "plan": RIGHT}, None, True)]


def test_what_could_not_be_played_is_told() -> None:
    def play(asked: Any, known: Any = None, *, rarely: bool = False) -> dict[str, Any]:
        raise NotPlayedError("Not now." if rarely and asked and known is None else "")

    assert tried(RIGHT, play) == {"problem": "Not now."}


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("scanner: scanner", "scanner: camera", "is none of the devices"),
        ("cables: [thin]", "cables: [copper]", "there is no cable 'copper'"),
        ("way" + "s: '[0.5, 1.5, 2.5, 3.5, 2.5]'", "ways: '[0.5, 1.5]'", "a list of 5 numbers"),
        ("2.5, 3.5, 2.5]'", "2.5, 9.5, 2.5]'", "No plan for this site keeps every rule."),
        ("drops: '[1, 2,", "drops: '[-1, 2,", "no length"),
    ],
)
def test_an_authors_mistake_is_told(old: str, new: str, told: str) -> None:
    assert old in TEXT
    with pytest.raises(DefinitionError, match=told.replace("[", r"\[")):
        made(TEXT.replace(old, new))


def test_proof_reading_finds_nothing_to_mend() -> None:
    report = proof(read_lab_text(TEXT), 30)
    assert {each.id for each in report.findings} <= {"unsourced", "no-difficulty"}
