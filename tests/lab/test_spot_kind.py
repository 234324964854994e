"""The kind `spot`: places of a picture, judged by where a point lies; what a page may not know."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors.installed import check_for, page_for
from labkit.kinds.spot.data import Place
from labkit.kinds.spot.places import place_at, point_in
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError

FOLDER = Path(__file__).parent / "labs" / "spots"
LAB = read_lab(FOLDER / "lab.md")
ONE, ALL_BUT_ONE = LAB.exercises
CHECK = check_for("spot")
MIDDLES = {"infeed": [125, 500], "coil": [375, 500], "relay": [625, 500], "outfeed": [875, 500]}
NOWHERE = [990, 990]

SCENARIO = draw(LAB, "spot")
ASK, KEY = SCENARIO.prepare(ONE).ask, SCENARIO.prepare(ONE).key
[WANTED] = KEY["right"]
OTHERS = [name for name in MIDDLES if name != WANTED]
MANY_ASK, MANY_KEY = SCENARIO.prepare(ALL_BUT_ONE).ask, SCENARIO.prepare(ALL_BUT_ONE).key
RIGHT = [MIDDLES[name] for name in OTHERS]
WRONG = MIDDLES[WANTED]

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=8,
)


def test_the_place_that_is_asked_for_is_right_and_every_other_is_told() -> None:
    assert CHECK.check(ASK, KEY, [WRONG]).right
    for name in OTHERS:
        verdict = CHECK.check(ASK, KEY, [MIDDLES[name]])
        assert (verdict.credit, verdict.slip) == (0.0, name)
        assert verdict.message == KEY["tell"][name]
    elsewhere = CHECK.check(ASK, KEY, [NOWHERE])
    assert (elsewhere.credit, elsewhere.slip) == (0.0, "")
    assert elsewhere.message == "Nothing that is asked for is there."


@pytest.mark.parametrize(
    ("answer", "credit"),
    [
        (RIGHT, 1.0),
        (RIGHT[:2], 2 / 3),
        ([RIGHT[0], RIGHT[0], RIGHT[0]], 1 / 3),
        ([*RIGHT[:2], WRONG], 1 / 3),
        ([*RIGHT[:2], NOWHERE], 1 / 3),
        ([RIGHT[0], WRONG, NOWHERE], 0.0),
    ],
)
def test_what_is_found_earns_and_what_is_taken_wrongly_costs(answer: Any, credit: float) -> None:
    assert CHECK.check(MANY_ASK, MANY_KEY, answer).credit == pytest.approx(credit)


def test_a_name_counts_as_its_place_where_the_author_offers_names() -> None:
    names = {place["id"]: place["name"] for place in MANY_KEY["places"]}
    answer = [RIGHT[0], *(names[name] for name in OTHERS[1:])]
    assert CHECK.check(MANY_ASK, MANY_KEY, answer).right
    assert not CHECK.check(ASK, KEY, [names[WANTED]]).readable
    assert set(MANY_ASK["names"]) == set(names.values())


def test_a_part_upon_another_is_the_one_that_is_pointed_at() -> None:
    large: Place = {"id": "case", "name": "", "form": "box", "edges": [0, 0, 500, 500]}
    small: Place = {"id": "lamp", "name": "", "form": "oval", "edges": [200, 200, 300, 300]}
    both = [large, small]
    assert place_at(both, 250, 250) is small
    assert place_at(both, 205, 205) is large  # in the oval's box, beside the oval
    assert place_at(both, 500, 500) is large
    assert place_at(both, 501, 500) is None
    free = point_in(both, large)
    assert free is not None
    assert place_at(both, *free) is large


def test_the_page_knows_neither_places_nor_which_are_right() -> None:
    page = page_for("spot")(ASK, None)
    told = json.dumps([page.shown_ask(), page.view()])
    for place in KEY["places"]:
        assert place["name"] not in told
        assert place["id"] not in told
        assert str(place["edges"]) not in told
    assert ASK["points"] == 1
    orders = {tuple(draw(LAB, f"{n}").prepare(ALL_BUT_ONE).ask["names"]) for n in range(8)}
    assert len(orders) > 1


@given(JSON | st.lists(JSON | st.lists(st.integers(-5, 1005), max_size=3), max_size=4))
def test_any_json_is_judged_or_refused(answer: Any) -> None:
    for ask, key in ((ASK, KEY), (MANY_ASK, MANY_KEY)):
        verdict = CHECK.check(ask, key, answer)
        assert 0 <= verdict.credit <= 1
        assert verdict.readable == (not CHECK.unreadable(ask, answer))
        assert bool(CHECK.shown(ask, answer)) == verdict.readable


@pytest.mark.parametrize(
    "answer", [[], [[True, 5]], [[1.5, 5]], [[5]], [[-1, 5]], [[5, 1001]], [[1, 1], [2, 2]], "x"]
)
def test_what_is_no_point_of_the_picture_is_asked_back(answer: Any) -> None:
    assert not CHECK.check(ASK, KEY, answer).readable


def test_paper_has_the_bare_picture_and_the_instructors_copy_frames_the_right_places() -> None:
    check: Any = CHECK
    bare, marked = check.paper(MANY_ASK), check.paper_right(MANY_ASK, MANY_KEY)
    assert bare.count("<image") == marked.count("<image") == 1
    assert "Mark 3 places" in bare
    assert "<ellipse" not in bare
    assert "<rect" not in bare
    shapes = {"infeed": "<rect", "coil": "<ellipse", "relay": "<rect", "outfeed": "<rect"}
    for shape in ("<rect", "<ellipse"):  # each is drawn white and black
        assert marked.count(shape) == 2 * sum(shapes[name] == shape for name in OTHERS)
    assert check.solved(MANY_ASK, MANY_KEY).count("% from the left") == 3


BOX = "box: [5, 10, 20, 90], tell: The infeed is at"
MISTAKES = [
    (BOX, BOX.replace("5, 10, 20", "20, 10, 5"), "does not lie in the picture."),
    (BOX, BOX.replace("90]", "101]"), "does not lie in the picture."),
    (BOX, BOX.replace("20", "7"), "is less than 3 % wide or high: too small for a finger."),
    (BOX, BOX.replace("20", "60"), "covers 44% of the picture: who points blindly finds it"),
    (BOX, BOX.replace("box", "oval: [5, 10, 20, 90], box"), "needs either 'box' or 'oval'."),
    (BOX, BOX.replace("box: [5, 10, 20, 90], ", ""), "needs either 'box' or 'oval'."),
    ("oval: [30, 30, 45, 70]", "box: [5, 10, 20, 90]", "lies below others that are smaller"),
    ("id: coil", "id: relay", "the place 'relay' is there twice."),
    ("name: the coil", "name: the overload relay", "two places have the same name."),
    ("answer: wanted", "answer: '\"rely\"'", "the answer 'rely' is not a place"),
    ("answer: wanted", "answer: '[]'", "the answer gives 0 places"),
    ("answer: wanted", "answer: wanted\npoints: 0", "'0' gives 0, where 1 to 12 points"),
    ("![A motor starter with", "See: ![A motor starter with", "is not one picture alone."),
    ("answer: wanted", "answer: wanted\nparts: [tap]", "and the picture is another."),
    (", tell: That is the coil of the contactor.", "", "'coil' is wrong in some draws, and has"),
    ("(starter.png)", "(missing.png)", "the picture 'missing.png' is not there."),
]


@pytest.mark.parametrize(("old", "new", "told"), MISTAKES)
def test_an_authors_mistake_is_told(tmp_path: Path, old: str, new: str, told: str) -> None:
    shutil.copy(FOLDER / "starter.png", tmp_path)
    text = (FOLDER / "lab.md").read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "lab.md").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DefinitionError) as error:
        _prepared(tmp_path / "lab.md")
    assert told in str(error.value)


def _prepared(file: Path) -> None:
    lab = read_lab(file)
    draw(lab, "s").prepare(lab.exercises[0])


def test_a_place_that_is_right_in_every_draw_needs_nothing_to_tell(tmp_path: Path) -> None:
    shutil.copy(FOLDER / "starter.png", tmp_path)
    text = (FOLDER / "lab.md").read_text(encoding="utf-8")
    text = text.replace("answer: wanted", "answer: '\"coil\"'")
    told = ", tell: That is the coil of the contactor."
    assert told in text
    (tmp_path / "lab.md").write_text(text.replace(told, "", 1), encoding="utf-8")
    lab = read_lab(tmp_path / "lab.md")
    key = draw(lab, "s").prepare(lab.exercises[0]).key
    assert set(key["tell"]) == {"infeed", "relay", "outfeed"}
