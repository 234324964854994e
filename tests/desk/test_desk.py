"""The desk's buttons: nothing happens unasked, and what goes wrong is a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.desk import ClassDay, Debrief

CLASS = "id: room-7\ntitle: Room <7>\nlabs: [plan-the-trunk]\nmode: practice\n"


@pytest.fixture
def own_class(tmp_path: Path) -> Path:
    """A class of the instructor's own, not dealt yet."""
    folder = tmp_path / "room"
    folder.mkdir()
    (folder / "class.yaml").write_text(CLASS)
    (folder / "roster.csv").write_text("id,name\nann,Ann <i>Orrel</i>\n")
    return folder


def test_an_own_class_is_touched_only_when_a_button_is_pressed(own_class: Path) -> None:
    day = ClassDay(str(own_class))
    assert "Room &lt;7&gt;: 1 trainees." in day.overview().value
    dealing, looking, scoring = day.dealing(), day.hand_ins(), day.scoring()
    assert sorted(file.name for file in own_class.iterdir()) == ["class.yaml", "roster.csv"]
    dealing.button.click()
    assert "1 dealt, 0 were dealt already." in dealing.below.value
    looking.button.click()
    assert "1 missing." in looking.below.value
    assert "Ann &lt;i&gt;Orrel&lt;/i&gt;" in looking.below.value
    scoring.button.click()
    assert "0 pages for trainees" in scoring.below.value
    assert not scoring.button.disabled


def test_a_trainee_who_came_late_is_dealt_by_the_same_button(own_class: Path) -> None:
    day = ClassDay(str(own_class))
    dealing = day.dealing().press()
    with (own_class / "roster.csv").open("a") as roster:
        roster.write("ben,Ben Tasker\n")
    dealing.button.click()
    assert "1 dealt, 1 were dealt already." in dealing.below.value


def test_what_goes_wrong_is_a_sentence(own_class: Path, tmp_path: Path) -> None:
    scoring = ClassDay(str(own_class)).scoring().press()
    assert "was not dealt yet" in scoring.below.value
    assert 'role="alert"' in scoring.below.value
    assert "was not dealt yet" in Debrief(str(own_class)).summary().value
    (own_class / "class.yaml").write_text("id: [")
    day = ClassDay(str(own_class))
    assert "class.yaml" in day.overview().value
    assert "class.yaml" in day.dealing().below.value
    other = tmp_path / "other"
    other.mkdir()
    (other / "letter.txt").write_text("mine")
    assert "is not a class folder" in ClassDay(str(other)).overview().value
    assert [file.name for file in other.iterdir()] == ["letter.txt"]


def test_a_debrief_before_any_hand_in_says_so(own_class: Path) -> None:
    ClassDay(str(own_class)).dealing().press()
    debrief = Debrief(str(own_class))
    assert "0 of 1 handed in" in debrief.summary().value
    for shown in (debrief.page(), debrief.exercise(), debrief.table()):
        assert "nothing to debrief" in shown.value
