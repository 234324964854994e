"""A lab on top of another: what is taken over, replaced, added; where errors point."""

from pathlib import Path

import pytest

from labkit.lab.definition import Exercise, Lab, Picture
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError

SHIPPED = Path(__file__).parents[2] / "labs"

PARENT = """\
---
id: parent
version: 1.0
title: Parent
summary: The parent's summary.
minutes: 40
draw:
  gap: {from: 2, to: 8}
  drop: {from: 1, to: 4}
sources:
  factor: {value: 4.57, source: A manual}
let:
  twice: 2 * gap
  total: twice + drop
valid:
  - rule: gap > 2
    because: the taps stand apart
  - rule: drop < 4
    because: it is short
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: 20 * gap}
  taps: {at: "[gap]", drop: "[drop]", device: '["scale"]', current: "[0.5]"}
difficulty: {formula: gap, band: [2, 8]}
---

Before the first heading.

## The plan

The parent's plan: {{ total }}.

```picture
```

## Part 1

The parent's first part.

```exercise one
kind: quantity
title: One
question: One?
answer: total
unit: m
marks: 1
working: One.
```

```exercise two
kind: quantity
title: Two
question: Two?
answer: twice
unit: m
marks: 1
working: Two.
```

## Sources

The parent's sources.
"""

HEAD = "---\nextends: parent\nid: child\nversion: 2.0\ntitle: Child\n"


def exercise(name: str, answer: str = "total") -> str:
    return (
        f"```exercise {name}\nkind: quantity\ntitle: T\nquestion: '{name} of the child?'\n"
        f"answer: {answer}\nunit: m\nmarks: 3\nworking: W.\n```\n"
    )


def written(folder: Path, child: str, parent: str = PARENT) -> Path:
    for name, text in (("parent", parent), ("child", child)):
        (folder / name).mkdir(exist_ok=True)
        (folder / name / "lab.md").write_text(text, encoding="utf-8")
    return folder / "child" / "lab.md"


def shape(lab: Lab) -> list[str]:
    """The body in one word a part: the first words of prose, 'picture', the exercises' ids."""
    return [
        part.id
        if isinstance(part, Exercise)
        else "picture"
        if isinstance(part, Picture)
        else part.text.splitlines()[0]
        for part in lab.body
    ]


def prose(lab: Lab) -> str:
    return "\n".join(part.text for part in lab.body if isinstance(part, Prose))


def test_a_child_that_says_nothing_is_its_parent_under_another_name(tmp_path: Path) -> None:
    child = read_lab(written(tmp_path, f"{HEAD}---\n"))
    parent = read_lab(tmp_path / "parent" / "lab.md")
    assert (child.id, child.version, child.title) == ("child", "2.0", "Child")
    assert (child.summary, child.minutes) == (parent.summary, 40)
    assert shape(child) == [
        *("Before the first heading.", "## The plan", "picture"),
        *("## Part 1", "one", "two", "## Sources"),
    ]
    assert draw(child, "s").names["total"] == draw(parent, "s").names["total"]
    assert draw(child, "s").difficulty == draw(parent, "s").difficulty
    assert child.extends == ("parent",)
    assert child.digest != parent.digest


def test_ranges_values_formulas_and_the_network_are_replaced_name_by_name(tmp_path: Path) -> None:
    text = (
        f"{HEAD}draw:\n  gap: {{from: 50, to: 60}}\n"
        "sources:\n  other: {value: 3, source: Another manual}\n"
        "let:\n  half: gap / 2\n  twice: 4 * half + other\n  more: total + factor\n"
        "network:\n  family: devicenet\n  rate: 250\n"
        "  trunk:\n    - {cable: thin, length: total}\n"
        '  taps: {at: "[gap]", drop: "[drop]", device: \'["valve"]\', current: "[0.5]"}\n---\n'
    )
    scenario = draw(read_lab(written(tmp_path, text)), "s")
    names = scenario.names
    assert 50 <= names["gap"] <= 60
    # 'half' is new and stands before 'twice', which needs it; 'total' is the parent's.
    assert names["total"] == 2 * names["gap"] + 3 + names["drop"]
    assert names["more"] == names["total"] + 4.57
    assert scenario.network.data_rate == 250
    assert [segment.cable for segment in scenario.network.segments] == ["thin"]


def test_rules_are_added_and_left_out(tmp_path: Path) -> None:
    text = (
        f"{HEAD}leave out:\n  rules: [it is short]\n"
        "valid:\n  - {rule: gap > 6, because: wide only}\n---\n"
    )
    lab = read_lab(written(tmp_path, text))
    assert [rule.because for rule in lab.rules] == ["the taps stand apart", "wide only"]
    assert {draw(lab, f"{n}").names["drop"] for n in range(60)} == {1, 2, 3, 4}


def test_an_exercise_of_the_same_name_takes_its_place_and_a_new_one_comes_after(
    tmp_path: Path,
) -> None:
    body = f"## Part 1\n\n{exercise('one')}\n{exercise('three')}"
    lab = read_lab(written(tmp_path, f"{HEAD}---\n{body}"))
    assert shape(lab)[-5:] == ["## Part 1", "one", "two", "three", "## Sources"]
    assert [item.marks for item in lab.exercises] == [3, 1, 3]
    assert "The parent's first part." in prose(lab)


def test_an_exercise_under_no_heading_comes_last(tmp_path: Path) -> None:
    lab = read_lab(written(tmp_path, f"{HEAD}---\n{exercise('three')}"))
    assert shape(lab)[-2:] == ["## Sources", "three"]
    assert shape(lab)[0] == "Before the first heading."


def test_text_under_a_heading_replaces_the_parents_and_its_exercises_stay(tmp_path: Path) -> None:
    body = (
        "The child begins.\n\n## Part 1\n\nThe child's own.\n\n"
        f"{exercise('three')}\n## A new part\n\nNew.\n\n## The plan\n\nNo picture here.\n"
    )
    lab = read_lab(written(tmp_path, f"{HEAD}---\n{body}"))
    assert shape(lab) == [
        "The child begins.",
        "## The plan",
        "## Part 1",
        *("one", "two", "three"),
        "## A new part",
        "## Sources",
    ]
    for gone in ("Before the first heading", "The parent's first part", "The parent's plan"):
        assert gone not in prose(lab)
    assert "The parent's sources." in prose(lab)


def test_exercises_and_sections_are_left_out_and_then_their_names(tmp_path: Path) -> None:
    text = (
        f"{HEAD}leave out:\n  exercises: [one]\n  sections: [The plan, Sources]\n"
        "  names: [total]\n---\n"
    )
    lab = read_lab(written(tmp_path, text))
    assert shape(lab) == ["Before the first heading.", "## Part 1", "two"]
    assert set(lab.derived) == {"twice"}


def test_a_grandchild_extends_both(tmp_path: Path) -> None:
    written(tmp_path, f"{HEAD}draw:\n  gap: {{one of: [5]}}\n---\n")
    (tmp_path / "third").mkdir()
    text = HEAD.replace("extends: parent", "extends: ../child").replace("id: child", "id: third")
    path = tmp_path / "third" / "lab.md"
    path.write_text(f"{text}draw:\n  drop: {{one of: [1]}}\n---\n", encoding="utf-8")
    lab = read_lab(path)
    assert lab.extends == ("child", "parent")
    assert draw(lab, "s").names["total"] == 11


def test_the_digest_changes_with_every_text_involved(tmp_path: Path) -> None:
    digests = {read_lab(written(tmp_path, f"{HEAD}---\n")).digest}
    digests.add(read_lab(written(tmp_path, f"{HEAD}---\n\n")).digest)
    digests.add(read_lab(written(tmp_path, f"{HEAD}---\n", f"{PARENT}\n")).digest)
    assert len(digests) == 3


# What the child says, the file and the line (by a part of it) that the error names, its words.
MISTAKES = [
    ("leave out:\n  exercises: [too]\n---\n", "child", "exercises:", "Did you mean 'two'?"),
    ("leave out:\n  sections: [Source]\n---\n", "child", "sections:", "'Sources'"),
    ("leave out:\n  names: [totl]\n---\n", "child", "names:", "'total'"),
    ("leave out:\n  rules: [is short]\n---\n", "child", "rules:", "'it is short'"),
    ("leave out:\n  exercise: [two]\n---\n", "child", "exercise:", "Did you mean 'exercises'?"),
    ("leave out: two\n---\n", "child", "leave out", "must be a group"),
    ("leave out:\n  names: [gap]\n---\n", "parent", "twice: 2 * gap", "'gap' is not a name"),
    ("draw:\n  gap: {from: 9, to: 1}\n---\n", "child", "gap: {from: 9", "is below 'from'"),
    ("draw: 3\n---\n", "child", "draw: 3", "must be a group"),
    ("valid: 3\n---\n", "child", "valid: 3", "must be a list"),
    ("let:\n  twice: gpa\n---\n", "child", "twice: gpa", "Did you mean 'gap'?"),
    ("valid:\n  - {rule: gapp > 1, because: x}\n---\n", "child", "gapp", "Did you mean 'gap'?"),
    ("network:\n  family: devicenett\n---\n", "child", "family", "Did you mean 'devicenet'?"),
    ("sources:\n  gap: {value: 1, source: x}\n---\n", "child", "gap: {value", "drawn above"),
    ("sources:\n  f: {value: much, source: x}\n---\n", "child", "f: {value", "not a number"),
    ("difficulty: {formula: gpa}\n---\n", "child", "difficulty", "Did you mean 'gap'?"),
    ("difficulty: {formula: gap, band: [5, 2]}\n---\n", "child", "difficulty", "Exchange"),
    ("---\n## Part 1\n\nA.\n\n## Part 1\n", "child", "## Part 1", "there already"),
    ("---\n" + exercise("one", "totl"), "child", "answer: totl", "Did you mean 'total'?"),
    ("---\n## The plan\n\n{{ totl }}\n", "child", "{{ totl }}", "Did you mean 'total'?"),
]


@pytest.mark.parametrize(("rest", "file", "line", "words"), MISTAKES)
def test_a_mistake_is_told_where_it_stands(
    rest: str, file: str, line: str, words: str, tmp_path: Path
) -> None:
    path = written(tmp_path, f"{HEAD}{rest}")
    with pytest.raises(DefinitionError) as refused:
        read_lab(path)
    problem = refused.value.problems[0]
    assert words in str(problem)
    assert problem.place.file == f"{file}/lab.md"
    lines = (tmp_path / file / "lab.md").read_text(encoding="utf-8").splitlines()
    assert line in lines[problem.place.line - 1]


def test_a_rule_of_the_child_keeps_its_own_number(tmp_path: Path) -> None:
    path = written(tmp_path, f"{HEAD}valid:\n  - {{rule: gapp > 1, because: x}}\n---\n")
    with pytest.raises(DefinitionError) as refused:
        read_lab(path)
    assert refused.value.problems[0].place.field == "valid → number 1 → rule"


@pytest.mark.parametrize(
    ("extends", "words"),
    [
        ("parnet", "Did you mean 'parent'?"),
        ("/etc", "not the name of a lab's folder"),
        ("../../parent", "not the name of a lab's folder"),
        ("[parent]", "not the name of a lab's folder"),
        ("child", "goes round in a circle"),
    ],
)
def test_a_parent_that_is_not_there_is_told(extends: str, words: str, tmp_path: Path) -> None:
    path = written(tmp_path, HEAD.replace("parent", extends) + "---\n")
    with pytest.raises(DefinitionError) as refused:
        read_lab(path)
    assert words in str(refused.value)
    assert refused.value.problems[0].place.line == 2


def test_a_lab_that_comes_with_labkit_need_not_lie_beside(tmp_path: Path) -> None:
    child = tmp_path / "mine" / "lab.md"
    child.parent.mkdir()
    text = "---\nid: mine\nversion: 1.0\ntitle: Mine\nextends: run-and-idle\n---\n"
    child.write_text(text, encoding="utf-8")
    lab = read_lab(child)
    assert lab.extends == ("run-and-idle",)
    assert len(lab.exercises) == len(read_lab(SHIPPED / "run-and-idle" / "lab.md").exercises)
    # One that lies beside comes first.
    beside = tmp_path / "run-and-idle" / "lab.md"
    beside.parent.mkdir()
    beside.write_text(PARENT, encoding="utf-8")
    assert len(read_lab(child).exercises) == len(read_lab(beside).exercises)


def test_a_text_alone_extends_nothing_and_leaves_nothing_out() -> None:
    with pytest.raises(DefinitionError, match="no lab beside it"):
        read_lab_text(f"{HEAD}---\n")
    with pytest.raises(DefinitionError, match="extends no other"):
        read_lab_text(PARENT.replace("minutes: 40", "leave out: {names: [gap]}"))


def test_the_shipped_lab_can_be_extended(tmp_path: Path) -> None:
    text = (SHIPPED / "plan-the-trunk" / "lab.md").read_text(encoding="utf-8")
    rest = "draw:\n  rate: {one of: [500]}\nleave out:\n  exercises: [addresses]\n---\n"
    path = written(tmp_path, f"{HEAD}{rest}", text)
    lab = read_lab(path)
    for number in range(10):
        scenario = draw(lab, f"s{number}")
        assert scenario.network.data_rate == 500
        for item in lab.exercises:
            scenario.prepare(item)
