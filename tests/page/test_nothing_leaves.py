"""Nothing that decides leaves the host: of every kind and every lab that we ship, as a trainee
would look for it, and as one would who writes the messages by hand.

What is looked for is worked out from the scenario, apart from any desk: the values of keys, names
and words of known mistakes, workings, hints, faults. What the lab tells everybody is no secret.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from desks import LABS, SIGNING_KEY, desk_of, entries, said, scenario

from labkit.doors.check import not_readable
from labkit.doors.installed import check_for
from labkit.front_end.page_modules import joined, sheets
from labkit.kinds.common.bench_setup import setup_of
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.language.markdown import message_html, to_html
from labkit.page.desk import Desk
from labkit.page.formulas import with_formulas
from labkit.page.prose import as_read
from labkit.page.sheet import sheet_of

LONG_ENOUGH = 10
"""Shorter texts, such as "212 m", stand in many places by chance."""


def as_text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, default=str)


def leaves(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        value = [*value, *value.values()]
    if isinstance(value, list | tuple):
        for each in value:
            yield from leaves(each)
    else:
        yield value


def spellings(text: str) -> Iterator[str]:
    """A text line by line, as it is and as pages show it; and what stands between formulas."""
    for line in text.splitlines():
        for form in (line, to_html(line), message_html(line)):
            bare = form.removeprefix("<p>").removesuffix("</p>")
            for piece in (
                bare,
                *(part for part, is_formula in with_formulas(bare) if not is_formula),
            ):
                yield as_text(piece)[1:-1].strip()


def public(drawn: Scenario) -> str:
    """What everybody may read: the sheet, what is asked, and all that a bench could have."""
    told: list[Any] = [sheet_of(drawn)]
    for exercise in drawn.lab.exercises:
        ask = drawn.prepare(exercise).ask
        told += [each.render(drawn.names) for each in (exercise.title, exercise.question)]
        told += [ask]
        if exercise.kind == "diagnosis":
            setup = setup_of(ask["setup"])
            told += [setup.catalogue.choices, [*setup.layout.connectors, *setup.layout.pieces]]
    told += [list(spellings(text)) for text in told if isinstance(text, str)]
    return WORD_MARKS.sub("", as_text(told))


def secrets_of(drawn: Scenario, exercise: Exercise) -> set[str]:
    """What decides an exercise, or tells of it, as it would stand in a message."""
    prepared = drawn.prepare(exercise)
    check, ask, key = check_for(exercise.kind), prepared.ask, prepared.key
    found = {as_text(key), *key_texts(key)}
    found |= {as_text(slip)[1:-1] for slip in check.slip_answers(ask, key)}
    right = as_text(check.right_answer(ask, key))
    found |= {right} if isinstance(json.loads(right), dict | list) else set()
    texts = [exercise.working, *(hint.text for hint in exercise.hints)]
    for text in texts:
        found |= set(spellings(text.render(drawn.names)))
    if exercise.kind == "diagnosis":
        setup = setup_of(ask["setup"])
        faults = [setup.catalogue.fault_from_json(each) for each in key["faults"]]
        told = [fault.words_on(setup.layout) for fault in faults]
        found |= {spelled for words in told for spelled in spellings(words)}
        found |= {as_text(each) for each in key["faults"]}
    return {each for each in found if len(each) >= LONG_ENOUGH}


def key_texts(key: Any) -> Iterator[str]:
    for leaf in leaves(key):
        if isinstance(leaf, str):
            yield from spellings(leaf)
        elif isinstance(leaf, float) and not _is_share(leaf):
            yield repr(leaf)


def _is_share(number: float) -> bool:
    """Whether it is a simple fraction, as a share of the marks is, and so says nothing."""
    return abs(number - Fraction(number).limit_denominator(60)) < 1e-9


def hidden(drawn: Scenario) -> dict[str, set[str]]:
    """The secrets of each exercise that nothing public tells."""
    known = public(drawn)
    return {
        exercise.id: {each for each in secrets_of(drawn, exercise) if each not in known}
        for exercise in drawn.lab.exercises
    }


WORD_MARKS = re.compile(r'<span role=\\?"button.*?>|</span>')


def leaked(transcript: str, hidden_ones: set[str]) -> list[str]:
    # Trade words are marked on the way to the page: a sentence is found by its letters.
    transcript = WORD_MARKS.sub("", transcript)
    return sorted(each for each in {*hidden_ones, SIGNING_KEY} if each in transcript)


NONSENSE: list[Any] = [
    None,
    [],
    {},
    "",
    -1,
    True,
    {"a": [{}]},
    "1e999",
    "\u202e\x00",
    {"verdict": {}},
]


def deep(levels: int) -> Any:
    value: Any = "x"
    for _ in range(levels):
        value = [value]
    return value


BAD: list[Any] = [deep(400), "x" * 1_000_000, float("nan"), {"a": float("-inf")}, 10**4000]


def own_answers(drawn: Scenario, exercise: Exercise) -> tuple[Any, list[Any]]:
    """The right answer, and wrong ones of the known mistakes."""
    prepared, check = drawn.prepare(exercise), check_for(exercise.kind)
    wrong = list(check.slip_answers(prepared.ask, prepared.key).values())
    return check.right_answer(prepared.ask, prepared.key), wrong


def steps_of(exercise: Exercise, drawn: Scenario) -> list[Any]:
    """Steps within and beyond what is allowed, with the answers and words of another bench."""
    if exercise.kind != "diagnosis":
        right, _ = own_answers(drawn, exercise)
        return [{"kind": "test", "answer": right}, {"kind": "look back"}, {"kind": "dance"}]
    setup = setup_of(drawn.prepare(exercise).ask["setup"])
    first, second, *_ = setup.layout.connectors
    return [
        {"kind": "power off"},
        {"kind": "look", "connector": first},
        {"kind": "ohms", "a": f"{first}/2", "b": f"{first}/4"},
        {"kind": "unplug", "connector": first},
        {"kind": "unplug", "connector": second},
        {"kind": "plug", "connector": first},
        {"kind": "land", "connector": first},
        {"kind": "replace cable", "piece": next(iter(setup.layout.pieces))},
        {"kind": "power on"},
        {"kind": "volts", "a": f"{first}/5", "b": f"{first}/1"},
        {"kind": "indicators"},
        {"kind": "scanner report"},
        {"kind": "scope", "device": setup.scanner, "talker": setup.scanner},
        {"kind": "busy volts", "a": f"{first}/2", "b": f"{first}/4"},
        {"kind": "look back"},
    ]


def all_shown(desk: Desk) -> str:
    """All that pages can ask for without a message."""
    opened = desk.opened()
    shown = {name: desk.shown(name) for name in opened["exercises"]}
    return as_text([opened, shown, desk.saved])


class Trainee:
    """Somebody who writes messages, and all that came back."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.heard = desk, [all_shown(desk)]
        self.sent = 0

    def says(self, exercise: Any, do: str, **more: Any) -> Any:
        self.sent += 1
        heard = self.desk.hear(said(exercise, do, f"m{self.sent}", **more))
        self.heard.append(as_text(heard))
        return heard

    @property
    def transcript(self) -> str:
        return "\n".join([*self.heard, all_shown(self.desk)])


@pytest.mark.parametrize("name", sorted(LABS))
def test_an_assessed_workbook_is_told_what_can_be_read_and_not_what_is_right(
    name: str, tmp_path: Path
) -> None:
    drawn = scenario(name)
    secret = hidden(drawn)
    everything = set().union(*secret.values())
    assert len(everything) > 20
    trainee = Trainee(desk_of(drawn, tmp_path, practice=False))
    for exercise in drawn.lab.exercises:
        for step in steps_of(exercise, drawn):
            heard = trainee.says(exercise.id, "step", step=step)
            assert "back" not in (heard["reply"].get("reply") or {})
        for do in ("hint", "drill", "try", "verdict", "example", "key"):
            heard = trainee.says(exercise.id, do, of="x", program=[], on=[], memory=None)
            assert heard is None or "saved" not in heard["reply"]
            assert heard is None or "tried" not in heard["reply"]
        for answer in [*NONSENSE, *BAD]:
            trainee.says(exercise.id, "answer", answer=answer)
    assert leaked(trainee.transcript, everything) == []
    for exercise in drawn.lab.exercises:
        check, ask = check_for(exercise.kind), drawn.prepare(exercise).ask
        right, wrong = own_answers(drawn, exercise)
        for answer in [right, *wrong, *NONSENSE]:
            heard = trainee.says(exercise.id, "answer", answer=answer)
            assert heard["reply"] == {"token": f"m{trainee.sent}", "saved": True}
            # All that is told of an answer follows from what everybody may see.
            sentence = not_readable(check, ask, answer)
            assert heard["saved"] == {
                "token": f"m{trainee.sent}",
                "answered": True,
                "answer": answer,
                "at": heard["saved"]["at"],
                "hints": [],
                "example": None,
                "verdict": {
                    "right": False,
                    "readable": False,
                    "awaits": False,
                    "credit": 0.0,
                    "html": as_read(message_html(sentence)),
                    "working": "",
                }
                if sentence
                else None,
            }, exercise.id


@pytest.mark.parametrize("name", sorted(LABS))
def test_a_practice_workbook_tells_of_an_exercise_only_what_was_earned_there(
    name: str, tmp_path: Path
) -> None:
    drawn = scenario(name)
    secret = hidden(drawn)
    trainee = Trainee(desk_of(drawn, tmp_path))
    assert leaked(trainee.transcript, set().union(*secret.values())) == []
    for exercise in drawn.lab.exercises:
        before = len(trainee.heard)
        right, wrong = own_answers(drawn, exercise)
        for answer in [*NONSENSE, *BAD, *wrong[:3], right]:
            told = trainee.says(exercise.id, "answer", answer=answer)["saved"]["verdict"]
            assert told is None or told["right"] or told["working"] == ""
        trainee.says(exercise.id, "drill")
        for step in steps_of(exercise, drawn)[:4]:
            trainee.says(exercise.id, "step", step=step)
        others = [secret[each] for each in secret if each != exercise.id]
        alien = set().union(*others) - secret[exercise.id]
        assert leaked("\n".join(trainee.heard[before:]), alien) == [], exercise.id


@pytest.mark.parametrize("name", sorted(LABS))
def test_page_modules_hold_nothing_of_a_draw(name: str, tmp_path: Path) -> None:
    drawn = scenario(name)
    desk = desk_of(drawn, tmp_path, practice=False)
    modules = "".join(joined(file) + sheets(file) for file in desk.scripts.values())
    assert leaked(modules, set().union(*hidden(drawn).values())) == []


def test_messages_written_by_hand_reach_no_other_exercise_and_no_other_person(
    tmp_path: Path,
) -> None:
    drawn = scenario("bring-up")
    folders = [tmp_path / who for who in ("mine", "theirs")]
    for folder in folders:
        folder.mkdir()
    mine, theirs = (Trainee(desk_of(drawn, folder, practice=False)) for folder in folders)
    first, second, *_ = (exercise.id for exercise in drawn.lab.exercises)
    theirs.says(first, "answer", answer="5 m")
    kept = entries(folders[1])
    # A token of theirs confirms nothing of mine; one of mine is done once, whatever comes with it.
    assert mine.says(first, "answer", answer="6 m")["saved"]["answer"] == "6 m"
    again = mine.desk.hear(said(first, "answer", "m1", answer="7 m"))
    assert again
    assert again["saved"]["answer"] == "6 m"
    assert [e["answer"] for e in entries(folders[0]) if e["event"] == "answer"] == ["6 m"]
    elsewhere = mine.desk.hear(said(second, "answer", "m1", answer="8 m"))
    assert elsewhere
    assert elsewhere["exercise"] == second
    strange: list[Any] = [
        None, [], "x", 7, {}, {"exercise": first}, {"exercise": [first], "message": {}},
        {"exercise": {"a": 1}, "message": {"do": "answer", "token": "x", "answer": 1}},
        {"exercise": "__class__", "message": {"do": "answer", "token": "x", "answer": 1}},
        {"exercise": "../" + first, "message": {"do": "answer", "token": "x", "answer": 1}},
        {"exercise": first, "message": {"do": "answer", "token": {"a": 1}, "answer": 1}},
        {"exercise": first, "message": {"do": "answer", "token": "x" * 1_000_000, "answer": 1}},
        {"exercise": first, "message": {"do": ["answer"], "token": "y", "answer": 1}},
        {"exercise": first, "message": deep(300)},
    ]  # fmt: skip
    before = entries(folders[0])
    for message in strange:
        heard = mine.desk.hear(message)
        assert heard is None or heard["reply"].keys() == {"token", "failed"}
    assert [mine.desk.shown(name) for name in ("", "../" + first, "__class__")] == [None] * 3
    assert entries(folders[0]) == before
    assert entries(folders[1]) == kept
