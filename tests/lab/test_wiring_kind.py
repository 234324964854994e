"""`wiring`: judged on the bench; every mistake is told with the reading that shows it."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.bench.faults import Landed, NotEarthed, TerminatorMissing
from labkit.bench.making import bench_with, trials
from labkit.doors.check import JudgesWithoutWords
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.conductors import WIRES
from labkit.families.devicenet.bench.setup import Setup
from labkit.kinds.common import paper
from labkit.kinds.wiring.check import readings
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError

FILE = Path(__file__).parent / "labs" / "find-and-wire" / "lab.md"
TEXT = FILE.read_text(encoding="utf-8")
LAB = read_lab(FILE)
CHECK = check_for("wiring")
MADE = draw(LAB, "wiring").prepare(LAB.exercises[1])
ASK: Any = MADE.ask
KEY = MADE.key
# Terminals and colours: IEC 62026-3 and ODVA PUB00027R1, written here in words of its own.
RIGHT: Any = {
    "conductors": {"black": 1, "blue": 2, "bare": 3, "white": 4, "red": 5},
    "terminators": ["left end", "right end"],
    "shield": ["power tap of supply"],
}


def wired(**parts: Any) -> dict[str, Any]:
    return {**deepcopy(RIGHT), **parts}


def landed(**terminals: int) -> Any:
    return wired(conductors={**RIGHT["conductors"], **terminals})


def test_what_the_standard_says_is_right_and_the_right_answer_is_that() -> None:
    assert CHECK.check(ASK, KEY, RIGHT).right
    assert CHECK.right_answer(ASK, KEY) == RIGHT


@pytest.mark.parametrize(
    ("answer", "slip", "credit", "words"),
    [
        (landed(blue=4, white=2), "can-exchanged", 0.5, "CAN_H and CAN_L are exchanged"),
        (landed(black=5, red=1), "power-exchanged", 0.5, "from 1 here to 1 of date printer shows"),
        (landed(black=5, blue=4, white=2, red=1), "order-reversed", 0.5, "from 5 to 1"),
        (landed(red=0), "", 0.5, "not landed: red"),
        (wired(shield=["left end", "right end"]), "shield-both-ends", 0.75, "lifted: resistance"),
        (wired(shield=[]), "shield-not-earthed", 0.75, "shows OL"),
        (wired(terminators=["left end", "tap 3"]), "terminator-in-the-middle", 0.75, "tap 3"),
        (wired(terminators=["left end"]), "one-terminator", 0.75, "from 4 to 2 shows 12"),
        (
            wired(terminators=["left end", "tap 3", "right end"]),
            "three-terminators",
            0.75,
            "from 4 to 2 shows 4",
        ),
    ],
)
def test_each_mistake_costs_its_part_and_is_told_with_its_reading(
    answer: dict[str, Any], slip: str, credit: float, words: str
) -> None:
    verdict = CHECK.check(ASK, KEY, answer)
    assert (verdict.slip, verdict.credit) == (slip, credit)
    assert words in verdict.message


def test_the_slip_answers_are_taken_for_the_slips_that_they_are() -> None:
    answers = CHECK.slip_answers(ASK, KEY)
    assert len(answers) == 11
    for slip, answer in answers.items():
        assert CHECK.check(ASK, KEY, answer).slip == slip


def test_the_figures_told_are_those_of_a_bench_with_that_wiring() -> None:
    setup = Setup.from_json(ASK["setup"])
    device = ASK["device"]
    own = {row["words"]: row["shows"] for row in readings(ASK, landed(blue=4, white=2))}
    bench = bench_with(setup, [Landed(device, (1, 4, 3, 2, 5))])
    for trial in trials(setup.layout, device):
        assert own[trial.words] == trial.measurement.take(bench.standing(trial.situation)).text
    # Two terminators of 121 ohm side by side, and the cable between them and the meter.
    sound = {row["words"]: row["shows"] for row in readings(ASK, RIGHT)}
    assert 60 <= float(sound["power off: resistance from 4 to 2"].split()[0]) < 63
    alone = bench_with(setup, [TerminatorMissing("left end"), NotEarthed()])
    ohms = [
        trial.measurement.take(alone.standing(trial.situation)).text
        for trial in trials(setup.layout, device)
    ]
    assert 115 <= float(ohms[0].split()[0]) <= 125
    assert ohms[3] == "OL"


def test_nothing_that_the_trainee_gets_says_which_colour_belongs_where() -> None:
    told = repr(ASK).lower()
    for wire in WIRES:
        assert wire.colour not in told.replace(ASK["device"], "")
        assert f"'{wire.label.lower()}'" not in told
    assert KEY == {}
    handout = paper.answer_place(CHECK, ASK)
    assert "CAN_H" not in handout
    assert "white" in handout
    assert "4 white (CAN_H)" in paper.marking_notes(CHECK, ASK, KEY, 4)


def test_a_part_without_a_share_is_neither_asked_nor_judged() -> None:
    shares = "shares: {conductors: 1, terminators: 0, shield: 0}\nworking: |\n  Terminals"
    lab = read_lab_text(TEXT.replace("working: |\n  Terminals", shares))
    ask = draw(lab, "wiring").prepare(lab.exercises[1]).ask
    assert CHECK.check(ask, {}, {"conductors": RIGHT["conductors"]}).right
    assert set(CHECK.slip_answers(ask, {})) == {
        "can-exchanged",
        "power-exchanged",
        "order-reversed",
    }


@pytest.mark.parametrize("landed", [[4], "4", 4, {"red": {}}])
def test_nothing_is_read_of_a_part_that_is_not_asked_for(landed: Any) -> None:
    ask = {**ASK, "shares": {"conductors": 0.0, "terminators": 0.5, "shield": 0.5}}
    assert CHECK.check(ask, {}, wired(conductors=landed)).right


_places = st.lists(st.sampled_from(["left end", "tap 1", "tap 3", "right end", "moon", 3]))
_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=6,
)
_answers = st.fixed_dictionaries(
    {},
    optional={
        "conductors": st.dictionaries(
            st.sampled_from(["black", "blue", "bare", "white", "red"]),
            st.sampled_from([0, 1, 2, 3, 4, 5, 6, True, "1", None]),
        )
        | _json,
        "terminators": _places | _json,
        "shield": _places | _json,
    },
)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(_answers | _json)
def test_any_json_gets_a_verdict(answer: Any) -> None:
    verdict = CHECK.check(ASK, KEY, answer)
    assert verdict.message
    assert isinstance(CHECK, JudgesWithoutWords)
    unsaid = "" if verdict.readable and not verdict.right else verdict.message
    assert CHECK.judged(ASK, KEY, answer) == replace(verdict, message=unsaid)
    assert 0 <= verdict.credit <= 1
    assert isinstance(CHECK.shown(ASK, answer), str)
    assert verdict.readable == (CHECK.unreadable(ASK, answer) == "")


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('device: "{{ names[7] }}"', "device: a device of another hall", "There is no device"),
        ("marks: 4", "marks: 4\nshares: {conductors: 1}", "do not come to 1 together"),
        ("marks: 4", "marks: 4\nplan: sum(gaps)", "does not give a network"),
    ],
)
def test_a_mistake_in_the_definition_gets_a_sentence(old: str, new: str, sentence: str) -> None:
    def read_and_draw() -> None:
        lab = read_lab_text(TEXT.replace(old, new))
        draw(lab, "wiring").prepare(lab.exercises[1])

    with pytest.raises(DefinitionError, match=sentence):
        read_and_draw()
