"""The desk's buttons: nothing happens unasked, and what goes wrong is a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.classroom.analysis import copied
from labkit.desk import ClassDay, Debrief
from labkit.exchange.hand_in import pack

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
    debrief = Debrief(str(own_class))
    for panel in (debrief.summary(), debrief.page(), debrief.exercise(), debrief.table()):
        assert "was not dealt yet" in panel.value
        assert "handed in" not in panel.value
    box, below = debrief.in_person().children
    box.value = True
    assert "was not dealt yet" in below.value
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


def test_names_come_when_asked_for_and_with_what_was_compared(
    own_class: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copied, "ALL_COMPARED", 0)
    ClassDay(str(own_class)).dealing().press()
    pack(own_class / "workbooks" / "ann" / "plan-the-trunk.task.json", own_class / "hand-ins")
    box, below = Debrief(str(own_class)).in_person().children
    assert "Hidden." in below.value
    box.value = True
    assert "Nothing stands out." in below.value
    assert "More than 0 handed in" in below.value


def test_a_retake_is_dealt_to_those_chosen_when_its_button_is_pressed(own_class: Path) -> None:
    with (own_class / "roster.csv").open("a") as roster:
        roster.write("ben,Ben Tasker\n")
    day = ClassDay(str(own_class))
    retakes = day.retakes()
    assert "deal first" in retakes.panel.below.value
    day.dealing().press()
    assert [file.name for file in (own_class / "workbooks").rglob("attempt-*")] == []
    retakes.panel.button.click()
    assert "Choose who may try again" in retakes.panel.below.value
    assert [name for name, _ in retakes.who.options] == [
        "Ann <i>Orrel</i> (ann)",
        "Ben Tasker (ben)",
    ]
    retakes.who.value = ("ann",)
    retakes.panel.button.click()
    shown = retakes.panel.below.value
    assert str(own_class / "workbooks" / "ann" / "attempt-2") in shown
    assert "Ann &lt;i&gt;Orrel&lt;/i&gt; (ann) has made 0 attempt(s)" in shown
    assert (own_class / "workbooks" / "ann" / "attempt-2").is_dir()
    assert not (own_class / "workbooks" / "ben" / "attempt-2").exists()
    with (own_class / "class.yaml").open("a") as rules:
        rules.write("attempts: 2\n")
    retakes.panel.button.click()
    assert 'role="alert"' in retakes.panel.below.value
    assert "allows no more" in retakes.panel.below.value


def test_the_overview_names_seats_that_became_dates(own_class: Path) -> None:
    (own_class / "roster.csv").write_text("id,name,seat\nann,Ann,03. Apr\n")
    shown = ClassDay(str(own_class)).overview().value
    assert "line 2: the seat &#x27;03. Apr&#x27; is a date" in shown
