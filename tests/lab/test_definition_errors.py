"""Every mistake in a definition is told with file, line, field and a mend."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError

SHIPPED = (Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md").read_text(
    encoding="utf-8"
)

GOOD = """\
---
id: small
version: 1.0
title: Small
draw:
  length: {from: 10, to: 20}
  places:
    one of: [4, 6, 8]
    count: 2
    different: yes
let:
  double: 2 * length
valid:
  - rule: double > 0
    because: it is
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: length}
  taps: {at: places | sort, drop: "[1, 2]", device: '["a", "b"]', current: "[0.1, 0.2]"}
---

# Text

The trunk has {{ length }} m.

```picture
```

```exercise first
kind: quantity
title: First
question: How long is {{ double }}?
answer: double
unit: m
tolerance: 1 %
marks: 2
hints:
  - text: Think.
    costs: 0.5
slips:
  - id: half
    answer: length
    tell: Half of it.
working: 2 x {{ length }} m
```

```exercise second
kind: choice
title: Second
question: Which?
answer: '"a" if length > 15 else "b"'
marks: 1
options:
  - {id: a, text: A, tell: Not a.}
  - {id: b, text: B, tell: Not b.}
working: Look.
```
"""


def _line_of(text: str, part: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if part in line)


def test_the_good_one_is_good() -> None:
    lab = read_lab_text(GOOD, "lab.md")
    scenario = draw(lab, "s")
    assert [exercise.id for exercise in lab.exercises] == ["first", "second"]
    assert scenario.prepare(lab.exercises[0]).key["value"] == 2 * scenario.names["length"]


# What is changed in the good definition, the line it is reported at (by a part of that line, of
# the changed text), a part of the field's name, and words of the sentence or its mend.
MISTAKES = [
    ("id: small\n", "", "version: 1.0", "id", "is missing"),
    ("title: Small", "titel: Small", "titel: Small", "titel", "Did you mean 'title'?"),
    ("version: 1.0", "version: one", "version: one", "version", "Write a version such as 1.0"),
    ("id: small", "id: Small Lab", "id: Small Lab", "id", "small letters"),
    ("title: Small", "title: Small\ntitle: Twice", "title: Twice", "title", "written twice"),
    ("title: Small", "title: Small: one", "title: Small: one", "", "Put it in quotation marks"),
    ("{from: 10, to: 20}", "{from: 10, to: 5}", "length: {", "to", "is below 'from'"),
    ("{from: 10, to: 20}", "{from: 10}", "length: {", "length", "what to draw from"),
    ("{from: 10, to: 20}", "{from: 10, to: 20, step: 3}", "length: {", "to", "Write 19"),
    ("{from: 10, to: 20}", "{from: 10, to: 20, step: 0}", "length: {", "step", "more than 0"),
    ("{from: 10, to: 20}", "{from: ten, to: 20}", "length: {", "from", "is not a number"),
    ("{from: 10, to: 20}", "{frm: 10, to: 20}", "length: {", "frm", "Did you mean 'from'?"),
    ("count: 2", "count: lenght", "count: lenght", "count", "Did you mean 'length'?"),
    ("different: yes", "different: perhaps", "different: perhaps", "different", "yes or no"),
    ("    count: 2\n", "", "different: yes", "different", "Add 'count'"),
    ("double: 2 * length", "double: 2 * lenght", "double: 2 *", "double", "'length'"),
    ("double: 2 * length", "length: 2", "length: 2", "length", "drawn above already"),
    ("double: 2 * length", "double: 2\n  max: 3", "max: 3", "max", "already in use"),
    ("rule: double > 0", "rule: doubel > 0", "rule: doubel", "rule", "'double'"),
    ("    because: it is\n", "", "rule: double > 0", "because", "is missing"),
    ("family: devicenet", "family: devicenett", "family:", "family", "Did you mean 'devicenet'"),
    ("rate: 125", "rate: raet", "rate: raet", "rate", "not a name"),
    ("cable: thick", "cable: thikc", "cable: thikc", "cable", "Did you mean 'thick'"),
    ("taps: {at:", "taps: {att:", "taps: {att", "att", "Did you mean 'at'?"),
    ("{{ length }} m.", "{{ lengt }} m.", "{{ lengt }}", "", "Did you mean 'length'?"),
    ("{{ length }} m.", "{{ length } m.", "{{ length }", "", "is not closed here"),
    ("kind: quantity", "kind: quantitty", "kind: quantitty", "kind", "'quantity'"),
    ("kind: quantity\n", "", "title: First", "kind", "is missing"),
    ("unit: m", "unit: parsec", "unit: parsec", "unit", "not a unit"),
    ("tolerance: 1 %", "tolerance: a bit", "tolerance: a bit", "tolerance", "not a tolerance"),
    ("marks: 2", "marks: two", "marks: two", "marks", "not a number"),
    ("marks: 2", "marks: 0", "marks: 0", "marks", "must be more than 0"),
    ("costs: 0.5", "costs: 5", "hints:", "hints", "more than the exercise's marks"),
    ("answer: double", "answer: dobule", "answer: dobule", "answer", "Did you mean 'double'?"),
    ("answer: length\n", "answer: lenght\n", "answer: lenght", "answer", "'length'"),
    ("tell: Half of it.", "tell: '{{ hlaf }}'", "tell: '{{ hlaf", "tell", "not a name"),
    ("answer: double\n", "answer: double\nanser: 3\n", "anser: 3", "anser", "'answer'"),
    ("```exercise second", "```exercise first", "exercise first", "", "is there already"),
    ("```exercise second", "```exercise  ", "```exercise  ", "", "no id"),
    ("```exercise second", "```exercise Se cond", "exercise Se cond", "", "se-cond"),
    ("{id: b, text", "{id: a, text", "{id: a, text: B", "id", "is there twice"),
    ("working: Look.\n```\n", "working: Look.\n", "exercise second", "", "does not end"),
    (
        "working: Look.",
        "working: Look: here: now",
        "working: Look: here",
        "",
        "Put it in quotation marks",
    ),
    ("title: Second", "title: &t [*t]", "title: &t", "", "refer to each other"),
]


@pytest.mark.parametrize(("old", "new", "line", "field", "words"), MISTAKES)
def test_a_mistake_is_told_with_its_place_and_a_mend(
    old: str, new: str, line: str, field: str, words: str
) -> None:
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    with pytest.raises(DefinitionError) as refused:
        read_lab_text(text, "lab.md")
    problem = refused.value.problems[0]
    assert words in str(problem)
    assert field in problem.place.field
    assert problem.place.file == "lab.md"
    if old != "```exercise second" or new != "```exercise first":
        assert problem.place.line == _line_of(text, line)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("at: places | sort", "at: '[3]'", "the lists differ in length"),
        ("at: places | sort", "at: '[3, 900]'", "beyond the trunk"),
        ("at: places | sort", "at: '3'", "does not give a list"),
        ("rule: double > 0", "rule: double < 0", "this rule rejects 2000"),
        ("answer: double\n", "answer: '\"text\"'\n", "is not a number"),
        ("answer: double\n", "answer: double / 0\n", "divides by zero"),
        ('answer: \'"a" if', 'answer: \'"c" if', "is not an option"),
        ("count: 2", "count: 0.5", "not a whole number"),
        ("count: 2", "count: 4", "different values are asked of only 3"),
    ],
)
def test_a_mistake_that_only_a_draw_shows_is_told_too(old: str, new: str, words: str) -> None:
    with pytest.raises(DefinitionError) as refused:
        _draw_twenty(GOOD.replace(old, new, 1))
    assert words in str(refused.value)
    assert refused.value.problems[0].place.line > 1


def _draw_twenty(text: str) -> None:
    # Some draws do not meet the mistake: a choice only goes wrong on one side.
    lab = read_lab_text(text, "lab.md")
    for number in range(20):
        scenario = draw(lab, f"s{number}")
        for exercise in lab.exercises:
            scenario.prepare(exercise)


def test_several_mistakes_are_told_at_once_in_the_order_of_the_file() -> None:
    text = GOOD.replace("unit: m", "unit: parsec").replace("2 * length", "2 * lenght")
    with pytest.raises(DefinitionError) as refused:
        read_lab_text(text, "lab.md")
    assert [p.place.field for p in refused.value.problems][:2] == [
        "let → double",
        "exercise 'first': unit",
    ]


def test_a_file_of_another_kind_is_told_so(tmp_path: Path) -> None:
    missing = tmp_path / "none" / "lab.md"
    with pytest.raises(DefinitionError, match="No such file"):
        read_lab(missing)
    latin = tmp_path / "lab.md"
    latin.write_bytes("---\ntitle: Über\n---\n".encode("latin-1"))
    with pytest.raises(DefinitionError, match=r"line 2.*not UTF-8"):
        read_lab(latin)
    with pytest.raises(DefinitionError, match="the header is missing"):
        read_lab_text("# Just text")
    with pytest.raises(DefinitionError, match="the header does not end"):
        read_lab_text("---\nid: x\n")
    with pytest.raises(DefinitionError, match="longer than"):
        read_lab_text("x" * 1_000_001)
    with pytest.raises(DefinitionError, match="has no exercise"):
        read_lab_text("---\nid: x\nversion: 1\ntitle: X\n---\ntext")


def test_line_ends_and_byte_order_marks_do_not_matter() -> None:
    seed = "same"
    plain = draw(read_lab_text(GOOD), seed).drawn
    assert draw(read_lab_text("\ufeff" + GOOD.replace("\n", "\r\n")), seed).drawn == plain


def _use(text: str) -> None:
    lab = read_lab_text(text)
    scenario = draw(lab, "fuzz")
    for exercise in lab.exercises:
        scenario.prepare(exercise)
        exercise.question.render(scenario.names)
        exercise.working.render(scenario.names)


@settings(
    deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
@given(
    st.integers(0, len(SHIPPED.splitlines()) - 1),
    st.sampled_from(["drop", "double", "cut", "swap", "junk"]),
    st.text("{}[]:'\"-|>&*%#ab1 ", max_size=6),
)
def test_a_spoilt_definition_never_raises_anything_else(line: int, way: str, junk: str) -> None:
    lines = SHIPPED.splitlines()
    if way == "drop":
        del lines[line]
    elif way == "double":
        lines.insert(line, lines[line])
    elif way == "cut":
        lines[line] = lines[line][: len(lines[line]) // 2]
    elif way == "swap":
        lines[line - 1], lines[line] = lines[line], lines[line - 1]
    else:
        lines[line] = lines[line] + junk
    try:
        _use("\n".join(lines))
    except DefinitionError as error:
        assert error.problems  # noqa: PT017 - anything else raised is what fails the test
