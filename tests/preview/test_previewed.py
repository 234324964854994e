"""What a preview shows after each save: the newest that can be drawn, and what is wrong."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest
from written_lab import TEXT, Author, author_at

from labkit.preview.previewed import NothingShownError

HINTED = """\
working: Add them up.
hints: [{text: Count the taps., costs: 0.25}]
```

```exercise fixed"""
TERMINATOR_MISSING = "{kind: terminator missing, end: left end}"
LABS = Path(__file__).parents[1] / "lab" / "labs"
SOUND = {"loop": "quantity", "taps": "quantity", "fixed": "quantity"}


def question(author: Author, exercise: str) -> str:
    steps = author.opened["sheet"]["steps"]
    return str(next(step["question"] for step in steps if step["exercise"] == exercise))


def test_a_save_is_shown_with_the_same_numbers(author: Author) -> None:
    before, edition = question(author, "taps"), author.opened["edition"]
    author.save("How long is the loop?", "And there and back?")
    assert "And there and back?" in question(author, "loop")
    assert question(author, "taps") == before
    assert author.opened["edition"] == edition + 1
    assert not author.now["old"]
    assert author.now["saved"] == author.now["shown"]


def test_a_broken_exercise_is_a_card_in_its_place_and_the_others_are_shown(author: Author) -> None:
    author.save("kind: quantity\ntitle: The taps", "kind: quantty\ntitle: The taps")
    assert author.kinds == {**SOUND, "taps": "card"}
    (problem,) = author.now["problems"]
    line = author.text[: author.text.index("quantty")].count("\n") + 1
    assert (problem["line"], problem["source"]) == (line, "kind: quantty")
    assert problem["where"] == f"small/lab.md, line {line}"
    assert "Did you mean 'quantity'?" in problem["mend"]
    assert problem["exercise"] == "taps"
    shown = author.previewed.desk.shown("taps")
    assert (shown["title"], shown["problems"]) == ("The taps", [problem])
    assert not author.now["old"]
    # The second of two exercises counts as the third of three: the card is one.
    assert author.previewed.desk.shown("fixed")["number"] == 3
    author.save("quantty", "quantity")
    assert author.kinds == SOUND
    assert author.now["problems"] == []


def test_fields_that_are_no_yaml_break_their_exercise_alone(author: Author) -> None:
    author.save("title: The taps\n", "title: [The taps\n")
    assert author.kinds == {**SOUND, "taps": "card"}
    assert author.now["problems"][0]["exercise"] == "taps"


def test_a_broken_exercise_keeps_the_caution_before_it(author: Author) -> None:
    author.save("answer: both_ways", "answer: both_wyas")
    step = author.opened["sheet"]["steps"][0]
    assert (step["exercise"], step["part"]) == ("loop", "Lengths")
    assert "Switch off first" in step["cautions"][0]


def test_an_exercise_without_value_in_this_draw_is_a_card(author: Author) -> None:
    author.save("answer: length / taps", "answer: length / (taps - taps)")
    assert author.kinds == {**SOUND, "taps": "card"}
    (problem,) = author.now["problems"]
    assert problem["exercise"] == "taps"
    assert problem["source"] == "answer: length / (taps - taps)"


def test_two_exercises_of_one_id_are_both_in_sight(author: Author) -> None:
    author.save("```exercise taps", "```exercise loop")
    steps = author.opened["sheet"]["steps"]
    assert [step["exercise"] for step in steps] == ["loop", "fixed"]
    assert "is there already" in author.now["problems"][0]["sentence"]
    author.save("kind: quantity\ntitle: The taps", "kind: nothing\ntitle: The taps")
    assert list(author.kinds.values()) == ["quantity", "card", "quantity"]


def test_a_kind_that_breaks_down_takes_no_other_exercise_along(
    author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "labkit.preview.drawn._try",
        lambda exercise, _: 1 / 0 if exercise.id == "taps" else None,
    )
    author.save("A box holds", "The box holds")
    assert author.kinds == {**SOUND, "taps": "card"}
    assert "breaks down with 'ZeroDivisionError" in author.now["problems"][0]["sentence"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("minutes: 5", "minutes: [5"),
        ("both_ways: 2 * length", "both_ways: 2 * lenth"),
        ("---\n\n# Lengths", "\n# Lengths"),
        ("let:\n", "valid:\n  - rule: length < 0\n    because: never\nlet:\n"),
    ],
    ids=["yaml", "formula", "no end", "no draw"],
)
def test_what_was_drawn_last_stays_while_nothing_can_be_drawn(
    author: Author, old: str, new: str
) -> None:
    edition = author.opened["edition"]
    author.save(old, new)
    assert author.now["old"]
    assert author.kinds == SOUND
    assert author.opened["edition"] == edition
    assert author.now["problems"]
    author.save(new, old)
    assert not author.now["old"]
    assert author.now["problems"] == []


def test_a_problem_in_an_exercise_leads_there_while_the_header_is_broken_too(
    author: Author,
) -> None:
    author.save("answer: both_ways", "answer: both_wyas")
    author.save("both_ways: 2 * length", "both_ways: 2 * lenth")
    assert [each["exercise"] for each in author.now["problems"]] == ["", "loop"]


def test_a_lab_that_was_never_sound_shows_what_is_wrong(tmp_path: Path) -> None:
    author = author_at(tmp_path, "title: no header\n")
    assert author.kinds == {}
    assert not author.now["drawn"]
    assert "header" in author.now["problems"][0]["sentence"]
    with pytest.raises(NothingShownError, match="mend what is wrong"):
        author.previewed.paper(solved=False)
    author.write(TEXT)
    assert author.kinds == SOUND
    assert b"The taps" in author.previewed.paper(solved=False)


def test_answers_stay_while_an_exercise_asks_the_same(author: Author) -> None:
    author.answer("loop", "1 m")
    author.answer("fixed", "5 m")
    author.save("title: The taps", "title: All taps")
    assert author.saved("loop")["answer"] == "1 m"
    author.save("How long is the loop?", "How long is all of it?")
    assert not author.saved("loop")["answered"]
    assert author.saved("fixed")["verdict"]["right"]


def test_an_answer_stays_and_is_checked_anew_where_only_the_key_changed(author: Author) -> None:
    before = author.same("fixed")
    assert author.answer("fixed", "6 m")["verdict"]["right"] is False
    author.save("answer: '5'", "answer: '6'")
    assert author.saved("fixed")["verdict"]["right"] is True
    asked, whole, _ = author.same("fixed")
    assert asked == before[0]
    assert whole != before[1]


def test_another_draw_and_back_to_what_was_answered_there(author: Author) -> None:
    first = question(author, "taps")
    author.answer("taps", "3 m")
    author.previewed.draw_of("two")
    assert question(author, "taps") != first
    assert (author.now["seed"], author.now["earlier"]) == ("two", True)
    assert not author.saved("taps")["answered"]
    author.previewed.draw_before()
    assert question(author, "taps") == first
    assert (author.now["seed"], author.now["earlier"]) == ("one", False)
    assert author.saved("taps")["answer"] == "3 m"


def test_one_more_like_it_goes_on_where_its_exercise_did_not_change(author: Author) -> None:
    author.answer("taps", "3 m")
    id_ = author.drilled("taps")["drawn"]["id"]
    before = author.same("taps")
    # A save elsewhere, and what does not reach a drill: its place in the lab, its hints.
    author.save("title: The loop", "title: All of the loop")
    assert author.drilled("taps", id_, "1 m")["drilled"]["saved"]["answered"]
    author.save("working: Add them up.\n```\n\n```exercise fixed", HINTED)
    assert author.same("taps")[1] != before[1]
    assert author.same("taps")[2] == before[2]
    assert author.drilled("taps", id_, "2 m")["drilled"]["saved"]["answer"] == "2 m"


def test_one_more_like_it_is_over_where_its_exercise_is_another(author: Author) -> None:
    author.answer("taps", "3 m")
    id_ = author.drilled("taps")["drawn"]["id"]
    before = author.same("taps")
    author.save("answer: length / taps", "answer: 2 * length / taps")
    assert author.same("taps")[0] == before[0]
    assert author.same("taps")[2] != before[2]
    assert "over" in author.drilled("taps", id_, "1 m")["failed"]
    # It is broken for a while, and then as it was: so is its drill.
    author.save("answer: 2 * length", "answer: 2 * lenth")
    assert author.same("taps")[2] == ""
    author.save("answer: 2 * lenth", "answer: length")
    assert author.drilled("taps", id_, "1 m")["drilled"]["saved"]["answer"] == "1 m"


def test_a_fresh_draw_has_a_seed_that_draws_it_again(author: Author) -> None:
    author.previewed.another_draw()
    seed, drawn = author.now["seed"], question(author, "loop")
    author.previewed.draw_before()
    author.previewed.draw_of(seed)
    assert question(author, "loop") == drawn


def test_as_an_assessed_class_gets_it(author: Author) -> None:
    author.previewed.as_of(practice=False)
    assert author.opened["practice"] is False
    assert author.answer("fixed", "5 m")["verdict"] is None
    author.save("title: The taps", "title: All taps")
    assert author.opened["practice"] is False


def test_a_bench_as_an_assessed_class_gets_it(tmp_path: Path) -> None:
    text = (LABS / "modbus-bench" / "lab.md").read_text(encoding="utf-8")
    author = author_at(tmp_path, text.replace("id: modbus-bench", "id: small"), practice=False)
    assert author.kinds == {"one-is-silent": "diagnosis", "now-and-then": "diagnosis"}
    before = {name: author.same(name) for name in author.kinds}
    author.save("{kind: bias missing, connector: controller}", TERMINATOR_MISSING)
    author.save("{kind: terminator extra, connector: ", "{kind: bias extra, connector: ")
    author.save(
        '{kind: touching, connector: "{{ names[other] }}", a: D0, b: D1}', TERMINATOR_MISSING
    )
    assert author.same("one-is-silent") == before["one-is-silent"]
    # Nothing that is asked tells of the fault; the page must know of another one all the same.
    assert author.same("now-and-then") != before["now-and-then"]


def test_the_printed_page_and_the_instructors_copy(author: Author) -> None:
    author.save("kind: quantity\ntitle: The taps", "kind: quantty\ntitle: The taps")
    paper, solved = author.previewed.paper(solved=False), author.previewed.paper(solved=True)
    assert b"The loop" in paper
    assert b"copy" in solved
    assert b"The taps" not in paper


def test_findings_of_another_text_are_not_shown(author: Author) -> None:
    author.previewed.proof_begins()
    author.previewed.proof_told({"done": 20})
    assert (author.now["proof"]["state"], author.now["proof"]["done"]) == ("begun", 20)
    author.previewed.proof_told({"report": {"digest": "older", "findings": [], "accepted": []}})
    assert author.now["proof"]["state"] == "begun"
    author.previewed.proof_ended()
    assert author.now["proof"]["state"] == "ended"
    author.save("answer: both_ways", "answer: both_wyas")
    author.previewed.proof_begins()
    assert author.now["proof"]["state"] == "waits"


def test_a_lab_that_it_extends_is_watched_too(tmp_path: Path) -> None:
    parent = author_at(tmp_path)
    file = parent.file.parent.parent / "child" / "lab.md"
    file.parent.mkdir()
    child = "---\nid: child\nversion: 1.0\ntitle: The child\nextends: small\n---\n"
    (tmp_path / "other").mkdir()
    file.write_text(child, encoding="utf-8")
    previewed = type(parent.previewed)(file, "one", tmp_path / "other", practice=True)
    author = Author(file, previewed, child)
    assert author.kinds == SOUND
    assert not previewed.watched.changed()
    parent.save("title: The taps", "title: All of the taps")
    assert previewed.watched.changed()
    previewed.read_again()
    assert author.opened["exercises"]["taps"]["title"] == "All of the taps"


def test_a_picture_beside_it_is_news_and_what_an_editor_leaves_is_none(author: Author) -> None:
    (author.file.parent / ".lab.md.swp").write_bytes(b"x")
    (author.file.parent / "lab.md~").write_bytes(b"x")
    assert not author.previewed.watched.changed()
    (author.file.parent / "pictures").mkdir()
    (author.file.parent / "pictures" / "tap.png").write_bytes(b"x")
    assert author.previewed.watched.changed()


def test_a_file_that_is_taken_away_and_put_back_is_waited_for(author: Author) -> None:
    author.file.unlink()

    def comes_back() -> None:
        time.sleep(0.1)
        author.file.write_text("", encoding="utf-8")
        time.sleep(0.1)
        author.file.write_text(author.text.replace("A small lab", "Back"), encoding="utf-8")

    coming = threading.Thread(target=comes_back)
    coming.start()
    assert author.previewed.watched.changed()
    author.previewed.read_again()
    coming.join()
    assert author.opened["sheet"]["title"] == "Back"


def test_a_file_that_is_gone_is_told_and_what_was_seen_stays(author: Author) -> None:
    author.file.unlink()
    assert author.previewed.watched.changed()
    author.previewed.read_again()
    assert author.now["old"]
    assert author.kinds == SOUND
    assert "No such file" in author.now["problems"][0]["sentence"]


def test_nothing_is_written_beside_the_lab(author: Author) -> None:
    author.answer("loop", "1 m")
    author.save("title: The taps", "title: All taps")
    assert [file.name for file in author.file.parent.iterdir()] == ["lab.md"]


def test_an_error_in_showing_it_is_a_sentence(
    author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object) -> None:
        raise KeyError("nothing")

    monkeypatch.setattr("labkit.preview.drawn.sheet_of", breaks)
    author.save("title: The taps", "title: All taps")
    assert author.now["old"]
    (problem,) = author.now["problems"]
    assert "KeyError" in problem["sentence"]
    assert "Traceback" not in problem["sentence"]
