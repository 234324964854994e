"""Alike hand-ins: chance alone is named as often as the page says, planted copying is found."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.analysis import copied
from labkit.classroom.analysis.copied import CopiedSearch, copied_numbers, expected_pairs
from labkit.classroom.analysis.shared_slips import mistakes, shared_mistakes
from labkit.classroom.analysis.table import Flags, Floats, mark_tables
from labkit.classroom.analysis.whole import ALIKE_LEVEL
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing import seeds
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.pages.reports import write_pages
from labkit.doors.check import NumberInSpan
from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw, draw_again
from labkit.lab.library import lab_library
from labkit.lab.library_labs import library_labs

CLASSES = 300
# In 300 classes where nobody worked together, 18 or more false alarms are less likely than one in a
# thousand if each class has one with 0.025 (binomial).
MOST_FALSE_ALARMS = 17


def alone(chance: np.random.Generator, people: int = 12, exercises: int = 10) -> list[list[Any]]:
    """Everybody for themselves: stronger and weaker people, mistakes of unequal attraction."""
    strength = chance.normal(size=people)
    hard = chance.normal(size=exercises)
    wrong = chance.random((people, exercises)) < 1 / (1 + np.exp(strength[:, None] - hard))
    kinds = ["a", "b", "c", "d", "e"]
    lure = [0.4, 0.25, 0.15, 0.1, 0.1]
    return [
        [str(chance.choice(kinds, p=lure)) if wrong[p, e] else None for e in range(exercises)]
        for p in range(people)
    ]


def test_who_worked_alone_is_named_as_seldom_as_the_page_says() -> None:
    alarms = 0
    for seed in range(CLASSES):
        pairs = shared_mistakes(alone(np.random.default_rng(seed)))
        alarms += any(pair.adjusted <= ALIKE_LEVEL for pair in pairs)
    assert alarms <= MOST_FALSE_ALARMS
    # The rate is held by the adjustment: without it, chance would name somebody in most classes.
    raw = [
        any(p.probability <= ALIKE_LEVEL for p in shared_mistakes(alone(np.random.default_rng(s))))
        for s in range(40)
    ]
    assert sum(raw) > 20


def test_a_copied_sheet_of_mistakes_is_found_and_nobody_else() -> None:
    found, wrongly = 0, 0
    for seed in range(40):
        chance = np.random.default_rng(seed)
        made = alone(chance)
        # Trainee 3 is wrong in eight exercises; trainee 7 copied them all.
        made[3] = [str(chance.choice(list("abcde"))) for _ in range(8)] + [None, None]
        made[7] = list(made[3])
        named = {(p.first, p.second) for p in shared_mistakes(made) if p.adjusted <= ALIKE_LEVEL}
        found += (3, 7) in named
        wrongly += bool(named - {(3, 7)})
    assert found >= 36
    assert wrongly <= 4


def test_a_shared_pattern_has_exactly_the_probability_of_dealing_mistakes_round() -> None:
    made: list[list[str | None]]
    made = [["a", "x"], ["a", "x"], ["b", "x"], ["b", "y"], [None, "y"]]
    pair = next(p for p in shared_mistakes(made) if (p.first, p.second) == (0, 1))
    # Every order of each column's mistakes among those who were wrong is equally likely.
    reached = total = 0
    weigh_a, weigh_x, weigh_y = (round(-math.log(p) / 0.05) for p in (2 / 12, 6 / 20, 2 / 20))
    seen = weigh_a + weigh_x
    for first in itertools.permutations("aabb"):
        for second in itertools.permutations("xxxyy"):
            points = weigh_a * (first[0] == first[1])
            if second[0] == second[1]:
                points += weigh_x if second[0] == "x" else weigh_y
            reached += points >= seen
            total += 1
    assert pair.probability == pytest.approx(reached / total)
    assert pair.exercises == (0, 1)
    assert pair.both_wrong == 2
    assert pair.adjusted == pytest.approx(min(1, 10 * pair.probability))


def test_a_mistake_that_all_make_tells_nothing() -> None:
    assert {p.probability for p in shared_mistakes([["a"] * 6] * 5)} == {1.0}
    assert shared_mistakes([]) == []
    assert shared_mistakes([["a", None]]) == []


def test_leaving_out_what_cannot_stand_out_leaves_out_nothing_that_does() -> None:
    left_out = 0
    for seed in range(30):
        chance = np.random.default_rng(seed)
        made = alone(chance, people=70, exercises=8)
        for one, other in ((3, 7), (20, 41), (20, 42)):
            made[other][:6] = made[one][:6] = [f"{one}{e}" for e in range(6)]
        everyone = shared_mistakes(made)
        for most in (0.9, 0.5, ALIKE_LEVEL):
            few = shared_mistakes(made, most)
            assert [p for p in everyone if p.adjusted <= most] == [
                p for p in few if p.adjusted <= most
            ]
        left_out += len(everyone) - len(few)
    assert left_out > 30 * 900


def test_shared_mistakes_of_all_pairs_are_found_over_block_borders() -> None:
    made = alone(np.random.default_rng(1), people=150, exercises=4)
    found = {(p.first, p.second): p.exercises for p in shared_mistakes(made)}
    for first, second in itertools.combinations(range(150), 2):
        pairs = enumerate(zip(made[first], made[second], strict=True))
        same = tuple(e for e, (a, b) in pairs if a and a == b)
        assert found.get((first, second), ()) == same


def hits_of_a_class(
    chance: np.random.Generator, people: int, draws: int, values: int = 25, shared: int = 4
) -> tuple[Flags, Flags]:
    """Wrong answers against keys that hang together within a scenario, as real ones do."""
    exercises = 8

    def keys(count: int) -> np.ndarray:
        # One part of the scenario decides the first few keys, the others are their own.
        common = chance.integers(0, values, (count, 1))
        own = chance.integers(0, values, (count, exercises))
        return np.where(np.arange(exercises) < shared, common, own)

    answers = keys(people)
    answers[
        chance.random(answers.shape) < 0.5
    ] = -1  # right with their own numbers: no wrong answer
    scenarios, fresh = keys(people), keys(draws)
    in_class = answers[:, None, :] == scenarios[None]
    in_class[np.arange(people), np.arange(people)] = False
    return in_class, answers[:, None, :] == fresh[None]


def expected_of_all(in_class: Flags, beside: Flags) -> Floats:
    """How many pairs chance would put as high, for every ordered pair, (n, n)."""
    people = len(in_class)
    writers, owners = np.nonzero(in_class.any(axis=2))
    found = np.full((people, people), math.inf)
    found[writers, owners] = expected_pairs(
        people * (people - 1), writers, in_class[writers, owners], beside
    )
    return found


def test_chance_hits_anothers_numbers_no_more_often_than_the_page_says() -> None:
    alarms, reached = 0, 0
    for seed in range(CLASSES):
        in_class, beside = hits_of_a_class(np.random.default_rng(seed), 10, 800)
        expected = expected_of_all(in_class, beside)
        alarms += bool((expected <= ALIKE_LEVEL).any())
        reached += bool((expected <= 0.5).any())
    assert alarms <= MOST_FALSE_ALARMS
    # And the figure means what it says: 0.5 pairs expected is reached in some classes, not in most.
    assert 0.1 * CLASSES < reached <= 0.5 * CLASSES


def test_between_neighbours_alone_the_rate_holds_as_well() -> None:
    alarms = 0
    people = 60
    left = np.arange(people - 1)
    writers, owners = np.concatenate([left, left + 1]), np.concatenate([left + 1, left])
    for seed in range(CLASSES):
        in_class, beside = hits_of_a_class(np.random.default_rng(seed), people, 160)
        expected = expected_pairs(len(writers), writers, in_class[writers, owners], beside)
        alarms += bool((expected <= ALIKE_LEVEL).any())
    assert alarms <= MOST_FALSE_ALARMS


@pytest.mark.parametrize(("keys", "at_least"), [(1, 0), (3, 20), (4, 28)])
def test_several_of_anothers_numbers_stand_out_and_a_single_one_cannot(
    keys: int, at_least: int
) -> None:
    found = 0
    exercises = list(range(8 - keys, 8))
    for seed in range(30):
        chance = np.random.default_rng(seed)
        in_class, beside = hits_of_a_class(chance, 10, 800, values=60, shared=2)
        # Trainee 4 has written keys of trainee 6, each right in one of sixty draws.
        in_class[4, 6] = False
        in_class[4, 6, exercises] = True
        beside[4, :, exercises] = chance.random((keys, 800)) < 1 / 60
        found += bool(expected_of_all(in_class, beside)[4, 6] <= ALIKE_LEVEL)
    assert found >= at_least
    assert keys > 1 or found == 0


def searched(room: Room) -> tuple[list[str], CopiedSearch]:
    scoring = score(room.folder)
    (table,) = mark_tables(scoring.labs, scoring.results)
    return [result.dealt.trainee for result in table.results], copied_numbers(table)


PEOPLE = tuple(f"p{number},Person {number}" for number in range(8))


def test_a_neighbours_number_is_found_with_who_and_what(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(8):
        room.hand_in(f"p{number}")
    # Tried the neighbour's number first, and put it right afterwards.
    room.hand_in("p2", {"double": f"{2 * room.number('p5')} m"})
    room.hand_in("p2")
    names, search = searched(room)
    (pair,) = search.pairs
    assert (names[pair.writer], names[pair.owner]) == ("p2", "p5")
    assert [(hit.exercise, hit.written) for hit in pair.hits] == [
        ("double", f"{2 * room.number('p5')} m")
    ]
    assert pair.hits[0].share_of_draws < 0.01
    assert pair.expected <= ALIKE_LEVEL
    assert search.draws == 800
    assert searched(room)[1] == search


def test_in_more_than_a_room_neighbours_alone_are_compared(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copied, "ALL_COMPARED", 7)
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(8):
        room.hand_in(f"p{number}")
    # The roster's lines are the seats: 2 sits beside 3, and 5 far from 1.
    room.hand_in("p2", {"double": f"{2 * room.number('p3')} m"})
    room.hand_in("p5", {"double": f"{2 * room.number('p1')} m"})
    scoring = score(room.folder)
    (table,) = mark_tables(scoring.labs, scoring.results)
    search = copied.copied_numbers(table, None, scoring.results.beside)
    assert [(pair.writer, pair.owner) for pair in search.pairs] == [(2, 3)]
    assert search.pairs[0].expected <= ALIKE_LEVEL
    assert (search.compared, search.only_beside) == (14, True)
    _, page = write_analysis(room.folder, scoring)
    assert "sit beside one another" in page.read_text()
    room.folder.roster_file.unlink()
    lost = score(ClassFolder.open(room.path))
    search = copied.copied_numbers(table, None, lost.results.beside)
    assert (search.pairs, search.compared) == ((), 0)
    _, page = write_analysis(room.folder, lost)
    assert "the roster names nobody" in page.read_text()


def test_the_search_ends_as_soon_as_nothing_can_stand_out(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE, last=9)
    room.deal()
    for number in range(8):
        room.hand_in(f"p{number}", {"double": f"{2 * room.number('p1')} m"})
    _, search = searched(room)
    assert search.pairs
    assert search.draws == copied.FIRST_DRAWS


def test_where_few_numbers_are_drawn_a_hit_tells_nothing(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE[:4], last=5)
    room.deal()
    for number in range(4):
        room.hand_in(f"p{number}")
    room.hand_in("p2", {"double": f"{2 * room.number('p1')} m"})
    _, search = searched(room)
    assert len(search.pairs) == 1
    # One of five numbers: 12 pairs, a quarter of them with a wrong answer, each right in a fifth.
    assert search.pairs[0].expected == pytest.approx(12 / 4 / 5, abs=0.1)


def test_an_option_counts_by_what_it_says_and_not_by_its_letter(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(8):
        # "Odd" is right for nobody, whatever letter it has for whom.
        room.hand_in(f"p{number}", {"parity": room.option(f"p{number}", "It is odd.")})
    names, search = searched(room)
    assert search.pairs == ()
    scoring = score(room.folder)
    (table,) = mark_tables(scoring.labs, scoring.results)
    assert mistakes(table) == [[None, "slip odd", None]] * len(names)


BOXES = """
```exercise boxes
kind: several
title: Bits
question: Which bits of {{ a }} are set?
boxes:
  - {id: b0, text: bit 0, right: 'a % 2 == 1'}
  - {id: b1, text: bit 1, right: 'a // 2 % 2 == 1'}
  - {id: b2, text: bit 2, right: 'a // 4 % 2 == 1'}
  - {id: b3, text: bit 3, right: 'a // 8 % 2 == 1'}
  - {id: b4, text: bit 9, right: no}
none: yes
marks: 2
working: So.
```
"""


def boxes_of(room: Room, who: str) -> dict[str, Any]:
    """The boxes of a trainee, and those that are right, by their texts."""
    folder, item = room.folder, room.dealt.dealt.find(who, "tiny")
    assert item is not None
    scenario = seeds.scenario_of(folder.secret(), "room-7", folder.lab("tiny", dealt=True), item)
    made = scenario.prepare(scenario.lab.exercises[-1])
    letters = {box["text"]: box["id"] for box in made.ask["boxes"]}
    return {"letters": letters, "right": [t for t in letters if letters[t] in made.key["right"]]}


def test_boxes_count_by_what_they_say_and_not_by_their_letters(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE)
    with (room.library / "tiny" / "lab.md").open("a", encoding="utf-8") as file:
        file.write(BOXES)
    room.deal()
    mine, others = boxes_of(room, "p2"), boxes_of(room, "p7")
    copied_boxes = [mine["letters"][text] for text in others["right"]]
    assert copied_boxes
    assert set(copied_boxes) != {others["letters"][text] for text in others["right"]}
    assert set(others["right"]) != set(mine["right"])
    for number in range(8):
        room.hand_in(f"p{number}", {"boxes": copied_boxes} if number == 2 else {})
    names, search = searched(room)
    owners = {names[pair.owner] for pair in search.pairs}
    alike = {
        f"p{n}"
        for n in range(8)
        if n != 2 and set(boxes_of(room, f"p{n}")["right"]) == set(others["right"])
    }
    assert "p7" in owners
    assert owners == alike


def test_blank_and_unreadable_hand_ins_are_no_copies(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE[:3])
    room.deal()
    room.hand_in("p0", {"double": "no idea", "plan": 5, "parity": None})
    room.hand_in("p1", {})
    assert searched(room)[1].pairs == ()


def test_numbers_compared_at_once_are_right_where_the_check_says_so() -> None:
    compared = 0
    for lab in library_labs(lab_library()).values():
        assert isinstance(lab, Lab)
        exercises = [one for one in lab.exercises if one.kind == "quantity"]
        check = check_for("quantity")
        assert isinstance(check, NumberInSpan)
        scenarios = [draw(lab, f"at once {number}") for number in range(4)] if exercises else []
        for exercise in exercises:
            prepared = [scenario.prepare(exercise) for scenario in scenarios]
            typed = [check.right_answer(one.ask, one.key) for one in prepared]
            typed += [answer for one in prepared for answer in near_the_ends(one, check)]
            typed += ["", "no idea", 7, None, "1 V", "2.5 m", *slips_of(prepared, check)]
            column = copied._Column(0, exercise, [[copied._Wrong(one, "")] for one in typed])
            for one in prepared:
                right = [check.check(one.ask, one.key, answer).right for answer in typed]
                assert column.hits(one).tolist() == right
                compared += sum(right)
    assert compared > 100


def near_the_ends(prepared: Prepared, check: Any) -> list[str]:
    """Answers just inside and just outside of what is right."""
    unit = prepared.ask["unit"]
    ends = check.span(prepared.ask, prepared.key)
    return [f"{end + step:.12f} {unit}" for end in ends for step in (-1e-6, 0, 1e-6)]


def slips_of(prepared: list[Prepared], check: Any) -> list[str]:
    return [answer for one in prepared for answer in check.slip_answers(one.ask, one.key).values()]


def test_a_hand_ins_scenario_is_prepared_once_for_marks_pages_and_analysis(
    make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(8):
        room.hand_in(f"p{number}")
    made: list[str] = []

    def counted(lab: Lab, seed: str, tries: int) -> Scenario:
        made.append(seed)
        return draw_again(lab, seed, tries)

    monkeypatch.setattr(seeds, "draw_again", counted)
    scoring = score(room.folder)
    write_pages(room.folder, scoring)
    write_analysis(room.folder, scoring)
    assert len(made) == 8


def test_same_unexplained_text_is_the_same_mistake(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE[:3])
    room.deal()
    room.hand_in("p0", {"double": "777777777 m"})
    room.hand_in("p1", {"double": " 777777777  M".lower()})
    room.hand_in("p2", {"double": f"{2 * room.number('p2') + 1} m"})
    scoring = score(room.folder)
    (table,) = mark_tables(scoring.labs, scoring.results)
    first, second, third = (row[0] for row in mistakes(table))
    assert first == second == "text 777777777 m"
    assert third == "slip one-more"
