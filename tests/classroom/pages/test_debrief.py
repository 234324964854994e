"""What the trainer reads after class: right counts, the author's words, no names, no fetching."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from harmless_pages import Page
from tiny_class import MakeRoom, Room

from labkit.classroom.analysis.at_fault import doubts, without_doubts
from labkit.classroom.analysis.charts import score_chart
from labkit.classroom.analysis.effort import PAUSE, effort_figures, time_spent, times
from labkit.classroom.analysis.in_person import people_to_see
from labkit.classroom.analysis.intervals import wilson
from labkit.classroom.analysis.misunderstood import rank_slips
from labkit.classroom.analysis.options_taken import options_taken
from labkit.classroom.analysis.table import mark_tables
from labkit.classroom.analysis.teach_again import Lesson, lessons, well_known
from labkit.classroom.analysis.whole import LabAnalysis, analyse
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.correcting import void
from labkit.classroom.dealing.deal import deal
from labkit.classroom.handins import demo
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import read_debrief, write_analysis
from labkit.classroom.pages.reports import overview_page
from labkit.doors.verdict import awaiting
from labkit.kinds.quantity.check import QuantityCheck
from labkit.lab.library import lab_library

PEOPLE = tuple(f"p{number},Person <b>{number}</b>" for number in range(1, 8))


@pytest.fixture
def seven(make_room: MakeRoom) -> Room:
    """Three of seven count one too many, two take "odd", one is blank, one hands in nothing."""
    made = make_room(*PEOPLE, pass_mark="60")
    made.deal()
    for number in range(1, 7):
        answers = made.right(f"p{number}")
        if number <= 3:
            answers["double"] = f"{2 * made.number(f'p{number}') + 1} m"
        if number in (3, 4):
            answers["parity"] = made.option(f"p{number}", "It is odd.")
        made.hand_in(f"p{number}", {} if number == 6 else answers)
    return made


def written(room: Room) -> tuple[Page, Page, str]:
    """Both pages, and the text of the first."""
    folder = room.folder
    debrief, figures = write_analysis(folder, score(folder))
    text = debrief.read_text("utf-8")
    return Page(text), Page(figures.read_text("utf-8")), text


def words(page: Page) -> str:
    return " ".join(page.words.split())


def analysed(room: Room) -> LabAnalysis:
    scoring = score(room.folder)
    (lab,) = analyse(scoring.labs, scoring.results, scoring.results.beside)
    return lab


def test_slips_are_ranked_with_who_and_the_authors_words(seven: Room) -> None:
    first, second = rank_slips(score(seven.folder).results)
    assert (first.slip, first.trainees, first.handed_in) == ("one-more", ("p1", "p2", "p3"), 6)
    assert first.told == f"You counted *one* more than {2 * seven.number('p1')} m."
    assert (second.slip, second.count, second.told) == ("odd", 2, "Twice a whole number is even.")


TABLE = """\
```exercise table
kind: table
title: Halves and doubles
question: Fill in the table.
columns: [What, Metres]
rows:
  - cells: [half, {answer: a / 2, unit: m}]
  - cells: [double, {answer: twice, unit: m, slips: [{id: same, answer: a, tell: 'Take *twice*.'}]}]
marks: 2
working: Twice {{ a }} m is {{ twice }} m.
```
"""


def test_of_a_table_the_mistake_is_told_and_not_how_many_cells_are_right(
    make_room: MakeRoom,
) -> None:
    room = make_room("ann,Ann Orrel", "ben,Ben Tasker")
    file = room.library / "tiny" / "lab.md"
    file.write_text(file.read_text("utf-8").split("```exercise plan")[0] + TABLE, encoding="utf-8")
    room.deal()
    for who in ("ann", "ben"):
        room.hand_in(who, {"table": {"1.2": "999 m", "2.2": f"{room.number(who)} m"}})
    (slip,) = rank_slips(score(room.folder).results)
    assert (slip.slip, slip.count, slip.told) == ("same", 2, "Take *twice*.")
    again, *_ = lessons(analysed(room))
    assert (again.about, again.told, again.sharing) == ("mistake", "Take *twice*.", 2)
    assert "Take <em>twice</em>." in overview_page(room.folder, score(room.folder))


def test_each_option_is_counted_for_those_for_whom_it_was_right_or_wrong(seven: Room) -> None:
    (choice,) = options_taken(score(seven.folder).results)
    assert choice.answered == 5
    even, odd = choice.options
    assert (even.name, even.right_for, even.taken_rightly, even.taken_wrongly) == ("even", 5, 3, 0)
    assert (odd.text, odd.wrong_for, odd.taken_wrongly, odd.idle) == ("It is odd.", 5, 2, False)


def test_an_option_that_tempts_nobody_is_said_to(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(1, 8):
        room.hand_in(f"p{number}")
    even, odd = options_taken(score(room.folder).results)[0].options
    assert (odd.idle, even.idle) == (True, False)
    assert words(written(room)[1]).count("tempts nobody") == 1


def entry(at: str, event: str = "answer", exercise: str | None = "x") -> dict[str, str]:
    named = {"exercise": exercise} if exercise else {}
    return {"at": f"2026-11-25T{at}Z", "event": event, **named}


def test_time_goes_to_the_later_entry_and_pauses_to_nobody() -> None:
    spent = time_spent(
        [
            entry("08:00:00", "opened", None),
            entry("08:02:00"),
            entry("08:03:30", "hint", "y"),
            entry("08:05:00", exercise="y"),
            entry("08:20:00", exercise="y"),  # exactly fifteen minutes: still work
            entry("08:35:01", exercise="z"),  # one second more: a pause
            entry("08:40:00", "opened", None),  # back again: nobody knows what was before
            entry("08:41:00", exercise="z"),
            entry("08:44:00", "handed in", None),
        ]
    )
    assert spent.seconds == {"x": 120, "y": 90 + 90 + PAUSE, "z": 60}
    assert spent.pauses == 1


def test_clocks_that_go_back_and_times_that_are_none_give_no_time() -> None:
    odd = [{"at": at, "event": "answer", "exercise": "x"} for at in (None, 5, "soon", "2026-11-25")]
    spent = time_spent([entry("08:00:00"), *odd, entry("07:00:00"), entry("07:00:40")])
    assert (spent.seconds, spent.pauses) == ({"x": 40}, 0)
    assert time_spent([{"event": "answer", "exercise": ["x"], "at": "2026-11-25T08:00:00Z"}]) == (
        time_spent([])
    )


def test_tries_and_hints_are_added_up(seven: Room) -> None:
    seven.hand_in("p1", hints=2)
    scoring = score(seven.folder)
    (table,) = mark_tables(scoring.labs, scoring.results)
    double = effort_figures(table, times(table))[0]
    assert (double.answered, double.tries, double.more_than_one_try) == (5, 6, 1)
    assert (double.hints, double.took_hints, double.hint_cost) == (2, 1, 1.5)


def test_lessons_count_quote_and_say_how_sure(seven: Room) -> None:
    """One of six is less than two, so what is left blank in "plan" is no lesson."""
    lab = analysed(seven)
    double, parity = lessons(lab)
    assert (double.exercise, double.number, double.title) == ("double", 1, "Double it")
    assert double.told == f"You counted *one* more than {2 * seven.number('p1')} m."
    assert double.sentence == "Three of six made this mistake."
    reach = wilson(3 / 6, 6)
    assert double.sure == (
        f"Among many people taught like these it would be {100 * reach.low:.0f} to "
        f"{100 * reach.high:.0f} of 100."
    )
    assert parity.told == "Twice a whole number is even."
    assert parity.sentence == "Two of six made this mistake."
    assert [item.exercise for item in well_known(lab)] == []


def test_what_is_blank_or_goes_badly_is_taught_with_the_mistake_that_two_share(
    make_room: MakeRoom,
) -> None:
    """Of eleven two count one too many: too few to come first, but their words stand there."""
    room = make_room(*(f"q{number},Q" for number in range(11)))
    room.deal()
    for number in range(11):
        answers = room.right(f"q{number}")
        twice = 2 * room.number(f"q{number}")
        if number < 2:
            answers["double"] = f"{twice + 1} m"
        elif number < 6:
            answers["double"] = f"{7 * twice + 31 * number} m"
        if number in (4, 5, 6):
            del answers["plan"]
        room.hand_in(f"q{number}", answers)
    blank, hard = lessons(analysed(room))
    assert (blank.about, blank.exercise, blank.told) == ("blank", "plan", "")
    assert blank.sentence == "Three of eleven left it blank."
    assert (hard.about, hard.exercise, hard.count) == ("hard", "double", 6)
    assert hard.sentence == "Six of eleven did not get it right; two made this mistake."
    assert hard.told.startswith("You counted *one* more")
    found = words(written(room)[0])
    assert "Ask whether time ran out or nobody knew how to begin. Show exercise 3" in found


def test_without_a_shared_mistake_the_reasons_are_different() -> None:
    assert Lesson("hard", "x", 1, "X", 13, 20).sentence == (
        "13 of 20 did not get it right, for different reasons."
    )


def test_what_one_person_did_is_nothing_to_teach_all(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(1, 8):
        answers = room.right(f"p{number}")
        if number == 1:
            answers["double"] = f"{2 * room.number('p1') + 1} m"
        room.hand_in(f"p{number}", answers)
    lab = analysed(room)
    assert [slip.count for slip in lab.slips] == [1]
    assert lessons(lab) == ()


def test_who_needs_a_word_is_told_by_name_and_pairs_with_care(seven: Room) -> None:
    seven.hand_in("p6", {"double": f"{2 * seven.number('p5')} m"})
    scoring = score(seven.folder)
    missing, *pairs = people_to_see(analysed(seven), scoring.results)
    assert (missing.about, missing.people) == ("Not handed in", ("Person <b>7</b>",))
    (pair,) = [one for one in pairs if one.people == ("Person <b>6</b>", "Person <b>5</b>")]
    assert pair.pair
    assert "in exercise 1 is wrong with their own numbers and right with those of" in pair.sentence
    assert re.search(r"By chance alone such a pair turns up in .* classes\.", pair.sentence)
    assert "cheat" not in pair.sentence
    assert "copied" not in pair.sentence


def test_an_exercise_that_nobody_got_puts_the_lab_in_doubt(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(1, 4):
        answers = {**room.right(f"p{number}"), "double": "1 m"}
        room.hand_in(f"p{number}", answers)
    (doubt,) = doubts(analysed(room))
    assert doubt.startswith("Nobody of the three who answered exercise 1 (Double it) got it right")
    assert doubt in words(written(room)[0])
    assert doubt in words(written(room)[1])
    room.hand_in("p4")
    assert doubts(analysed(room)) == ()
    assert "four can tell little" in without_doubts(analysed(room))


def test_no_slip_id_and_no_bare_name_of_a_figure_is_read(seven: Room) -> None:
    folder = seven.folder
    scoring = score(folder)
    debrief, figures, _ = written(seven)
    overview = Page(overview_page(folder, scoring))
    for page in (debrief, figures, overview):
        found = words(page)
        assert "You counted one more than" in found
        assert not re.search("one-more|facility|discrimination|p-value", found)


def test_the_trainers_data_are_the_same_with_names(seven: Room) -> None:
    written(seven)
    found = read_debrief(seven.folder)
    assert found is not None
    (lab,) = found["labs"]
    assert [one["exercise"] for one in lab["teach"]] == ["double", "parity"]
    assert lab["teach"][0]["told"] == (
        f"<p>You counted <em>one</em> more than {2 * seven.number('p1')} m.</p>"
    )
    assert lab["see"][0]["people"] == ["Person <b>7</b>"]
    assert found["code"] == score(seven.folder).code
    assert found["twice"] == []
    (seven.path / "scores" / "debrief.json").write_text("{")
    assert read_debrief(seven.folder) is None


@pytest.mark.parametrize(
    ("mode", "then"),
    [("practice", "one more like it for everybody"), ("assessed", "let one of them explain it")],
)
def test_what_to_do_depends_on_whether_a_lab_is_practised(
    make_room: MakeRoom, mode: str, then: str
) -> None:
    room = make_room(*PEOPLE, mode=mode)
    room.deal()
    for number in (1, 2):
        room.hand_in(f"p{number}", {"double": f"{2 * room.number(f'p{number}') + 1} m"})
    assert then in words(written(room)[0])


def test_a_class_that_knows_it_all_is_told_so(make_room: MakeRoom) -> None:
    room = make_room(*PEOPLE)
    room.deal()
    for number in range(1, 8):
        room.hand_in(f"p{number}")
    lab = analysed(room)
    assert lessons(lab) == ()
    assert len(well_known(lab)) == 3
    assert "No mistake was made often" in words(written(room)[0])


def test_the_debrief_counts_and_names_nobody(seven: Room) -> None:
    page, figures, text = written(seven)
    found = words(page)
    assert "handed in 6 of 7" in found
    # p1 to p5 have 4, 4, 3, 7 and 8 of 8 marks, p6 none.
    assert "median 50 %" in found
    assert "reached 60 % 2 of 6" in found
    assert 'aria-label="Trainees by result. 0 to 10 %: 1.' in text
    assert "The pass mark is 60 %." in text
    assert "Person" not in text
    assert not re.search(r"\bp[1-7]\b", text)
    assert "Person" not in found
    assert "Did the draw make it harder for some?" in words(figures)


def test_both_pages_are_balanced_run_nothing_and_fetch_nothing(seven: Room) -> None:
    seven.hand_in("p6", {"double": f"{2 * seven.number('p5')} m", "plan": {"pump": "<script>"}})
    folder = seven.folder
    for file in write_analysis(folder, score(folder)):
        text = file.read_text("utf-8")
        page = Page(text)
        assert page.open == [], file.name
        assert not page.tags & {"script", "img", "iframe", "object", "link", "b"}, file.name
        assert set(page.addresses) <= {"analysis.html"}
        assert not re.search(r"@import|url\(|http", text), file.name


def test_who_wrote_anothers_number_stands_in_the_analysis_only(seven: Room) -> None:
    seven.hand_in("p6", {"double": f"{2 * seven.number('p5')} m"})
    page, figures, _ = written(seven)
    found = words(figures)
    assert "Person <b>6</b> wrote what is wrong with their own numbers and right with those of" in (
        found
    )
    assert f"1. Double it {2 * seven.number('p5')} m" in found
    assert "a person decides, never the program" in found
    assert "Person" not in words(page)


def test_the_same_scores_give_the_same_pages(seven: Room) -> None:
    folder = seven.folder
    before = [file.read_bytes() for file in write_analysis(folder, score(folder))]
    assert [file.read_bytes() for file in write_analysis(folder, score(folder))] == before


def test_a_voided_exercise_is_left_out_of_all_figures_and_named(seven: Room) -> None:
    score(seven.folder)
    void(seven.folder, "tiny", "double", reason="a misprint", by="R. Ops")
    lab = analysed(seven)
    assert lab.table.exercises == ("parity", "plan")
    assert lab.table.voided == ("1. Double it",)
    assert lab.table.possible.sum() == 4
    assert [slip.exercise for slip in lab.slips] == ["parity"]
    assert [taken.exercise for taken in lab.options] == ["parity"]
    debrief, figures, _ = written(seven)
    assert "Voided, so left out: 1. Double it." in words(debrief)
    assert "because they were voided: 1. Double it." in words(figures)
    assert "of 8 marks" not in words(debrief)
    for exercise in ("parity", "plan"):
        void(seven.folder, "tiny", exercise, reason="all of it", by="R. Ops")
    assert analysed(seven).options == ()
    debrief, _, _ = written(seven)
    assert "3. " in words(debrief).split("Voided, so left out:")[1]


def test_what_still_waits_for_a_mark_is_named_on_both_pages(
    seven: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    waits = lambda *_: awaiting("Your instructor reads this.")  # noqa: E731
    monkeypatch.setattr(QuantityCheck, "check", waits)
    lab = analysed(seven)
    assert lab.table.awaited == ("1. Double it",)
    debrief, figures, _ = written(seven)
    assert "Not marked by hand yet" in words(debrief)
    assert "1. Double it" in words(debrief).split("Not marked by hand yet")[1]
    assert "Left out until you have marked them: 1. Double it." in words(figures)


def test_an_empty_class_and_a_class_of_one_have_pages(make_room: MakeRoom) -> None:
    room = make_room("ann,Ann")
    room.deal()
    page, figures, _ = written(room)
    assert "Nobody has handed in yet" in words(page)
    assert "Nobody has handed in yet" in words(figures)
    room.hand_in("ann")
    page, figures, _ = written(room)
    assert "No pass mark is drawn" in words(page)
    assert "nothing can be said" in words(figures)


def test_every_result_is_in_the_score_chart_however_large_the_class() -> None:
    few = score_chart([0, 55, 100, 100], 50)
    assert few.count("<circle") == 4
    assert "90 to 100 %: 2." in few
    many = score_chart([99.9] * 80)
    assert many.count("<rect") == 1
    assert ">80</text>" in many
    assert "pass mark" not in many


@pytest.mark.parametrize("number", ["-1", "101", "x"])
def test_a_pass_mark_that_is_none_gets_a_sentence(make_room: MakeRoom, number: str) -> None:
    from labkit.language.problems import DefinitionError

    room = make_room(pass_mark=number)
    with pytest.raises(DefinitionError, match="pass_mark"):
        _ = room.folder


@pytest.fixture(scope="module")
def demo_class(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    """The demo class, always with the same numbers."""
    path: Path = tmp_path_factory.mktemp("demo") / "class"
    folder = demo.make_class(path, mode="practice")
    (path / "class-secret.txt").write_text(f"{7:064x}\n")
    dealt = deal(folder, lab_library())
    demo.play(folder, folder.lab(demo.LAB), dealt.deal)
    return folder


def test_the_demos_copier_is_found_and_nobody_else(demo_class: ClassFolder) -> None:
    scoring = score(demo_class)
    (lab,) = analyse(scoring.labs, scoring.results, scoring.results.beside)
    names = [result.dealt.trainee for result in lab.table.results]
    (pair,) = lab.more_copied
    assert (names[pair.writer], names[pair.owner]) == ("t09", "t03")
    # Four numbers are copied; a slip of the copier's own may hit one more by chance.
    assert len(pair.hits) >= 4
    assert lab.more_alike == ()
    assert lab.plain_effects == ()
    assert all(one.timed >= 8 and one.median_minutes for one in lab.effort)
