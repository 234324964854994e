"""A test before and after: dealt to everybody twice, and the page that shows the gain."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from harmless_pages import Page
from scipy import stats
from tiny_class import MakeRoom, Room
from typer.testing import CliRunner

from labkit.classroom.corrections.correcting import void
from labkit.classroom.dealing.deal import workbook_folder
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.before_and_after import deal_after, twice_dealt
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import read_debrief, write_analysis
from labkit.classroom.pages.gains import LabGain, figures, lab_gains
from labkit.cli import app
from labkit.doors.verdict import awaiting
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, OPENED, Journal
from labkit.kinds.quantity.check import QuantityCheck
from labkit.language.problems import DefinitionError

TWICE = "[{lab: tiny, before_and_after: yes}]"
PEOPLE = tuple(f"p{number},Person <b>{number}</b>" for number in range(1, 8))


@pytest.fixture
def tested(make_room: MakeRoom) -> Room:
    """Seven; six handed in the test before: p1 to p6 have 3, 4, 5, 3, 4 and 8 of 8 marks."""
    made = make_room(*PEOPLE, labs=TWICE)
    made.deal()
    for number, parts in enumerate(["plan", "plan parity", "double parity", "plan"], 1):
        made.hand_in(f"p{number}", only(made.right(f"p{number}"), parts))
    made.hand_in("p5", only(made.right("p5"), "double"))
    made.hand_in("p6")
    score(made.folder)
    return made


def only(answers: dict[str, Any], parts: str) -> dict[str, Any]:
    return {name: answers[name] for name in parts.split()}


def after(room: Room, trainee: str, parts: str = "double parity plan") -> None:
    """Hand in the test after, right in these exercises."""
    folder, item = room.folder, room.dealt.dealt.find(trainee, "tiny", 2)
    assert item is not None
    scenario = scenario_of(folder.secret(), "room-7", folder.lab("tiny", dealt=True), item)
    options = scenario.prepare(scenario.lab.exercises[1]).ask["options"]
    right = {
        "double": f"{2 * int(scenario.names['a'])} m",
        "parity": next(str(o["id"]) for o in options if o["text"] == "It is even."),
        "plan": {"pump": "1", "valve": "2", "scale": "3"},
    }
    home = workbook_folder(folder, item)
    journal = Journal(home / f"{item.stem}.answers.jsonl")
    journal.append(OPENED, lab="tiny")
    for name in parts.split():
        journal.append(ANSWER, exercise=name, answer=right[name])
    pack(home / f"{item.stem}.task.json", room.path / "hand-ins")


def gain_in(room: Room) -> LabGain:
    (gain,) = lab_gains(room.folder.fields, score(room.folder))
    return gain


def page_of(room: Room) -> tuple[Page, str]:
    write_analysis(room.folder, score(room.folder))
    text = (room.path / "scores" / "gain.html").read_text("utf-8")
    return Page(text), text


def words(page: Page) -> str:
    return " ".join(page.words.split())


def test_one_act_deals_the_test_after_to_everybody_with_other_numbers(tested: Room) -> None:
    folder = tested.folder
    before = twice_dealt(folder, "tiny")
    assert (before.dealt, len(before.left), before.without) == (7, 7, 1)
    assert deal_after(folder, tested.library).new == 7
    roll = tested.dealt.dealt
    firsts = [roll.find(f"p{number}", "tiny") for number in range(1, 8)]
    seconds = [roll.find(f"p{number}", "tiny", 2) for number in range(1, 8)]
    prints = {item.fingerprint for item in (*firsts, *seconds) if item}
    assert len(prints) == 14
    # Again: nobody is dealt a third; a late one is dealt the first, then the second alone.
    assert deal_after(folder, tested.library).new == 0
    tested.write_roster(*PEOPLE, "late,Late One")
    tested.deal()
    assert twice_dealt(tested.folder, "tiny").left == ("late",)
    assert deal_after(tested.folder, tested.library).new == 1
    assert tested.dealt.dealt.find("p1", "tiny", 3) is None


def test_the_gain_is_of_who_took_both_and_nobody_is_hidden(tested: Room) -> None:
    deal_after(tested.folder, tested.library)
    for trainee in ("p1", "p2", "p3", "p4", "p7"):
        after(tested, trainee)
    after(tested, "p5", "double")
    found = gain_in(tested)
    assert found.gain is not None
    possible = [(3, 8), (4, 8), (5, 8), (3, 8), (4, 4)]
    pairs = [(100 * a / 8, 100 * b / 8) for a, b in possible]
    assert list(found.gain.pairs) == pairs
    known = stats.ttest_rel([b for _, b in pairs], [a for a, _ in pairs]).confidence_interval(0.95)
    assert found.gain.interval is not None
    assert (found.gain.interval.low, found.gain.interval.high) == pytest.approx(
        (known.low, known.high)
    )
    assert (found.only_before, found.only_after) == (("Person <b>6</b>",), ("Person <b>7</b>",))
    assert found.left_out == ["1 took only the test before", "1 took only the test after"]


def test_the_clients_page_shows_the_gain_and_names_nobody(tested: Room) -> None:
    deal_after(tested.folder, tested.library)
    for trainee in ("p1", "p2", "p3", "p4"):
        after(tested, trainee)
    after(tested, "p5", "double parity")
    page, text = page_of(tested)
    told = figures(gain_in(tested).gain)  # type: ignore[arg-type]
    found = words(page)
    assert f"before {told['before']} %" in found
    assert f"after {told['after']} %" in found
    assert f"The 95 % interval of this gain is {told['low']} to {told['high']} points" in found
    assert "There was no group that took both tests without the class" in found
    assert "may be practice with the test itself" in found
    assert "Fewer than 10 took both tests" in found
    assert "1 took only the test before; 1 took neither" in found
    assert text.count('class="pair"') == 5
    assert "Person" not in text
    assert page.open == []
    assert page.addresses == []
    assert not page.tags & {"script", "img", "iframe", "object", "link", "b"}


def test_the_trainer_reads_the_same_line_with_who_is_left_out(tested: Room) -> None:
    deal_after(tested.folder, tested.library)
    after(tested, "p1")
    write_analysis(tested.folder, score(tested.folder))
    found = read_debrief(tested.folder)
    assert found is not None
    (one,) = found["twice"]
    assert one["sentence"] == (
        "Before 38 %, after 100 %: +62 percentage points, of 1 who took both."
    )
    assert one["only_before"] == [f"Person <b>{number}</b>" for number in range(2, 7)]
    assert "the test after counts as the mark" in one["counts"]


@pytest.mark.parametrize(("rule", "counts"), [("last", 2), ("best", 1)])
def test_both_are_kept_and_the_class_says_which_counts(
    tested: Room, rule: str, counts: int
) -> None:
    tested.write_class(labs=TWICE, attempts_count=rule)
    deal_after(tested.folder, tested.library)
    after(tested, "p6", "plan")
    scoring = score(tested.folder)
    (result,) = scoring.results.of("p6")
    assert result.dealt.attempt == counts
    pair = gain_in(tested).gain
    assert pair is not None
    assert pair.pairs == ((100, 37.5),)
    write_analysis(tested.folder, scoring)
    found = json.loads((tested.path / "scores" / "debrief.json").read_text("utf-8"))
    assert f"attempts_count: {rule}" in found["twice"][0]["counts"]


def test_what_is_voided_counts_in_neither_test(tested: Room) -> None:
    deal_after(tested.folder, tested.library)
    after(tested, "p1", "plan parity")
    void(tested.folder, "tiny", "double", reason="a misprint", by="R. Ops")
    pair = gain_in(tested).gain
    assert pair is not None
    assert pair.pairs == ((75, 100),)


def test_what_waits_for_anybodys_mark_is_in_neither_test(
    tested: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both results are then of the same exercises, for everybody: here of 'parity' and 'plan'."""
    deal_after(tested.folder, tested.library)
    monkeypatch.setattr(QuantityCheck, "check", lambda *_: awaiting("Your instructor reads this."))
    after(tested, "p1", "double plan parity")
    found = gain_in(tested)
    assert found.waiting == ("1. Double it",)
    assert found.gain is not None
    assert found.gain.pairs == ((75, 100),)
    assert "until it is marked for everybody: 1. Double it." in words(page_of(tested)[0])


def test_before_anybody_took_both_the_page_says_so(tested: Room) -> None:
    page, _ = page_of(tested)
    assert "Nobody has handed in both tests yet: 6 took only the test before" in words(page)


def test_a_class_without_such_a_test_has_no_page_and_deals_none(make_room: MakeRoom) -> None:
    room = make_room()
    room.deal()
    room.hand_in("ann")
    write_analysis(room.folder, score(room.folder))
    assert not (room.path / "scores" / "gain.html").exists()
    with pytest.raises(ClassError, match="before_and_after: yes"):
        deal_after(room.folder, room.library)
    with pytest.raises(ClassError, match="'tiny' is no test before and after"):
        deal_after(room.folder, room.library, "tiny")


def test_the_test_before_comes_first(make_room: MakeRoom) -> None:
    room = make_room(labs=TWICE)
    with pytest.raises(ClassError, match="not dealt yet"):
        deal_after(room.folder, room.library)


def test_one_attempt_allows_no_test_after(make_room: MakeRoom) -> None:
    room = make_room(labs=TWICE, attempts="1")
    with pytest.raises(DefinitionError, match="'attempts: 1' allows none"):
        _ = room.folder
    room.write_class(labs="[{lab: tiny, before_and_after: no}]", attempts="1")
    assert room.folder.fields.tests == []


def test_figures_add_up_as_they_are_read() -> None:
    from labkit.classroom.analysis.gain import gain_of

    told = figures(gain_of([(41.4, 78.6), (41.4, 78.6)]))
    assert (told["before"], told["after"], told["gain"]) == ("41.4", "78.6", "+37.2")
    told = figures(gain_of([(41.1, 78.2), (41.1, 78.2)]))
    assert (told["before"], told["after"], told["gain"]) == ("41", "78", "+37")
    told = figures(gain_of([(50, 40), (50, 30)]))
    assert told["gain"] == "−15"


def test_the_command_deals_it(tested: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    def run(*words: str) -> Any:
        return CliRunner().invoke(app, ["deal", str(tested.path), *words], env={"COLUMNS": "200"})

    monkeypatch.setattr("labkit.lab.library.lab_library", lambda: tested.library)
    assert "Give one of --again, --late and --after." in run("--after", "--again", "p1").output
    told = run("--after")
    assert told.exit_code == 0
    assert "7 dealt, 7 were dealt already" in told.output
    assert "give out 'attempt-2'" in told.output
    assert Path(tested.home("p1") / "attempt-2").is_dir()
