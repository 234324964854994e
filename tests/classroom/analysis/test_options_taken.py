"""What a class took of what it could take, in every kind that says so, and what it shows."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from tiny_class import TINY_LAB, TINY_SECRET, Room

from labkit.classroom.analysis import options_taken as options_taken_module
from labkit.classroom.analysis.options_taken import OptionsTaken, OptionUse, options_taken
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.desk import Debrief
from labkit.doors.check import HasOptions
from labkit.doors.installed import check_for, kinds
from labkit.doors.prepared import Prepared

PICTURE = Path(__file__).parents[2] / "lab" / "labs" / "spots" / "starter.png"
PEOPLE = ("ann", "ben", "cor", "dag", "eva", "fay")
MORE = """
```exercise boxes
kind: several
title: Boxes
question: Which numbers are above 8?
boxes:
  - {id: nine, text: nine, right: yes, missed: Nine is above eight.}
  - {id: ten, text: ten, right: yes}
  - {id: eight, text: eight, right: no, tell: Eight is not above itself.}
  - {id: one, text: one, right: no}
marks: 2
working: Nine and ten.
```

```exercise steps
kind: sequence
title: Steps
question: In which order?
steps:
  - {id: off, text: Switch off.}
  - {id: prove, text: Prove it dead.}
  - {id: work, text: Work.}
  - {id: tidy, text: Tidy up.}
slips:
  - {id: live, order: work before prove, danger: yes, tell: You touch what may be live.}
  - {id: hasty, order: tidy before work, tell: Tidy up at the end.}
marks: 2
working: So.
```

```exercise partners
kind: pairs
title: Partners
question: Which belongs to which?
columns: [Thing, Partner]
pairs:
  - thing: trunk
    partner: long
    slips: [{id: stub, partner: short, tell: The trunk is the long one.}]
  - {thing: drop, partner: short}
  - thing: terminator
    partner: a resistor
    slips: [{id: lit, partner: a lamp, tell: No lamp stands there.}]
others: [a lamp]
marks: 3
working: So.
```

```exercise name
kind: term
title: Its name
question: What stands at the end?
answer: "'terminator'"
terms:
  - {id: terminator, spellings: [terminator, end resistor]}
  - {id: trunk, spellings: [trunk], tell: The trunk is the cable.}
marks: 1
working: A terminator.
```

```exercise part
kind: spot
title: Its place
question: Where is the coil?
picture: "![A starter](starter.png)"
places:
  - {id: infeed, name: the infeed, box: [5, 10, 20, 90], tell: The infeed is at the left.}
  - {id: coil, name: the coil, oval: [30, 30, 45, 70], tell: That is the coil.}
answer: "'coil'"
marks: 1
working: In the middle.
```
"""
OF_TINY = {"double", "parity", "plan"}


def prepared(room: Room, who: str) -> dict[str, Prepared]:
    """Every exercise as a trainee has it."""
    folder, item = room.folder, room.dealt.dealt.find(who, "tiny")
    assert item is not None
    scenario = scenario_of(folder.secret(), "room-7", folder.lab("tiny", dealt=True), item)
    return {each.id: scenario.prepare(each) for each in scenario.lab.exercises}


def letters(made: Prepared, group: str, *texts: str) -> list[str]:
    """The letters under which these texts stand."""
    by_text = {item["text"]: item["id"] for item in made.ask[group]}
    return [by_text[text] for text in texts]


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """Six trainees, dealt alike in every run; the last one answers nothing. Looked at only."""
    home = tmp_path_factory.mktemp("taken")
    made = Room(home / "class", home / "library")
    made.path.mkdir()
    (made.library / "tiny").mkdir(parents=True)
    text = TINY_LAB.replace("LAST", "20") + MORE
    (made.library / "tiny" / "lab.md").write_text(text, encoding="utf-8")
    secret = made.path / "class-secret.txt"
    secret.write_text(f"{TINY_SECRET}\n", encoding="utf-8")
    secret.chmod(0o600)
    made.write_class()
    made.write_roster(*(f"{who},{who.title()} Orrel" for who in PEOPLE))
    shutil.copy(PICTURE, made.library / "tiny")
    made.deal()
    boxes = [("nine", "ten"), ("ten",), ("ten", "eight"), ("ten", "eight"), ("nine", "ten")]
    in_order = ("Switch off.", "Prove it dead.", "Work.", "Tidy up.")
    live = ("Switch off.", "Work.", "Prove it dead.", "Tidy up.")
    turned = ("Prove it dead.", "Switch off.", "Work.", "Tidy up.")
    orders = [in_order, live, live, turned, in_order]
    partners = ["long", "short", "short", "a lamp", "long"]
    typed = ["terminator", "Terminater", "trunk", "Trunk", "bus"]
    points = [[375, 500], [125, 500], [125, 500], [600, 500], [375, 500]]
    for at, who in enumerate(PEOPLE[:5]):
        mine = prepared(made, who)
        order = letters(mine["steps"], "steps", *orders[at])
        answers: dict[str, Any] = {
            "boxes": letters(mine["boxes"], "boxes", *boxes[at]),
            "steps": order,
            "partners": {"1": partners[at], "2": "short"},
            "name": typed[at],
            "part": [points[at]],
        }
        made.hand_in(who, answers)
    made.hand_in("fay", {})
    return made


@pytest.fixture(scope="module")
def taken(room: Room) -> Mapping[str, OptionsTaken]:
    """What was taken, by exercise."""
    return {one.exercise: one for one in options_taken(score(room.folder).results)}


def counts(found: OptionsTaken) -> Mapping[str, tuple[int, int, int, int]]:
    """By text: taken rightly, of so many; taken wrongly, of so many."""
    return {
        use.text: (use.taken_rightly, use.right_for, use.taken_wrongly, use.wrong_for)
        for use in found.options
    }


def use_of(found: OptionsTaken, text: str) -> OptionUse:
    """The line of one option."""
    return next(use for use in found.options if use.text == text)


def test_a_box_is_counted_where_it_is_ticked_and_told_where_it_is_missed(
    taken: Mapping[str, OptionsTaken],
) -> None:
    found = taken["boxes"]
    assert found.answered == 5
    assert counts(found) == {
        "ten": (5, 5, 0, 0),
        "nine": (2, 5, 0, 0),
        "eight": (0, 0, 2, 5),
        "one": (0, 0, 0, 5),
    }
    assert use_of(found, "nine").told == "Nine is above eight."
    assert use_of(found, "eight").told == "Eight is not above itself."
    assert use_of(found, "one").idle


def test_of_steps_the_wrong_orders_are_counted_that_somebody_put(
    taken: Mapping[str, OptionsTaken],
) -> None:
    # How the steps were dealt is a draw: nobody's order of these is the one that was dealt.
    found = taken["steps"]
    made = counts(found)
    answered = found.answered
    live = "“Work” before “Prove it dead”"
    assert made[live][2:] == (2, answered)
    assert use_of(found, live).told == "You touch what may be live."
    assert made["“Prove it dead” before “Switch off”"][2:] == (1, answered)
    # A known mistake is told of though nobody made it, another wrong order is not.
    assert made["“Tidy up” before “Work”"][2:] == (0, answered)
    assert len(made) == 3


def test_of_many_wrong_orders_the_most_frequent_are_shown_and_the_rest_counted(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(options_taken_module, "MOST_UNLISTED", 0)
    results = score(room.folder).results
    (found,) = (one for one in options_taken(results) if one.exercise == "steps")
    assert (len(found.options), found.left_out) == (2, 1)
    _, page = write_analysis(room.folder, score(room.folder))
    assert "1 more were taken, none of them by more trainees than these." in page.read_text("utf-8")


def test_of_pairs_each_thing_has_its_partner_and_what_was_taken_for_it(
    taken: Mapping[str, OptionsTaken],
) -> None:
    found = taken["partners"]
    made = counts(found)
    assert made["trunk: long"] == (2, 5, 0, 0)
    assert made["trunk: short"] == (0, 0, 2, 5)
    assert made["trunk: a lamp"] == (0, 0, 1, 5)
    assert use_of(found, "trunk: short").told == "The trunk is the long one."
    assert made["drop: short"] == (5, 5, 0, 0)
    assert made["terminator: a resistor"] == (0, 5, 0, 0)
    assert made["terminator: a lamp"] == (0, 0, 0, 5)
    assert len(made) == 6
    assert [use.text for use in found.options][:3] == [
        "trunk: long",
        "trunk: short",
        "trunk: a lamp",
    ]


def test_a_term_is_shown_as_it_was_typed(taken: Mapping[str, OptionsTaken]) -> None:
    found = taken["name"]
    assert counts(found) == {
        "terminator": (2, 5, 0, 0),
        "trunk": (0, 0, 2, 5),
        "Another term": (0, 0, 1, 5),
    }
    assert use_of(found, "terminator").typed == (("Terminater", 1), ("terminator", 1))
    assert use_of(found, "trunk").typed == (("Trunk", 1), ("trunk", 1))
    assert use_of(found, "trunk").told == "The trunk is the cable."
    assert use_of(found, "Another term").typed == (("bus", 1),)


def test_a_place_is_counted_where_it_was_pointed_at(taken: Mapping[str, OptionsTaken]) -> None:
    found = taken["part"]
    assert counts(found) == {
        "the coil": (2, 5, 0, 0),
        "the infeed": (0, 0, 2, 5),
        "Elsewhere": (0, 0, 1, 5),
    }
    assert use_of(found, "the infeed").told == "The infeed is at the left."


def test_the_page_says_what_was_taken_by_how_many_and_what_it_shows(room: Room) -> None:
    _, page = write_analysis(room.folder, score(room.folder))
    text = page.read_text("utf-8")
    for title in ("Boxes", "Steps", "Partners", "Its name", "Its place"):
        assert f". {title}</h3>" in text
    assert "Eight is not above itself." in text
    assert "“Terminater” (1)" in text


def test_the_debrief_notebook_shows_what_was_typed_where_something_was(room: Room) -> None:
    chooser, below = Debrief(str(room.path)).exercise().children
    seen = {}
    for name, value in chooser.options:
        chooser.value = value
        seen[name] = below.value
    assert "“Terminater” (1)" in seen["7. Its name"]
    assert "as typed" not in seen["8. Its place"]
    assert "Elsewhere" in seen["8. Its place"]


def test_whatever_the_kind_an_option_is_counted_once(room: Room) -> None:
    """Names are apart, and the right answer takes what is right and nothing else."""
    seen = 0
    for made in (prepared(room, who) for who in PEOPLE):
        for exercise, one in made.items():
            check = check_for(KIND_OF.get(exercise, "quantity"))
            if not isinstance(check, HasOptions):
                continue
            seen += 1
            options = check.options(one.ask, one.key, check.right_answer(one.ask, one.key))
            assert len({option.name for option in options}) == len(options)
            assert all(option.taken == option.right for option in options)
            assert not any(option.told for option in options)
    assert seen == 6 * len(PEOPLE)


KIND_OF = {
    "parity": "choice",
    "boxes": "several",
    "steps": "sequence",
    "partners": "pairs",
    "name": "term",
    "part": "spot",
}


def test_the_kinds_that_say_what_was_taken() -> None:
    # The stranger's kind is held to the same in tests/test_kind_of_another_package.py.
    ours = {kind for kind in kinds() if isinstance(check_for(kind), HasOptions)}
    assert ours == set(KIND_OF.values())
