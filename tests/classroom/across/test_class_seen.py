"""What a class says beside others, against its own score sheet read by pandas, and statsmodels."""

from __future__ import annotations

import pandas as pd
import pytest
from labkit_here import fails, labkit
from statsmodels.stats.proportion import proportion_confint
from tiny_class import MakeRoom, Room

from labkit.classroom.across.seen import seen
from labkit.classroom.marks.scoring import score
from labkit.desk.tables import score_table


@pytest.fixture
def room(make_room: MakeRoom) -> Room:
    room = make_room(title="Room 7 in May", date="2026-05-04", pass_mark="60")
    room.deal()
    room.hand_in("ann")
    room.hand_in("ben", {**room.right("ben"), "double": "1 km"})
    return room


def test_people_and_labs_are_those_of_the_score_sheet(room: Room) -> None:
    sheet = score_table(score(room.folder)).set_index("id")
    found = seen(room.folder)
    assert [one.trainee for one in found.people] == list(sheet.index)
    for one in found.people:
        percent = sheet.percent[one.trainee]
        assert one.handed_in == int(sheet.state[one.trainee] == "scored")
        assert pd.isna(percent) or one.spoken == f"{percent:.1f} %"
    (lab,) = found.labs
    assert (lab.lab, lab.version, lab.practice, lab.handed_in) == ("tiny", "1.0.0", True, 2)
    assert lab.mean == pytest.approx(sheet.percent.mean(), abs=0.05)
    assert lab.interval is not None
    assert lab.mean is not None
    # statsmodels' score interval of Wilson takes part marks too.
    low, high = proportion_confint(2 * lab.mean / 100, 2, method="wilson")
    assert (lab.interval.low, lab.interval.high) == pytest.approx((100 * low, 100 * high))


def test_looking_marks_nothing_and_a_class_that_is_not_dealt_says_nothing(room: Room) -> None:
    found = seen(room.folder)
    assert [one.handed_in for one in found.people] == [0, 0, 0]
    assert found.labs == ()
    assert not (room.path / "records.sqlite").exists()
    room.folder.deal_file.unlink()
    assert seen(room.folder).people == ()


def test_the_command_tells_of_all_classes_and_of_one_that_cannot_be_read(room: Room) -> None:
    score(room.folder)
    broken = room.path.parent / "broken"
    broken.mkdir()
    (broken / "class.yaml").write_text("title: none\n", encoding="utf-8")
    told = labkit("year", ".", cwd=room.path.parent).stdout
    assert "ann  Ann Orrel  2026-05-04 Room 7 in May: 100.0 %, passed" in told
    assert "cy  Cy Morland  2026-05-04 Room 7 in May: nothing handed in" in told
    assert "tiny 1.0.0, Room 7 in May: 2 handed in, mean" in told
    assert "✗ broken: " in told
    assert "No class lies in" in fails("year", ".", cwd=room.path)
