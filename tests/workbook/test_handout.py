"""Workbooks on paper: everything to answer is there, and nothing of any key."""

import html
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from printed import ONE_OF_EACH, OTHERS, copy_of

from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.doors.verdict import Verdict
from labkit.kinds.common import paper
from labkit.kinds.common.bench_setup import setup_of
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.language.expression import Prose
from labkit.language.markdown import to_html
from labkit.workbook.handout import PageSize, Sheet, handouts, instructors_copy

ROOT = Path(__file__).parents[2]
LABS = [
    read_lab(ROOT / "labs" / "plan-the-trunk" / "lab.md"),
    read_lab(ROOT / "tests" / "library" / "bench-day" / "lab.md"),
]
SCENARIOS = [draw(lab, f"paper {number}") for lab in LABS for number in range(8)]


def words_of(page: bytes) -> str:
    """The page's text: no styles, no drawings, no tags."""
    text = page.decode("utf-8")
    text = re.sub(r"<(style|svg)\b.*?</\1>", " ", text, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def in_words(markdown: str) -> str:
    return words_of(to_html(markdown).encode())


def secrets(scenario: Scenario) -> list[str]:
    """Every text that only a key, a hint or the working holds."""
    found = []
    asked: list[str] = []
    for exercise in scenario.lab.exercises:
        prepared = scenario.prepare(exercise)
        found.append(in_words(exercise.working.render(scenario.names)))
        found += [in_words(hint.text.render(scenario.names)) for hint in exercise.hints]
        found += [in_words(text) for text in _texts(prepared.key)]
        asked += [in_words(text) for text in _texts(prepared.ask)]
    said = " ".join([*_author_says(scenario), *asked])
    return [text for text in found if len(text) > 12 and text not in said]


def _author_says(scenario: Scenario) -> list[str]:
    """What the author tells every trainee in so many words is no secret."""
    lab = scenario.lab
    asked = [exercise.question for exercise in lab.exercises]
    prose = [part for part in lab.body if isinstance(part, Prose)]
    return [in_words(part.render(scenario.names)) for part in (*asked, *prose)]


def _texts(key: Any) -> list[str]:
    if isinstance(key, str):
        return [key]
    items = key.values() if isinstance(key, dict) else key if isinstance(key, list) else []
    return [text for item in items for text in _texts(item)]


@pytest.mark.parametrize(
    "scenario", [*SCENARIOS, *ONE_OF_EACH], ids=lambda one: f"{one.lab.id}-{one.seed[-1]}"
)
def test_a_handout_asks_everything_and_answers_nothing(scenario: Scenario) -> None:
    page = words_of(handouts([Sheet(scenario, "Ansa Merrow", "t01", "Autumn class")]))
    for number, exercise in enumerate(scenario.lab.exercises, 1):
        assert f"{number}. {exercise.title.render(scenario.names)}" in page
        assert in_words(exercise.question.render(scenario.names)) in page
    hidden = secrets(scenario)
    assert len(hidden) > (8 if len(scenario.lab.exercises) > 3 else 1)
    for text in hidden:
        assert text not in page, text
    # The search itself finds what is there: the instructor's copy holds the same texts.
    copy = words_of(copy_of(scenario))
    assert sum(text in copy for text in hidden) > len(hidden) * 0.6


@pytest.mark.parametrize("scenario", ONE_OF_EACH, ids=lambda one: one.lab.id)
def test_no_fault_of_a_bench_is_named_on_a_handout(scenario: Scenario) -> None:
    page = words_of(handouts([Sheet(scenario)]))
    for exercise in scenario.lab.exercises:
        if exercise.kind == "diagnosis":
            prepared = scenario.prepare(exercise)
            setup = setup_of(prepared.ask["setup"])
            for data in prepared.key["faults"]:
                fault = setup.catalogue.fault_from_json(data)
                assert fault.words_on(setup.layout) not in page


def test_a_right_number_is_not_on_the_handout() -> None:
    looked_at = 0
    for scenario in SCENARIOS[:8]:
        exercise = next(one for one in scenario.lab.exercises if one.id == "section-loss")
        prepared = scenario.prepare(exercise)
        right = check_for("quantity").right_answer(prepared.ask, prepared.key)
        assert right in words_of(instructors_copy([Sheet(scenario)]))
        if right in " ".join(_author_says(scenario)):
            continue  # by chance another number of the text
        assert right not in words_of(handouts([Sheet(scenario)]))
        looked_at += 1
    assert looked_at >= 5


def _without_keys(exercise: Exercise) -> Exercise:
    """The same question, whose key, hints and working are gone."""
    prepare = exercise.prepare
    nothing = Prose("nothing", frozenset(), exercise.place, None)
    return replace(
        exercise,
        prepare=lambda values, stream: Prepared(prepare(values, stream).ask, {}),
        hints=(),
        working=nothing,
    )


@pytest.mark.parametrize("lab", [*LABS, *OTHERS], ids=lambda lab: lab.id)
def test_not_a_byte_of_a_handout_comes_from_a_key(lab: Lab) -> None:
    scenario = draw(lab, "bytes")
    body = tuple(
        _without_keys(part) if isinstance(part, Exercise) else part for part in scenario.lab.body
    )
    bare = replace(scenario, lab=replace(scenario.lab, body=body))
    assert handouts([Sheet(bare)]) == handouts([Sheet(scenario)])


def test_the_instructors_copy_has_answers_slips_hints_working_and_rubric() -> None:
    scenario = SCENARIOS[-1]
    page = words_of(instructors_copy([Sheet(scenario)]))
    for exercise in scenario.lab.exercises:
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        ask, key = prepared.ask, prepared.key
        for mistake in paper.known_mistakes(check, ask, key):
            assert mistake.id in page
            assert words_of(mistake.answer_html.encode()) in page
            assert words_of(mistake.tell_html.encode()) in page
        if exercise.kind not in ("written", "sign_off"):
            assert check.shown(ask, check.right_answer(ask, key)) in page
        assert in_words(exercise.working.render(scenario.names)) in page
    assert "Says that a signal is thrown back" in page
    assert "Look for: The lock on the supply's switch" in page
    assert "The parts allow" in page
    assert "Not for trainees" in page


def test_cautions_and_places_to_answer_are_there() -> None:
    scenario = next(one for one in SCENARIOS if one.lab.id == "bench-day")
    page = handouts([Sheet(scenario)]).decode()
    assert page.count("⚠ Caution") == 2
    assert "Local codes and your site" in words_of(page.encode())
    section = {
        exercise.kind: text
        for exercise, text in zip(
            scenario.lab.exercises, page.split('<section class="exercise">')[1:], strict=True
        )
    }
    assert section["sign_off"].count('class="tickbox"') == 2
    assert section["measured"].count('class="tickbox"') == 2
    assert section["choice"].count('class="tickbox"') == 3
    assert section["written"].count("<div></div>") == 10
    assert section["address_plan"].count('<td class="fill wide"></td>') == 3
    assert section["quantity"].count('class="rule"') == 1
    taps = scenario.prepare(scenario.lab.exercises[-1]).ask["network"]["taps"]
    assert [f">{tap['position']:g}<" in section["supply_position"] for tap in taps] == [True] * 3


@pytest.mark.parametrize("size", list(PageSize))
def test_a_page_is_made_for_its_paper_and_fetches_nothing(size: PageSize) -> None:
    for page in (
        handouts([Sheet(SCENARIOS[0])], size),
        instructors_copy([Sheet(SCENARIOS[0])], size),
    ):
        text = page.decode("utf-8")
        assert f"@page {{ size: {size.value};" in text
        assert not re.search(r"<script|<link|<img|@import|url\(", text)
        assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_a_name_can_neither_end_a_string_nor_a_tag() -> None:
    name = 'Ansa "M" \\ </style><script>x</script>\n}'
    page = handouts([Sheet(SCENARIOS[0], name, "t01", "<b>class</b>")]).decode()
    assert "<script" not in page
    assert "<b>class" not in page
    assert page.count("</style>") == page.count("<style>")
    running = re.search(r"@bottom-left { content: (.*?); font", page)
    assert running
    assert re.fullmatch(r'"(\w|\\[0-9a-f]+ )*"', running[1])


def test_each_sheet_counts_its_own_pages() -> None:
    sheets = [Sheet(one, "A", f"t{n}") for n, one in enumerate(SCENARIOS[:3])]
    page = handouts(sheets).decode()
    for number in (1, 2, 3):
        assert f"counter-increment: s{number};" in page
        assert f'"Page " counter(s{number});' in page
        assert f'<article class="sheet s{number}">' in page
    assert page.count("End of Plan the trunk, A (t") == 3


def test_a_sheet_by_itself_says_of_how_many_pages_it_is() -> None:
    page = handouts([Sheet(SCENARIOS[0])]).decode()
    assert '"Page " counter(s1) " of " counter(pages)' in page


def test_every_page_names_lab_version_and_trainee_and_the_copy_says_that_it_is_one() -> None:
    sheet = Sheet(SCENARIOS[0], "Ansa Merrow", "t01", "Autumn class")
    lab = SCENARIOS[0].lab
    foot = f"{lab.title} {lab.version} · Ansa Merrow (t01) · Autumn class"
    assert _foot(handouts([sheet])) == foot
    assert _foot(instructors_copy([sheet])) == f"Instructor's copy · {foot}"


def _foot(page: bytes) -> str:
    found = re.search(r'@bottom-left { content: "(.*?)";', page.decode())
    assert found
    return re.sub(r"\\([0-9a-f]+) ", lambda match: chr(int(match[1], 16)), found[1])


def test_short_prose_stays_with_what_it_introduces_but_the_first_with_the_head() -> None:
    page = handouts([Sheet(SCENARIOS[0])]).decode()
    body = page[page.index("<article") :]
    assert body.count('<div class="text lead"><h2>Part') == 2
    first = body.index('<div class="text')
    assert body[first:].startswith('<div class="text"><p>Scene')


class Foreign:
    """A kind of another package, which knows nothing of paper."""

    def shown(self, _ask: Any, answer: Any) -> str:
        return str(answer)

    def right_answer(self, _ask: Any, _key: Any) -> str:
        return "<7>"

    def slip_answers(self, _ask: Any, _key: Any) -> dict[str, str]:
        return {"other": "<8>"}

    def check(self, _ask: Any, _key: Any, _answer: Any) -> Verdict:
        return Verdict(0.0, "Not *eight*.", "other")


def test_a_kind_that_knows_nothing_of_paper_gets_a_line() -> None:
    check: Any = Foreign()
    assert paper.answer_place(check, {}) == paper.line("Your answer")
    assert paper.marking_notes(check, {}, {}, 3) == ""
    assert paper.right_answer(check, {}, {}) == paper.filled("<7>")
    [mistake] = paper.known_mistakes(check, {}, {})
    assert mistake.answer_html == "<p>&lt;8&gt;</p>"
    assert mistake.tell_html == "<p>Not <em>eight</em>.</p>"


def test_pieces_of_paper_take_care_of_their_words() -> None:
    made = "".join(
        (
            paper.line("<a>", "<b>"),
            paper.note("<c>"),
            paper.boxes(["<d>"]),
            paper.table(["<e>"], [[paper.text("<f>")]]),
            paper.caution("<g>"),
            paper.rubric([{"text": "<h>", "marks_share": 0.5}], 3),
            paper.lettered(["<i>"]),
            paper.ticks(["<j>"]),
            paper.filled("<k>"),
        )
    )
    assert not re.search(r"<[ac-k]>", made)
    assert made.count("&lt;") == 11
    assert ">1.5<" in made
