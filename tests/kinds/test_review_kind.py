"""The kind `review`: errors of a drawing found, nothing accused that is right, scored both ways."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for, review_for
from labkit.fieldbus.devicenet.network import (
    Device,
    Drop,
    Network,
    Segment,
    Supply,
    Tap,
    Terminator,
)
from labkit.fieldbus.devicenet.proposal import Proposal
from labkit.fieldbus.errors import PlanError
from labkit.kinds.review.data import NOTHING, Mark, ReviewAsk, ReviewKey
from labkit.kinds.review.drawing import DrawingData, drawn
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError
from labkit.proofing import Severity, proof

FILE = Path(__file__).parents[1] / "lab" / "labs" / "drawings-to-review" / "lab.md"
LAB = read_lab(FILE)
BY_FORMULA, DRAWN, PERHAPS = LAB.exercises
CHECK: Any = check_for("review")
PARTS = ["left end", "trunk 1", *(f"tap {n}" for n in range(1, 5)), "supply", "earth 1"]
RULES = "terminators earth trunk drop drops drop-current fuse supply-place supply-rating address"

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=8,
)


Made = tuple[ReviewAsk, ReviewKey]


def _drawing(
    currents: tuple[float, ...] = (0.5, 0.6, 0.7),
    addresses: tuple[int, ...] = (1, 2, 3),
    **more: Any,
) -> Made:
    """The ask and the key of a small drawing: 100 m of thick cable, supply in the middle."""
    rating, fuse = more.pop("rating", 4.0), more.pop("fuse", 4.0)
    taps = tuple(
        Tap(at, Drop(2.0, (Device(name, current, address),)))
        for at, name, current, address in zip(
            (20.0, 60.0, 90.0), ("infeed", "filler", "capper"), currents, addresses, strict=True
        )
    )
    supply = Supply(50.0, rating=rating, fuse_left=fuse, fuse_right=4.0)
    ends = more.pop("terminators", None)
    network = Network(125, (Segment("thick", 100.0),), taps, (supply,), terminators=ends)
    earths, drops = more.pop("earths", (50.0,)), more.pop("drop_terminators", ())
    assert not more
    data = Proposal(network, earths, drops).to_json()
    return drawn(review_for("devicenet").from_json(data)), {"drawing": data}


def _prepared(exercise: Exercise, seed: str) -> Made:
    made: Any = draw(LAB, seed).prepare(exercise)
    return made.ask, made.key


ONE_END = (Terminator(0.0),)
THREE_WRONG = _drawing(
    addresses=(1, 2, 1), earths=(50.0, 90.0), terminators=ONE_END, drop_terminators=("tap 2",)
)
RIGHT: list[Mark] = [
    {"part": "tap 2", "rule": "terminators"},
    {"part": "earth 1", "rule": "earth"},
    {"part": "tap 1", "rule": "address"},
]
FALSE: list[Mark] = [
    {"part": "tap 2", "rule": "drop"},
    {"part": "supply", "rule": "fuse"},
    {"part": "left end", "rule": "terminators"},
]


def _credit(made: Made, answer: Any) -> float:
    verdict = CHECK.check(*made, answer)
    assert verdict.readable, verdict.message
    return float(verdict.credit)


@pytest.mark.parametrize(
    ("answer", "credit"),
    [
        (RIGHT, 1.0),
        (RIGHT[:2], 2 / 3),
        ([*RIGHT, FALSE[0]], 2 / 3),
        ([*RIGHT, *FALSE[:2]], 1 / 3),
        ([*RIGHT, *FALSE], 0.0),
        ([RIGHT[0], *FALSE], 0.0),
        (FALSE, 0.0),
        (NOTHING, 0.0),
    ],
)
def test_what_is_found_earns_and_what_is_accused_wrongly_costs(answer: Any, credit: float) -> None:
    assert _credit(THREE_WRONG, answer) == pytest.approx(credit)


def test_an_error_that_shows_at_two_places_may_be_marked_at_either_or_both() -> None:
    at_the_end: Mark = {"part": "right end", "rule": "terminators"}
    at_the_other: Mark = {"part": "tap 3", "rule": "address"}
    assert _credit(THREE_WRONG, [at_the_end, RIGHT[1], at_the_other]) == 1
    assert _credit(THREE_WRONG, [*RIGHT, at_the_end, at_the_other]) == 1
    # Twice the same error is one error found.
    assert _credit(THREE_WRONG, [RIGHT[0], at_the_end]) == pytest.approx(1 / 3)


def test_the_right_place_with_another_rule_is_an_accusation() -> None:
    verdict = CHECK.check(*THREE_WRONG, [{"part": "tap 2", "rule": "address"}])
    assert verdict.credit == 0
    assert "no other device has address 2" in verdict.message.lower()


def test_nothing_wrong_is_right_of_a_right_drawing_alone() -> None:
    sound = _drawing()
    assert _credit(sound, NOTHING) == 1
    assert CHECK.check(*sound, NOTHING).message == "Right: nothing in this drawing is wrong."
    assert _credit(sound, FALSE[:1]) == 0
    assert not CHECK.check(*sound, []).readable


@pytest.mark.parametrize("seed", range(6))
def test_who_accuses_everything_or_nothing_earns_nothing(seed: int) -> None:
    """All rules of a part, all parts for a rule, a blind pick of marks: none pays."""
    made = _prepared(DRAWN, f"blind {seed}")
    view = page_for("review")(made[0], None).view()
    parts, rules = [p["id"] for p in view["parts"]], [r["id"] for r in view["rules"]]
    every = [{"part": part, "rule": rule} for part in parts for rule in rules]
    assert rules == RULES.split()
    assert not CHECK.check(*made, every).readable  # more than anybody may mark
    assert _credit(made, every[:40]) == _credit(made, every[-40:]) == 0
    taps = [part for part in parts if part.startswith("tap")]
    for rule in ("terminators", "drop", "address"):
        assert _credit(made, [{"part": part, "rule": rule} for part in taps]) == 0
    assert _credit(made, NOTHING) == 0


def test_the_verdict_counts_what_is_missed_and_defends_what_is_accused() -> None:
    verdict = CHECK.check(*THREE_WRONG, [RIGHT[2], FALSE[0], FALSE[2]])
    head, drop, end = verdict.message.split("\n")
    assert head == "1 of 3 errors found; 2 accused that are right."
    assert "Its drop is 2 m long, 6 m are allowed." in drop
    assert "A terminator of 121 Ω belongs at this end, and is there." in end
    assert verdict.meaning == drop


def test_what_is_missed_is_told_where_a_person_marks_and_where_it_is_solved() -> None:
    """A verdict that named it would be the answer for the next try."""
    verdict = CHECK.check(*THREE_WRONG, [RIGHT[2]])
    assert verdict.message == "1 of 3 errors found; nothing accused that is right."
    places = "place 5 (tap at 60 m, filler) or place 8 (right end of the trunk, 100 m)"
    told = "A terminator stands on the drop at 60 m"
    mend = "Mend: move it to the right end of the trunk."
    for text in (verdict.meaning, CHECK.solved(*THREE_WRONG)):
        assert all(each in text for each in (places, told, mend))


@pytest.mark.parametrize(
    ("drawing", "rule", "part", "told"),
    [
        (_drawing(rating=1.0), "supply-rating", "supply", "rated 1 A"),
        (_drawing(fuse=10.0), "fuse", "supply", "left fuse of 10 A"),
        (_drawing((0.5, 2.5, 0.5)), "drop-current", "tap 2", "carries 2.29 A"),
        (_drawing(earths=()), "earth", "supply", "earthed nowhere"),
        (_drawing(earths=(90.0,)), "earth", "earth 1", "not at the supply"),
        (_drawing(terminators=ONE_END), "terminators", "right end", "has no terminator"),
        (_drawing(drop_terminators=("tap 3",)), "terminators", "tap 3", "A third terminator"),
        (_drawing(addresses=(5, 5, 5)), "address", "tap 2", "all have node address 5"),
    ],
)
def test_an_error_is_found_by_calculation(drawing: Any, rule: str, part: str, told: str) -> None:
    right = CHECK.right_answer(*drawing)
    assert [mark["rule"] for mark in right] == [rule]
    assert _credit(drawing, [{"part": part, "rule": rule}]) == 1
    assert told in CHECK.check(*drawing, NOTHING).meaning


def test_every_known_mistake_is_told_by_its_own_name() -> None:
    for exercise in LAB.exercises:
        for seed in range(4):
            prepared = draw(LAB, f"slips {seed}").prepare(exercise)
            slips = CHECK.slip_answers(prepared.ask, prepared.key)
            assert any(slip.startswith("accused-") for slip in slips)
            for slip, answer in slips.items():
                verdict = CHECK.check(prepared.ask, prepared.key, answer)
                assert (verdict.slip, verdict.right) == (slip, False)


def test_every_rule_says_of_every_part_why_it_is_right() -> None:
    for rule in RULES.split():
        for part in ("left end", "trunk 1", "tap 1", "supply", "earth 1"):
            message = CHECK.check(*THREE_WRONG, [{"part": part, "rule": rule}]).message
            assert message.count("Right as drawn") == ({"part": part, "rule": rule} not in RIGHT)
            assert "None" not in message


READ: ReviewKey = {
    "drawing": DrawingData(review_for("devicenet").from_json(THREE_WRONG[1]["drawing"]))
}
MARKS = st.fixed_dictionaries(
    {"part": st.sampled_from(PARTS), "rule": st.sampled_from(["", *RULES.split()])}
)


@given(JSON | st.lists(MARKS | JSON, max_size=4))
def test_any_json_is_judged_or_refused(answer: Any) -> None:
    ask = THREE_WRONG[0]
    verdict = CHECK.check(ask, READ, answer)
    assert 0 <= verdict.credit <= 1
    assert verdict.readable == (not CHECK.unreadable(ask, answer))
    assert bool(CHECK.shown(ask, answer)) == verdict.readable


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        ([], "Mark what is wrong"),
        ([{"part": "tap 9", "rule": "drop"}], "Mark 1 names no place"),
        ([{"part": "tap 1", "rule": ""}], "Say what is wrong at place 3"),
        ([RIGHT[0], RIGHT[0]], "said of place 5 twice"),
        ([RIGHT[0]] * 41, "more than 40 marks"),
    ],
)
def test_what_cannot_be_read_is_asked_back(answer: Any, told: str) -> None:
    assert told in CHECK.unreadable(THREE_WRONG[0], answer)


def test_the_page_is_shown_the_drawing_and_not_what_is_wrong() -> None:
    page = page_for("review")(THREE_WRONG[0], None)
    assert page.shown_ask() == {}
    view = page.view()
    told = json.dumps(view)
    for word in ("second time", "third", "mend", "planted"):
        assert word not in told
    for picture in view["drawings"]:
        assert picture["svg"].count("earthed") >= 1
        assert "open end" in picture["svg"]
        assert picture["boxes"].keys() == {part["id"] for part in view["parts"]}
        for boxes in picture["boxes"].values():
            for left, top, width, height in boxes:
                assert min(left, top) >= 0
                assert left + width <= picture["width"]
                assert top + height <= picture["height"]
                assert min(width, height) >= 24
    # Each number stands in the drawing, in the order of the places.
    assert [part["number"] for part in view["parts"]] == list(range(1, len(view["parts"]) + 1))


IN_ASK = {"drawings", "bands", "parts", "svg", "width", "height", "boxes", "id", "number", "words"}
IN_SVG = """
xmlns id role viewBox width height fill font-family font-size font-weight aria-labelledby x y
x1 x2 y1 y2 cx cy r rx stroke stroke-width stroke-dasharray opacity text-anchor
"""
"""Attributes that only say how a shape looks."""


def _names_in(value: Any) -> Iterator[str]:
    """The names of all that is in a JSON value, but for the boxes, whose names are parts."""
    within: list[Any] = value if isinstance(value, list) else []
    if isinstance(value, dict):
        yield from value
        within = [each for name, each in value.items() if name != "boxes"]
    for each in within:
        yield from _names_in(each)


@pytest.mark.parametrize("exercise", LAB.exercises, ids=lambda each: each.id)
def test_nothing_in_ask_gives_the_errors_away(exercise: Exercise) -> None:
    """Of the network it has what is drawn, as shapes and written words, and nothing to count with.

    Who is assessed holds it in a file, without the key.
    """
    for seed in range(4):
        ask, key = json.loads(json.dumps(_prepared(exercise, f"given away {seed}")))
        assert set(_names_in(ask)) == IN_ASK
        for each in ask["drawings"]:
            assert each.keys() == {"svg", "width", "height", "boxes"}
            assert each["boxes"].keys() == {part["id"] for part in ask["parts"]}
        for svg in (*(each["svg"] for each in ask["drawings"]), *ask["bands"]):
            assert set(re.findall(r'([\w:-]+)="', svg)) <= {*IN_SVG.split()}
            assert "<!--" not in svg
        with pytest.raises(KeyError):
            CHECK.right_answer(ask, {})
        # And with what is given, a page is shown, an answer is kept, and marked later.
        page = page_for("review")(ask, None)
        assert [each["svg"] for each in page.view()["drawings"]]
        right = CHECK.right_answer(ask, key)
        assert CHECK.unreadable(ask, right) == ""
        assert CHECK.shown(ask, right)
        assert CHECK.check(ask, key, right).right


def test_numbers_of_a_drawing_are_short() -> None:
    """A task file has each drawing three times: it need not hold digits that nobody sees."""
    ask, _ = _prepared(PERHAPS, "long numbers")
    for svg in (*(each["svg"] for each in ask["drawings"]), *ask["bands"]):
        assert re.findall(r'"-?\d+\.\d{3,}"', svg) == []
    assert re.findall(r"\d\.\d{2,}", json.dumps([each["boxes"] for each in ask["drawings"]])) == []


def test_a_drawing_is_not_read_again_for_each_try(monkeypatch: pytest.MonkeyPatch) -> None:
    ask, key = _prepared(DRAWN, "read once")
    monkeypatch.setattr(Proposal, "from_json", staticmethod(pytest.fail))
    for answer in CHECK.slip_answers(ask, key).values():
        assert not CHECK.check(ask, key, answer).right


def test_paper_has_the_drawing_and_the_instructors_copy_every_error_with_its_letter() -> None:
    place, filled = CHECK.paper(THREE_WRONG[0]), CHECK.paper_right(*THREE_WRONG)
    assert place.count("<svg") >= 1
    assert place.count("Nothing in this drawing is wrong") == 1
    assert "move it to the right end" not in place
    assert filled.count("Mend:") == 3
    assert "J: place 3" in filled  # the address, at either device
    assert "1 mark" in CHECK.paper_for_marking(*THREE_WRONG, 3.0)


def test_a_drawing_is_of_one_supply_with_terminators_at_ends_and_drops() -> None:
    network = Proposal.from_json(_drawing()[1]["drawing"]).network
    with pytest.raises(PlanError, match="has one supply"):
        Proposal(Network(125, network.segments), ())
    with pytest.raises(PlanError, match="at the trunk's ends"):
        Proposal(
            Network(125, network.segments, (), network.supplies, terminators=(Terminator(7.0),)),
            (),
        )


def test_as_many_errors_are_planted_as_the_formulas_or_the_number_say() -> None:
    for seed in range(8):
        scenario = draw(LAB, f"count {seed}")
        doubled = scenario.names["doubled"]
        rules = {mark["rule"] for mark in _errors_of(BY_FORMULA, scenario)}
        assert rules == {"terminators", "address" if doubled else "earth"}
        assert len(_errors_of(DRAWN, scenario)) == 3
        alone = _errors_of(PERHAPS, scenario)
        few = scenario.names["few"]
        assert alone == NOTHING if few == 0 else len(alone) == few


def _errors_of(exercise: Exercise, scenario: Scenario) -> Any:
    prepared = scenario.prepare(exercise)
    return CHECK.right_answer(prepared.ask, prepared.key)


def test_proof_reading_has_nothing_to_be_mended() -> None:
    assert [item.sentence for item in proof(LAB, 20).of(Severity.MUST)] == []


MISTAKES = [
    ("terminator on a drop, planted: yes", "a terminator, planted: yes", "there is no error"),
    ("address twice, planted: doubled == 1", "two earths, planted: yes", "is there twice."),
    ("terminator on a drop, planted: yes", "terminator on a drop", "either 'plant' says how many"),
    ("planted: doubled == 1", "planted: doubled", "neither yes nor no."),
    ("plant: 3", "plant: 9", "'9' gives 9, where 0 to 8 errors"),
    ("current: \"[0.4, 0.5, 0.6]\"", "current: \"[4, 0.5, 0.6]\"", "breaks a rule as planned"),
    ("  supply: {at: 60}\nmarks", "marks", "has no supply"),
    ("devicenet\n  rate: 250", "nothing\n  rate: 250", "is not a network family."),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "told"), MISTAKES)
def test_an_authors_mistake_is_told(tmp_path: Path, old: str, new: str, told: str) -> None:
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "lab.md").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DefinitionError) as error:
        _prepare_all(tmp_path / "lab.md")
    assert told in str(error.value)


def _prepare_all(file: Path) -> None:
    lab = read_lab(file)
    for exercise in lab.exercises:
        draw(lab, "s").prepare(exercise)


def test_a_trunk_that_no_usual_fuse_fits_cannot_be_drawn() -> None:
    """6 A to one side of thin cable, which carries 3 A."""
    taps = tuple(Tap(at, Drop(1.0, (Device(f"{at}", 2.0),))) for at in (6.0, 7.0, 8.0))
    network = Network(125, (Segment("thin", 9.0),), taps, (Supply(5.0),))
    with pytest.raises(PlanError, match="no usual fuse fits"):
        review_for("devicenet").as_planned(network)
