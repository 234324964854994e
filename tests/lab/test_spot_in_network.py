"""The kind `spot` in the drawing of a network: its parts are pointed at by their names."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.doors import network as doors
from labkit.doors.installed import check_for, page_for
from labkit.lab.draw import draw
from labkit.lab.reading import lab_reader, read_lab
from labkit.language.problems import DefinitionError

FILE = Path(__file__).parent / "labs" / "network-to-point-into" / "lab.md"
LAB = read_lab(FILE)
THIRSTY, BEFORE = LAB.exercises
CHECK: Any = check_for("spot")
SCENARIO = draw(LAB, "spot")
MADE = SCENARIO.prepare(THIRSTY)
ASK, KEY = MADE.ask, MADE.key
DEVICES = [part["id"] for part in ASK["parts"]]
RIGHT = KEY["right"]
LEAST = KEY["slips"]["least"]
OTHER = [name for name in DEVICES if name not in (*RIGHT, *LEAST)]
JSON = st.none() | st.integers() | st.text(max_size=4) | st.sampled_from(DEVICES)


def test_the_right_parts_follow_from_the_draw() -> None:
    currents = {device.name: device.current for device in SCENARIO.network.devices}
    assert set(RIGHT) == set(sorted(currents, key=lambda name: currents[name])[-2:])
    assert ASK["points"] == 2
    assert CHECK.check(ASK, KEY, [*reversed(RIGHT)]).right


@pytest.mark.parametrize(
    ("answer", "credit", "slip", "told"),
    [
        (RIGHT[:1], 0.5, "", "1 of 2 places found."),
        ([RIGHT[0], LEAST[0]], 0.0, "least", "Point 2: That one draws least."),
        ([RIGHT[0], OTHER[0]], 0.0, "", "is not what is asked for."),
        ([RIGHT[0], RIGHT[0]], 0.5, "", "1 of 2 places found."),
    ],
)
def test_a_known_mistake_is_told_and_another_part_is_named(
    answer: list[str], credit: float, slip: str, told: str
) -> None:
    verdict = CHECK.check(ASK, KEY, answer)
    assert (verdict.credit, verdict.slip) == (credit, slip)
    assert told in verdict.message


@given(JSON | st.lists(JSON, max_size=3))
def test_any_json_is_judged_or_refused(answer: Any) -> None:
    verdict = CHECK.check(ASK, KEY, answer)
    assert verdict.readable == (not CHECK.unreadable(ASK, answer))
    assert bool(CHECK.shown(ASK, answer)) == verdict.readable


def test_nothing_of_the_key_is_in_what_a_page_gets() -> None:
    devices = SCENARIO.network.devices
    parts = [{"id": each.name, "words": f"{each.name}, {each.current:g} A"} for each in devices]
    assert parts == ASK["parts"]  # in the order of the drawing, whatever is right
    shown = page_for("spot")(ASK, None).shown_ask()
    assert set(shown) == {"points", "parts", "drawings"}
    assert "least" not in json.dumps(shown)
    other = SCENARIO.prepare(BEFORE).ask  # the drawing is the same whatever is asked
    assert [each["svg"] for each in other["drawings"]] == [each["svg"] for each in ASK["drawings"]]


def test_each_part_has_a_place_in_every_drawing_and_no_device_another() -> None:
    ask = SCENARIO.prepare(BEFORE).ask
    ids = {part["id"] for part in ask["parts"]}
    assert {"left terminator", "right terminator", "supply", "tap 8", "tap 2 to tap 3"} <= ids
    assert set(DEVICES) <= ids
    for drawn in ask["drawings"]:
        assert set(drawn["boxes"]) == ids
        for left, top, width, height in (box for found in drawn["boxes"].values() for box in found):
            assert 0 <= left < left + width <= drawn["width"]
            assert 0 <= top < top + height <= drawn["height"]
    assert set().union(*(band["boxes"] for band in ask["bands"])) == ids
    assert set(ASK["drawings"][0]["boxes"]) == set(DEVICES)


def test_scoring_draws_nothing() -> None:
    early = draw(LAB, "spot").prepare(THIRSTY)
    assert "drawings" not in early.early_ask
    assert CHECK.check(early.early_ask, early.key_as_needed, RIGHT).right


def test_a_mistake_that_a_draw_does_not_have_is_left_out() -> None:
    made = SCENARIO.prepare(BEFORE)
    assert set(made.key["slips"]) == {"the-tap"}
    [wrong] = CHECK.slip_answers(made.ask, made.key).values()
    assert CHECK.check(made.ask, made.key, wrong).slip == "the-tap"


def test_a_class_is_counted_by_mistakes_since_names_differ() -> None:
    options = {o.name: o for o in CHECK.options(ASK, KEY, [RIGHT[0], OTHER[0]])}
    taken = {name: option.taken for name, option in options.items()}
    assert taken == {"right": True, "slip least": False, "": True}
    right = CHECK.options(ASK, KEY, RIGHT)
    assert [option.right for option in right if option.taken] == [True]


def test_paper_has_the_bare_rows_and_the_instructors_copy_frames_what_is_right() -> None:
    bare, marked = CHECK.paper(ASK), CHECK.paper_right(ASK, KEY)
    assert "Mark 2 places in the drawing with a cross" in bare
    white = re.compile(r'<rect[^>]*stroke="#fff"')
    assert not white.findall(bare)
    assert len(white.findall(marked)) == 2
    assert sorted(re.findall(r'font-size="16.2"[^>]*>(\d)<', marked)) == ["1", "2"]
    assert all(f"{number} {name}" in marked for number, name in enumerate(RIGHT, 1))


ANSWER = "answer: by_current[-2:]"
MISTAKES = [
    ("parts: [device]", "parts: [devices]", "there is no part 'devices' in this network."),
    (
        "parts: [device]",
        "parts: [tap]",
        "is not a part of this network that can be pointed at (tap",
    ),
    ("parts: [device]", "named: yes", "whose parts have names already."),
    (ANSWER, "answer: '\"labelled\"'", "Did you mean 'labeller'?"),
    (ANSWER, "answer: '[]'", "the answer gives 0 places"),
    (ANSWER, f"{ANSWER}\npoints: 1", "'1' gives 1, where 2 to 12 points can be set."),
    (ANSWER, f"{ANSWER}\nplaces: [{{id: a, name: b}}, {{id: c, name: d}}]", "whose parts are the"),
    ("answer: by_current[:2]", "answer: '\"tap 1\"'", "the answer 'tap 1' is not a part"),
    ("[infeed sensors,", "[tap 3,", "Two parts of the network are called 'tap 3'"),
    ("picture: network", "picture: the network", "or 'network' for the drawn network."),
]


@pytest.mark.parametrize(("old", "new", "told"), MISTAKES)
def test_an_authors_mistake_is_told(tmp_path: Path, old: str, new: str, told: str) -> None:
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    assert told in _told(tmp_path, text.replace(old, new, 1))


def test_a_lab_without_a_network_is_told_so(tmp_path: Path) -> None:
    text = re.sub(r"network:\n  family(.*\n)*?---", "---", FILE.read_text(encoding="utf-8"))
    text = re.sub(r"(?m)^  by_current: .*$", "  by_current: names", text)
    assert "there is no network to point into." in _told(tmp_path, text)


@dataclass(frozen=True)
class _NotDrawn:
    """A family's recipe without parts."""

    recipe: Any

    def __getattr__(self, name: str) -> Any:
        if name in dir(doors.DrawsParts):
            raise AttributeError(name)
        return getattr(self.recipe, name)


def test_a_family_whose_drawing_has_no_parts_is_told_at_the_exercise(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    of_ours = lab_reader.LabReader._family

    def family(self: Any) -> Any:
        functions, make = of_ours(self)
        return functions, make and (lambda reader: _NotDrawn(make(reader)))

    monkeypatch.setattr(lab_reader.LabReader, "_family", family)
    told = _told(tmp_path, FILE.read_text(encoding="utf-8"))
    assert "and the family 'devicenet' has none." in told
    assert "exercise 'thirsty'" in told


def _told(folder: Path, text: str) -> str:
    (folder / "lab.md").write_text(text, encoding="utf-8")
    with pytest.raises(DefinitionError) as error:
        _prepared(folder / "lab.md")
    return str(error.value)


def _prepared(file: Path) -> None:
    lab = read_lab(file)
    for seed in ("a", "b", "c"):
        draw(lab, seed).prepare(lab.exercises[0])
