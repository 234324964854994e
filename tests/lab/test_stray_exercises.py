"""What only nearly is an exercise is refused: it would stand in every workbook, key and all."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError

ROOT = Path(__file__).parents[2]
HEADER = "---\nid: small\nversion: 1.0\ntitle: Small\ndraw:\n  a: {from: 1, to: 9}\n---\n\n"
FIELDS = """\
kind: quantity
title: Twice
question: What is twice {{ a }} m?
answer: 2 * a
unit: m
slips:
  - {id: half, answer: a / 2, tell: You halved it.}
hints:
  - {text: 'Add it to itself: {{ a + a }}.', costs: 0.5}
marks: 1
working: It is **{{ 2 * a }} m**."""
SOUND = f"```exercise sound\n{FIELDS}\n```\n"
WITHOUT_KIND = FIELDS.removeprefix("kind: quantity\n")
SUPPLY = """\
kind: supply_position
title: The supply
question: Where?
marks: 3
working: In the middle."""


def indented(text: str, by: str) -> str:
    return "\n".join(by + line for line in text.splitlines())


def problems(body: str) -> list[tuple[int, str]]:
    """Line in the body (from 1) and sentence of each problem; none where it is read."""
    try:
        read_lab_text(HEADER + body)
    except DefinitionError as error:
        found = error.problems
    else:
        found = ()
    assert all(problem.mend for problem in found)
    return [(problem.place.line - HEADER.count("\n"), str(problem)) for problem in found]


FENCES = {
    "capital": f"```Exercise one\n{FIELDS}\n```",
    "letters exchanged": f"```exericse one\n{FIELDS}\n```",
    "a letter too many": f"```excercise one\n{FIELDS}\n```",
    "another letter": f"```exercice one\n{FIELDS}\n```",
    "two letters wrong": f"```exxercize one\n{FIELDS}\n```",
    "plural": f"```exercises one\n{FIELDS}\n```",
    "colon": f"```exercise: one\n{FIELDS}\n```",
    "no space": f"```exercise:one\n{FIELDS}\n```",
    "run together": f"```exerciseone\n{FIELDS}\n```",
    "hyphen": f"```exercise-one\n{FIELDS}\n```",
    "number": f"```exercise1\n{FIELDS}\n```",
    "braces": f"```{{exercise}} one\n{FIELDS}\n```",
    "dot": f"```.exercise one\n{FIELDS}\n```",
    "braces and dot": f"``` {{.exercise #one}}\n{FIELDS}\n```",
    "second word": f"```yaml exercise one\n{FIELDS}\n```",
    "tildes": f"~~~Exercise one\n{FIELDS}\n~~~",
    "four": f"````excercise one\n{FIELDS}\n````",
    "invisible": f"```\u200bexercise one\n{FIELDS}\n```",
    "cyrillic": f"```\u0435xercise one\n{FIELDS}\n```",
    "not closed": f"```exercises one\n{FIELDS}",
    "without fields": "```Exercise one\n```",
    "a picture": "```Picture\n```",
    "pictures": "```pictures\n```",
    "in a list": f"- ```exercise one\n{indented(FIELDS, '  ')}\n  ```",
    "in a numbered list": f"1. ```exercise one\n{indented(FIELDS, '   ')}\n   ```",
    "in a quotation": f"> ```exercise one\n{indented(FIELDS, '> ')}\n> ```",
    "indented": indented(f"```exercise one\n{FIELDS}\n```", "    "),
    "a tab": indented(f"```exercise one\n{FIELDS}\n```", "\t"),
    "after text": f"Now: ```exercise one\n{FIELDS}\n```",
    "backslash": f"\\```exercise one\n{FIELDS}\n```",
    "shown in a longer fence": f"````text\n```exercise one\n{FIELDS}\n```\n````",
    "backtick in the id": f"```exercise `one`\n{FIELDS}\n```",
    "in a comment": f"<!--\n```exercise one\n{FIELDS}\n```\n-->",
    "in a tag": f"<div>\n```exercise one\n{FIELDS}\n```\n</div>",
    "in a collapsed tag": f"<pre>\n\n```exercise one\n{FIELDS}\n```\n\n</pre>",
}


@pytest.mark.parametrize("name", FENCES)
@pytest.mark.parametrize("before", ["", "Some text.\n\n", f"{SOUND}\n"])
def test_a_fence_that_is_nearly_an_exercise(name: str, before: str) -> None:
    block = FENCES[name]
    found = problems(f"{before}{block}\n\nAnd on.\n\n{SOUND}".replace("sound", "last", 1))
    offset = before.count("\n")
    fence = next(
        n for n, line in enumerate(block.splitlines(), 1) if "```" in line or "~~~" in line
    )
    assert found, name
    assert any(line - offset in (fence, fence + 1) for line, _ in found)
    assert all("would stand in every workbook" in sentence for _, sentence in found)


WITHOUT_A_WORD = {
    "no word": f"```\n{FIELDS}\n```",
    "yaml": f"```yaml\n{FIELDS}\n```",
    "another word": f"```question one\n{FIELDS}\n```",
    "no kind": f"```task one\n{WITHOUT_KIND}\n```",
    "a kind without an answer": f"```task one\n{SUPPLY}\n```",
    "slips alone": "```yaml\nslips:\n  - id: half\n    answer: a / 2\n    tell: Half of it.\n```",
    "a slip on one line": "```yaml\n- {id: half, answer: a / 2, tell: Half of it.}\n```",
    "capitals": f"```yaml\n{FIELDS.replace('kind:', 'Kind:').replace('answer:', 'Answer:')}\n```",
    "json": '```json\n{"kind": "quantity", "title": "T", "answer": "2 * a"}\n```',
    "a misspelt kind": "```yaml\nkind: quantiy\nanswer: 2 * a\n```",
    "two backticks": f"``exercise one\n{FIELDS}\n``",
    "one backtick": f"`exercise one\n{FIELDS}\n`",
    "apostrophes": f"'''exercise one\n{FIELDS}\n'''",
    "no fence": f"exercise one\n{FIELDS}",
    "no fence, no kind": WITHOUT_KIND,
    "blank lines between": FIELDS.replace("\n", "\n\n"),
    "blank lines, no answer": SUPPLY.replace("\n", "\n\n"),
    "indented code": indented(FIELDS, "    "),
    "a quotation": indented(FIELDS, "> "),
    "a list": indented(FIELDS.replace("\n  ", " "), "- "),
    "bold names": FIELDS.replace("kind:", "**kind:**").replace("answer:", "**answer:**"),
    "a comment": f"<!-- exercise one\n{FIELDS}\n-->",
    "a comment on one line": "<!-- {kind: quantity, title: T, answer: 2 * a} -->",
    "lines run together": f"```exercise one {' '.join(FIELDS.split())}```",
    "an ordinary fence left open": f"```text\nLook at the drawing.\n\n```exercise one\n{FIELDS}",
    "an underline": f"kind: quantity\n---\nanswer: 2 * a\n\n{SUPPLY}",
}


@pytest.mark.parametrize("name", WITHOUT_A_WORD)
def test_an_exercises_fields_in_the_text(name: str) -> None:
    block = WITHOUT_A_WORD[name]
    found = problems(f"Some text.\n\n{block}\n\n{SOUND}")
    assert found, name
    assert 3 <= found[0][0] <= 3 + block.count("\n") + 1
    assert "would stand in every workbook" in found[0][1]
    assert "```exercise and its id" in found[0][1]


def test_every_stray_exercise_is_told_at_once_with_its_line() -> None:
    body = f"{SOUND}\n```Exercise two\n{FIELDS}\n```\n\nText.\n\n```yaml\n{FIELDS}\n```\n"
    lines = body.splitlines()
    found = problems(body)
    assert [line for line, _ in found] == [
        lines.index("```Exercise two") + 1,
        lines.index("```yaml") + 2,
    ]
    assert "'Exercise two' after a fence begins no 'exercise' block" in found[0][1]
    assert "('kind', 'title', 'question', 'answer', 'unit', 'slips')" in found[1][1]


@pytest.mark.parametrize("sign", [">", "|", ">-"])
@pytest.mark.parametrize("name", ["slips", "hints"])
def test_fields_that_have_slid_into_the_question(sign: str, name: str) -> None:
    question = f"question: {sign}\n  What is twice that?\n"
    rest = FIELDS.split("\n", 3)[3].split("\n")
    at = next(n for n, line in enumerate(rest) if line.startswith(name))
    slid = indented("\n".join(rest[at : at + 2]), "  ")
    kept = "\n".join([*rest[:at], *rest[at + 2 :]])
    found = problems(f"```exercise one\nkind: quantity\ntitle: T\n{question}{slid}\n{kept}\n```\n")
    assert [line for line, _ in found] in ([4], [5])
    assert f"holds '{name}:'" in found[0][1]


SHOWN = [
    "Write `exercise` on the sheet, or ```exercise```.",
    "The exercise: one.\n\nexercise two follows.",
    "Your answer: a number and a unit.\nThe working: on paper.",
    "What kind: thick or thin?\nAnswer: thick.",
    "Write the\nanswer: the number first,\nunit: behind it.",
    "kind: of cable you have\n\nanswer: in metres",
    "```\n```",
    "```text\nSUPPLY 24 V\nMODEL MERE-3S\n```",
    "```yaml\nkind: valve\ntitle: Inlet\nunit: bar\nmodel: MERE-3S\ntolerance: 2 %\n```",
    "```yaml\ndevices:\n  - kind: switches\n    count: 3\n  - {kind: frame, options: [a, b]}\n```",
    "```yaml\nanswer: yes\n```",
    "```text\nWorking: 24 V\nAnswer: no\n```",
    "```ladder\nmotor := (start OR motor) AND stop\n```",
    "```sh\nping 192.168.1.10   # answer: 4 ms\n```",
    "```console\n$ status\nkind: scanner\nslot: 3\n```",
    "~~~\n0.000 s  0x40D  [2]  0E 01\n~~~",
    "    an indented\n    block: of code",
    "> Question: is it dead?\n> Answer: prove it.",
    "| kind | answer |\n|---|---|\n| thick | 500 m |",
    "<!-- a note -->",
    "- kind: thick\n- length: 5 m",
    f"```specimen\n```Exercise\n{FIELDS}\n```".replace("```Exercise\n", "exercise one\n"),
    f"````specimen\n```exercise one\n{FIELDS}\n```\n````",
    f"~~~specimen of a lab\n```exercise one\n{FIELDS}\n```\n~~~",
    f"> ````specimen\n{indented(FIELDS, '> ')}\n> ````",
]


@pytest.mark.parametrize("text", SHOWN)
def test_text_and_code_that_are_no_exercise_are_read(text: str) -> None:
    lab = read_lab_text(f"{HEADER}{text}\n\n{SOUND}")
    prose = next(part for part in lab.body if isinstance(part, Prose))
    assert prose.render(draw(lab, "s").names) == text.strip().replace("{{ a }}", _a(lab)).replace(
        "{{ a + a }}", str(2 * int(_a(lab)))
    ).replace("{{ 2 * a }}", str(2 * int(_a(lab))))


def _a(lab: object) -> str:
    return str(draw(lab, "s").names["a"])  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        (f"```specimen\n{FIELDS}\n\n{SOUND}", 1, "'specimen' block"),
        (f"```specimen\n{FIELDS}\n``` end\n\n{SOUND}", FIELDS.count("\n") + 3, "not longer"),
        (f"````specimen\n{FIELDS}\n```\n\n{SOUND}", 1, "does not end"),
    ],
)
def test_a_specimen_swallows_no_exercise(text: str, line: int, words: str) -> None:
    found = problems(f"{text}\n{SOUND.replace('sound', 'other')}")
    assert words in found[0][1]
    assert found[0][0] == line or "not longer" in found[0][1]


@settings(deadline=None, max_examples=150, derandomize=True)
@given(st.data())
def test_one_or_two_letters_wrong_are_noticed(data: st.DataObject) -> None:
    word = [*"exercise"]
    ways = ["out", "in", "other"]
    wrong = data.draw(st.integers(1, 2))
    for _ in range(wrong):
        at = data.draw(st.integers(0, len(word) - 1))
        match data.draw(st.sampled_from(ways if wrong == 2 else [*ways, "exchanged"])):
            case "out":
                del word[at]
            case "in":
                word.insert(at, data.draw(st.sampled_from("abcxyz")))
            case "other":
                word[at] = data.draw(st.sampled_from("abcxyz"))
            case _:
                word[at : at + 2] = reversed(word[at : at + 2])
    text = "".join(word)
    fence = f"```{text} one\nDraw a line.\n```\n\n"
    assert problems(fence + SOUND), text


_WORDS = st.sampled_from(
    [
        *("text", "yaml", "json", "sh", "shell", "console", "ladder", "st", "python", "csv", ""),
        *("diff", "xml", "c", "drawing", "log", "wiring", "table", "example", "fixture", "lab"),
    ]
)
_LINE = st.one_of(
    st.text("abcdefg 0123456789:=#[]<>/._-", max_size=30),
    st.sampled_from(
        [
            *("kind: valve", "title: Inlet", "unit: V", "name: x", "options: [a]", "$ ls -l"),
            *("model: MERE-3S", "  - {id: a, at: 4}", "tolerance: 5 %", "marks: on the cable"),
        ]
    ),
)


@settings(deadline=None, max_examples=150, derandomize=True)
@given(st.lists(st.tuples(_WORDS, st.lists(_LINE, max_size=6)), min_size=1, max_size=3))
def test_ordinary_code_blocks_raise_no_alarm(blocks: list[tuple[str, list[str]]]) -> None:
    code = "\n\n".join("\n".join([f"```{word}", *lines, "```"]) for word, lines in blocks)
    assert problems(f"Text.\n\n{code}\n\n{SOUND}") == []


def test_both_files_are_looked_at_where_a_lab_extends_another(tmp_path: Path) -> None:
    child = "---\nextends: parent\nid: child\nversion: 1.0\ntitle: Child\n---\n"
    stray = f"```Exercise two\n{FIELDS}\n```\n"
    for name, own, inherited in (("child", stray, ""), ("parent", "", stray)):
        for folder, text in (
            ("child", child + own),
            ("parent", HEADER.replace("small", "parent") + SOUND + inherited),
        ):
            (tmp_path / folder).mkdir(exist_ok=True)
            (tmp_path / folder / "lab.md").write_text(text, encoding="utf-8")
        with pytest.raises(DefinitionError, match=rf"^{name}/lab\.md, line \d+: 'Exercise two'"):
            read_lab(tmp_path / "child" / "lab.md")
        assert read_lab(tmp_path / "child" / "lab.md", dealt=True).exercises


def test_the_shipped_labs_are_read() -> None:
    for file in (ROOT / "labs").glob("*/lab.md"):
        assert read_lab(file).digest == read_lab(file, dealt=True).digest
