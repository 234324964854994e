"""Topics by people: from the room's journals and from hand-ins, each draw once, practice alone."""

from __future__ import annotations

import pytest
from set_clock import SetClock
from tiny_class import MakeRoom, Room
from topic_class import ADDRESSES, DROP, MONDAY, TUESDAY, drilled, room_journal, with_topics

from labkit.answering.topics import Standing
from labkit.classroom.corrections.correcting import void
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.first_answers import FirstAnswers
from labkit.classroom.marks.by_topic import ByTopic, by_topic
from labkit.classroom.marks.scoring import score
from labkit.exchange.journal import ANSWER, HINT
from labkit.lab.draw import Scenario


@pytest.fixture
def made(make_room: MakeRoom) -> Room:
    made = with_topics(make_room)
    made.deal()
    return made


def looked(made: Room) -> ByTopic:
    return by_topic(made.folder, lambda *_: None)


def standing_of(made: Room, trainee: str, topic: str = DROP) -> Standing:
    [person] = [one for one in looked(made).people if one.id == trainee]
    return person.standings.get(topic, Standing())


def answers(made: Room, trainee: str, wrong: bool = False) -> None:
    number = 2 * made.number(trainee) + wrong
    room_journal(made, trainee).append(ANSWER, exercise="double", answer=f"{number} m")


def test_before_the_deal_there_is_nothing_to_read(make_room: MakeRoom) -> None:
    with pytest.raises(ClassError):
        looked(with_topics(make_room))


def test_everybody_stands_there_in_the_order_of_the_deal_with_all_topics(made: Room) -> None:
    found = looked(made)
    assert found.topics == (ADDRESSES, DROP)
    assert [(one.name, one.standings) for one in found.people] == [
        ("Ann Orrel", {}),
        ("Ben Tasker", {}),
        ("Cy Morland", {}),
    ]
    assert found.without == ()


def test_an_own_answer_and_drills_of_two_days_make_it_sit(made: Room, clock: SetClock) -> None:
    clock.set(MONDAY.format(1))
    answers(made, "ann")
    clock.set(MONDAY.format(2))
    drilled(made, "ann", "d1", 1.0)
    assert standing_of(made, "ann") == Standing(tried=2, running=2, days=1)
    clock.set(TUESDAY.format(1))
    drilled(made, "ann", "d1", 1.0)  # the same numbers once more
    assert not standing_of(made, "ann").sits
    drilled(made, "ann", "d2", 1.0)
    assert str(standing_of(made, "ann").since) == "2031-05-06"
    assert standing_of(made, "ben") == Standing()
    drilled(made, "ann", "d3", 0.5)
    assert standing_of(made, "ann") == Standing(tried=4)


def test_a_wrong_answer_and_a_hint_count_as_the_rule_says(made: Room) -> None:
    answers(made, "ann", wrong=True)
    answers(made, "ann")  # it was told what is wrong
    assert standing_of(made, "ann") == Standing(tried=1)
    room_journal(made, "ben").append(HINT, exercise="double", hint=1)
    answers(made, "ben")
    assert standing_of(made, "ben") == Standing(tried=1)


def test_what_cannot_be_read_is_no_try(made: Room) -> None:
    room_journal(made, "ann").append(ANSWER, exercise="double", answer="long")
    assert standing_of(made, "ann") == Standing()
    answers(made, "ann")
    assert standing_of(made, "ann") == Standing(tried=1, running=1, days=1)


def test_a_hand_in_counts_once_it_is_in_the_records(made: Room) -> None:
    made.hand_in("cy")
    assert standing_of(made, "cy") == Standing()
    score(made.folder)
    assert standing_of(made, "cy") == Standing(tried=1, running=1, days=1)
    assert standing_of(made, "cy", ADDRESSES) == Standing(tried=1, running=1, days=1)
    made.hand_in("cy")
    score(made.folder)
    assert standing_of(made, "cy").tried == 1


def test_what_lies_in_the_room_and_in_a_hand_in_counts_once(made: Room) -> None:
    made.hand_in("cy")
    score(made.folder)
    answers(made, "cy")
    assert standing_of(made, "cy").tried == 1


def test_a_voided_exercise_counts_for_nobody(made: Room) -> None:
    made.hand_in("cy")
    score(made.folder)
    void(made.folder, "tiny", "double", reason="a misprint", by="R. Ops")
    assert standing_of(made, "cy") == Standing()
    assert standing_of(made, "cy", ADDRESSES).tried == 1


def test_an_assessed_lab_counts_nowhere(make_room: MakeRoom) -> None:
    made = with_topics(make_room, mode="assessed")
    made.deal()
    answers(made, "ann")
    found = looked(made)
    assert (found.topics, found.without) == ((), ())
    assert standing_of(made, "ann") == Standing()


def test_a_lab_without_topics_is_told(make_room: MakeRoom) -> None:
    made = make_room()
    made.deal()
    answers(made, "ann")
    assert looked(made).without == ("Tiny lab",)
    assert standing_of(made, "ann", "") == Standing()


def test_who_left_the_class_is_not_shown(made: Room) -> None:
    made.write_roster("ann,Ann Orrel")
    assert [one.id for one in looked(made).people] == ["ann"]


def test_numbers_are_drawn_only_where_an_answer_is_to_be_checked(made: Room) -> None:
    folder, item = made.folder, made.dealt.dealt.find("ann", "tiny")
    assert item is not None
    lab, drawn = folder.lab("tiny", dealt=True), []

    def scenario(of: Dealt) -> Scenario:
        drawn.append(of)
        return scenario_of(folder.secret(), "room-7", lab, of)

    first, journal = FirstAnswers(scenario), room_journal(made, "ann")
    drilled(made, "ann", "d1", 1.0)
    first.of(item, lab, journal.read().entries)
    assert drawn == []
    answers(made, "ann")
    answers(made, "ann", wrong=True)
    for _ in range(2):
        found = first.of(item, lab, journal.read().entries)
    assert [one.right for one in found] == [True, True]
    assert drawn == [item]
