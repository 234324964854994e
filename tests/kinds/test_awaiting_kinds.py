"""Written texts and sign-offs: any answer gets a verdict, none is marked by a machine."""

import math
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.doors.verdict import Verdict
from labkit.kinds.written import check as written
from labkit.kinds.written.check import MAX_CHARACTERS, count_words
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError

BENCH_DAY = read_lab(Path(__file__).parents[1] / "library" / "bench-day" / "lab.md")
AWAITING = ("written", "sign_off")

scalars = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.integers(10**5000, 10**5001)
    | st.floats()
    | st.text(max_size=40)
    | st.sampled_from(["\ud800", "a " * 100, "x" * (MAX_CHARACTERS + 1)])
)
json_values = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["off", "proved", "ready", "note"]) | st.text(max_size=5),
            inner,
            max_size=4,
        )
    ),
    max_leaves=8,
)
entries = st.fixed_dictionaries(
    {}, optional={"ready": st.booleans() | scalars, "note": scalars | json_values}
)


def prepared(kind: str, seed: str = "any") -> tuple[Any, dict[str, Any], dict[str, Any]]:
    exercise = next(item for item in BENCH_DAY.exercises if item.kind == kind)
    made = draw(BENCH_DAY, seed).prepare(exercise)
    return check_for(kind), made.ask, made.key


@settings(deadline=None)
@given(
    kind=st.sampled_from(AWAITING),
    answer=json_values | st.dictionaries(st.sampled_from(["off", "proved"]), entries),
)
def test_any_json_gets_a_verdict_that_is_never_marks(kind: str, answer: Any) -> None:
    check, ask, key = prepared(kind)
    verdict = check.check(ask, key, answer)
    assert isinstance(verdict, Verdict)
    assert verdict.credit == 0
    assert verdict.message
    assert verdict.readable == (check.unreadable(ask, answer) == "")
    assert verdict.awaits == verdict.readable
    assert isinstance(check.shown(ask, answer), str)
    if kind == "sign_off":
        unready = check.not_ready(ask, answer)
        assert set(unready) <= {item["id"] for item in key["rubric"]}
        assert verdict.awaits == (len(unready) < len(key["rubric"]))


@pytest.mark.parametrize("kind", AWAITING)
def test_even_the_right_answer_waits_for_the_instructor(kind: str) -> None:
    check, ask, key = prepared(kind)
    answer = check.right_answer(ask, key)
    verdict = check.check(ask, key, answer)
    assert verdict.awaits
    assert not verdict.right
    assert check.shown(ask, answer)
    assert check.slip_answers(ask, key) == {}


@pytest.mark.parametrize("kind", AWAITING)
def test_the_key_is_a_rubric_whose_shares_are_the_whole(kind: str) -> None:
    _, _, key = prepared(kind)
    assert set(key) == {"rubric", "model"}
    assert isinstance(key["model"], str)
    for criterion in key["rubric"]:
        assert set(criterion) == {"id", "text", "marks_share"}
        assert criterion["marks_share"] > 0
    assert math.isclose(math.fsum(item["marks_share"] for item in key["rubric"]), 1)


def test_marks_become_shares_in_proportion() -> None:
    _, _, key = prepared("written")
    assert [item["marks_share"] for item in key["rubric"]] == [2 / 4, 1 / 4, 1 / 4]
    _, _, key = prepared("sign_off")
    assert [item["marks_share"] for item in key["rubric"]] == [2 / 3, 1 / 3]


def test_nothing_of_rubric_and_model_is_in_what_the_trainee_gets() -> None:
    check, ask, key = prepared("written")
    assert ask == {"least": 15, "most": 80}
    page = check.paper(ask)
    for words in (key["model"], *(item["text"] for item in key["rubric"])):
        assert words not in page
    # What a sign-off will be looked at for is said on purpose; what it is worth is not.
    _, ask, _ = prepared("sign_off")
    assert set(ask) == {"items", "caution"}
    assert all(set(item) == {"id", "text", "look_for"} for item in ask["items"])


@pytest.mark.parametrize(
    ("answer", "readable", "words"),
    [
        ("", False, "Nothing is written"),
        (" \n\u00a0 ", False, "Nothing is written"),
        (None, False, "Nothing is written"),
        (["text"], False, "Nothing is written"),
        ("Two ends.", True, "2 words; at least 15 are asked for"),
        ("Ends.", True, "1 word; at least 15 are asked for"),
        ("end " * 15, True, "15 words. Your instructor"),
        ("end " * 80, True, "80 words. Your instructor"),
        ("end " * 81, True, "81 words; at most 80 are asked for"),
        ("x" * (MAX_CHARACTERS + 1), False, "shorten it"),
    ],
)
def test_a_text_outside_its_limits_is_told_so_and_still_goes_to_the_instructor(
    answer: Any, readable: bool, words: str
) -> None:
    check, ask, key = prepared("written")
    verdict = check.check(ask, key, answer)
    assert verdict.readable == readable
    assert verdict.awaits == readable
    assert words in verdict.message


@given(st.text(max_size=60))
def test_a_word_is_what_stands_between_white_space(text: str) -> None:
    # \x1c-\x1f part words for Python's own split, but not for a reader of the page.
    separators = set("\x1c\x1d\x1e\x1f")
    if not separators & set(text):
        assert count_words(text) == len(text.split())


def test_the_page_counts_words_with_the_same_white_space() -> None:
    script = Path(written.__file__).with_name("written.js")
    found = re.search(r"WHITE_SPACE = /(.*)/;", script.read_text("utf-8"))
    assert found
    page = re.compile(found[1])
    for character in map(chr, range(0x10000)):
        assert bool(page.match(character)) == (count_words(f"a{character}b") == 2), ascii(character)


@pytest.mark.parametrize(
    ("answer", "readable", "words"),
    [
        ({}, False, "Nothing is ticked yet"),
        ({"off": {"ready": False, "note": "soon"}}, False, "Nothing is ticked yet"),
        ({"off": True}, False, "Nothing is ticked yet"),
        ({"other": {"ready": True}}, False, "Nothing is ticked yet"),
        ({"off": {"ready": 1}}, False, "Nothing is ticked yet"),
        ({"off": {"ready": True}}, True, "1 of 2 ready to be seen"),
        (
            {"off": {"ready": True}, "proved": {"ready": True, "note": "on PS1"}},
            True,
            "2 of 2 ready",
        ),
    ],
)
def test_a_sign_off_counts_what_is_ready_to_be_seen(
    answer: Any, readable: bool, words: str
) -> None:
    check, ask, key = prepared("sign_off")
    verdict = check.check(ask, key, answer)
    assert (verdict.readable, verdict.awaits) == (readable, readable)
    assert words in verdict.message


def test_what_is_not_ready_is_named_and_notes_are_shown() -> None:
    check, ask, key = prepared("sign_off")
    answer = {"off": {"ready": True, "note": "  lock  7 "}}
    assert "Not ready yet: V+ to V− is proved dead." in check.check(ask, key, answer).message
    shown = check.shown(ask, answer)
    assert "locked and tagged: ready (lock 7)" in shown
    assert "proved dead: not ready" in shown


HEADER = "---\nid: a\nversion: 1\ntitle: A\n---\n\n"
WRITTEN = """\
```exercise x
kind: written
title: T
question: Q
least: 2
most: 9
rubric:
  - {id: one, text: First., marks: 2}
  - {id: two, text: Second., marks: 1}
model: Three plain words.
marks: 3
working: W
```
"""
SIGN_OFF = """\
```exercise x
kind: sign_off
title: T
question: Q
items:
  - {id: one, text: First., look_for: Look., marks: 2}
  - {id: two, text: Second., look_for: Look., marks: 1}
marks: 3
working: W
```
"""


def _prepare(exercise: str) -> Prepared:
    lab = read_lab_text(HEADER + exercise)
    return draw(lab, "seed").prepare(lab.exercises[0])


@pytest.mark.parametrize("text", [WRITTEN, SIGN_OFF])
def test_the_definitions_that_the_mistakes_are_made_in_are_good(text: str) -> None:
    _prepare(text)


@pytest.mark.parametrize(
    ("good", "old", "new", "line", "words"),
    [
        (WRITTEN, "marks: 2}", "marks: 3}", 13, "add up to 4, but the exercise has 3"),
        (WRITTEN, "id: two", "id: one", 15, "criterion 'one' is there twice"),
        (WRITTEN, "least: 2", "least: 10", 11, "more than 'most' (9)"),
        (WRITTEN, "most: 9", "most: 2000", 12, "at most 1000"),
        (WRITTEN, "model: Three plain words.\n", "", 8, "is missing"),
        (WRITTEN, "Three plain words.", "One", 16, "the model answer has 1 words"),
        (WRITTEN, "First.", "'{{ nobody }}'", 14, "'nobody' is not a name of this lab"),
        (SIGN_OFF, ", marks: 1}", "}", 13, "this item has no marks"),
        (SIGN_OFF, "marks: 2}", "marks: 1}", 11, "add up to 2, but the exercise has 3"),
        (SIGN_OFF, "id: two", "id: one", 13, "item 'one' is there twice"),
        (SIGN_OFF, "text: First., look_for: Look.", "text: First.", 12, "is missing"),
        (SIGN_OFF, "marks: 3\n", "marks: 3\ncauton: x\n", 15, "Did you mean 'caution'?"),
    ],
)
def test_an_authors_mistake_is_told_with_its_line(
    good: str, old: str, new: str, line: int, words: str
) -> None:
    assert old in good
    with pytest.raises(DefinitionError) as caught:
        _prepare(good.replace(old, new, 1))
    problems = [(problem.place.line, str(problem)) for problem in caught.value.problems]
    assert any(at == line and words in text for at, text in problems), problems


def test_items_without_marks_are_worth_the_same() -> None:
    text = SIGN_OFF.replace(", marks: 2}", "}").replace(", marks: 1}", "}")
    key = _prepare(text).key
    assert [item["marks_share"] for item in key["rubric"]] == [0.5, 0.5]


GUIDE = Path(__file__).parents[2] / "instructors" / "authoring.md"
OWN = ["written", "sign_off", "measured"]
BLOCKS = [
    block
    for block in re.findall(r"```yaml\n(kind: .*?)```", GUIDE.read_text("utf-8"), re.DOTALL)
    if block.split()[1] in OWN
]


def test_the_guide_shows_each_kind_of_the_bench() -> None:
    assert [block.split()[1] for block in BLOCKS] == OWN


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.split()[1])
def test_what_the_guide_shows_can_be_copied(block: str) -> None:
    marks = "" if "\nmarks:" in block else "marks: 1\n"
    text = f"```exercise x\ntitle: T\nworking: W\n{marks}{block}```\n"
    made = _prepare(text)
    kind = block.split()[1]
    verdict = check_for(kind).check(
        made.ask, made.key, check_for(kind).right_answer(made.ask, made.key)
    )
    assert verdict.right or verdict.awaits
