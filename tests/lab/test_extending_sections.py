"""Sections by their ids: renamed, replaced, left out, put before and after; cautions that stay."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from labkit.cli import app
from labkit.lab.definition import Exercise, Lab, Noticed, Picture
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError
from labkit.page.sheet import sheet_of
from labkit.proofing import proof
from labkit.workbook.handout import Sheet, handouts

PARENT = """\
---
id: parent
version: 1.0
title: Parent
draw:
  gap: {from: 2, to: 8}
---

The beginning.

> **Caution.** Lock out
> and prove dead.

## The plan {# section: plan #}

The parent's plan.

## Measure {# section: measure #}

> **Caution.** Probes that slip
> short the supply.

Measure twice.

```exercise one
kind: quantity
title: One
question: One?
answer: gap
unit: m
marks: 1
working: One.
```

```exercise seen
kind: sign_off
title: Seen
question: Show it.
caution: Two people, and the gate closed.
items:
  - {id: done, text: It is done., look_for: Done., marks: 1}
marks: 1
working: Done.
```

## Sources

The parent's sources.

```exercise last
kind: quantity
title: Last
question: Last?
answer: 2 * gap
unit: m
marks: 1
working: Last.
```
"""

HEAD = "---\nextends: parent\nid: child\nversion: 2.0\ntitle: Child\n"
LOCK, SLIP, GATE = "Lock out", "Probes that slip", "Two people"


def written(folder: Path, child: str, parent: str = PARENT) -> Path:
    for name, text in (("parent", parent), ("child", child)):
        (folder / name).mkdir(exist_ok=True)
        (folder / name / "lab.md").write_text(text, encoding="utf-8")
    return folder / "child" / "lab.md"


def read(folder: Path, rest: str, parent: str = PARENT) -> Lab:
    return read_lab(written(folder, HEAD + rest, parent))


def shape(lab: Lab) -> list[str]:
    return [
        part.id if isinstance(part, Exercise) else part.text.splitlines()[0]
        for part in lab.body
        if not isinstance(part, Picture)
    ]


def prose(lab: Lab) -> str:
    return "\n".join(part.text for part in lab.body if isinstance(part, Prose))


def line_of(folder: Path, name: str, text: str) -> int:
    lines = (folder / name / "lab.md").read_text(encoding="utf-8").splitlines()
    return next(n for n, line in enumerate(lines, 1) if text in line)


def remarks(lab: Lab) -> list[tuple[Noticed, str, int]]:
    return [(remark.what, remark.place.file, remark.place.line) for remark in lab.remarks]


def test_marks_are_nothing_to_trainees(tmp_path: Path) -> None:
    lab = read(tmp_path, "---\n## A plan {# section: plan #}\n\n{# after: measure #}\n\nMore.\n")
    assert "{#" not in prose(lab)
    assert "## A plan\n" in prose(lab)
    scenario = draw(lab, "s")
    assert b"section:" not in handouts([Sheet(scenario)])
    assert [text["heading"] for text in sheet_of(scenario)["steps"][0]["texts"]][1] == "A plan"


def test_a_heading_is_renamed_and_its_text_stays(tmp_path: Path) -> None:
    lab = read(tmp_path, "---\n## The other plan {# section: plan #}\n")
    assert shape(lab)[1:3] == ["## The other plan", "The parent's plan."]
    assert "## The plan" not in prose(lab)
    assert lab.remarks == ()


def test_a_heading_that_the_parent_renames_is_still_meant(tmp_path: Path) -> None:
    rest = "---\n## The plan {# section: plan #}\n\nMine.\n"
    newer = PARENT.replace("## The plan {#", "## The drawing {#")
    for parent in (PARENT, newer):
        lab = read(tmp_path, rest, parent)
        assert "Mine." in prose(lab)
        assert "The parent's plan." not in prose(lab)
        assert "## The drawing" not in prose(lab)


def test_a_section_is_replaced_and_left_out_by_its_id(tmp_path: Path) -> None:
    lab = read(tmp_path, "---\n## Mine {# section: plan #}\n\nMy plan.\n")
    assert "My plan." in prose(lab)
    assert "The parent's plan." not in prose(lab)
    lab = read(tmp_path, "leave out:\n  sections: [plan]\n---\n")
    assert "plan" not in prose(lab)


def test_text_is_put_before_and_after_a_section(tmp_path: Path) -> None:
    rest = (
        "---\n{# before: plan #}\n\nBefore the plan.\n\n{# after: plan #}\n\nAfter the plan.\n\n"
        "## New\n\nNew.\n\n{# after: beginning #}\n\nAfter the beginning.\n"
    )
    assert shape(read(tmp_path, rest)) == [
        "The beginning.",
        "After the beginning.",
        "Before the plan.",
        "## The plan",
        "After the plan.",
        "## New",
        *("## Measure", "one", "seen", "## Sources", "last"),
    ]


def test_an_exercise_can_be_put_before_a_section(tmp_path: Path) -> None:
    block = "```exercise two\n" + PARENT.split("```exercise one\n")[1].split("```")[0] + "```\n"
    lab = read(tmp_path, f"---\n{{# before: measure #}}\n\nFirst this.\n\n{block}")
    assert shape(lab)[1:5] == ["## The plan", "First this.", "two", "## Measure"]


def test_an_id_holds_for_a_grandchild(tmp_path: Path) -> None:
    written(tmp_path, f"{HEAD}---\n## Renamed\n\n## The plan\n\nThe child's plan.\n")
    (tmp_path / "third").mkdir()
    text = HEAD.replace("extends: parent", "extends: child").replace("id: child", "id: third")
    path = tmp_path / "third" / "lab.md"
    path.write_text(f"{text}---\n## Again {{# section: plan #}}\n", encoding="utf-8")
    assert shape(read_lab(path))[1:3] == ["## Again", "The child's plan."]


@pytest.mark.parametrize(
    "rest",
    [
        "---\n## Measure\n\nMine.\n",
        "---\n## Mine {# section: measure #}\n\nMine.\n",
        "---\n## Only renamed {# section: measure #}\n",
        "leave out:\n  sections: [measure]\n---\n",
        "leave out:\n  sections: [Measure]\n---\n",
        "---\nMine.\n",
        "leave out:\n  sections: [beginning]\n---\n",
    ],
)
def test_a_caution_stays_whatever_becomes_of_its_section(rest: str, tmp_path: Path) -> None:
    lab = read(tmp_path, rest)
    text = prose(lab)
    assert (text.count(LOCK), text.count(SLIP)) == (1, 1)
    kept = [remark for remark in lab.remarks if remark.what is Noticed.caution_kept]
    assert len(kept) == ("renamed" not in rest)
    for remark in kept:
        parent = line_of(tmp_path, "parent", SLIP if "easure" in rest else LOCK)
        assert f"parent/lab.md, line {parent}," in remark.sentence
        assert remark.place.file == "child/lab.md"
    if "leave out" not in rest:
        cautions = [text for step in sheet_of(draw(lab, "s"))["steps"] for text in step["cautions"]]
        assert len(cautions) == 2


def test_a_kept_caution_stands_below_the_new_heading(tmp_path: Path) -> None:
    lab = read(tmp_path, "---\n## Mine {# section: measure #}\n\nMine.\n")
    assert shape(lab)[2:5] == ["## Mine", "> **Caution.** Probes that slip", "Mine."]


def test_a_caution_that_is_repeated_stands_once(tmp_path: Path) -> None:
    own = "> **Caution.** Probes that slip short\n> the supply.\n\nMine.\n"
    lab = read(tmp_path, f"---\n## Measure {{# section: measure #}}\n\n{own}")
    assert prose(lab).count(SLIP) == 1
    assert lab.remarks == ()


def test_a_caution_goes_by_name_with_a_reason_and_that_is_told(tmp_path: Path) -> None:
    rest = "leave out:\n  cautions:\n    - section: measure\n      because: it is paper only\n---\n"
    lab = read(tmp_path, rest)
    assert SLIP not in prose(lab)
    assert "Measure twice." in prose(lab)
    assert LOCK in prose(lab)
    place = line_of(tmp_path, "child", "- section: measure")
    assert remarks(lab) == [(Noticed.caution_left_out, "child/lab.md", place)]
    caution = line_of(tmp_path, "parent", SLIP)
    sentence = lab.remarks[0].sentence
    assert sentence == (
        f"the caution of parent/lab.md, line {caution}, is left out: it is paper only."
    )
    found = {finding.id: finding for finding in proof(lab, 3).findings}
    assert found["caution-left-out"].sentence == sentence
    listed = CliRunner().invoke(app, ["labs", str(tmp_path)])
    assert "it is paper only" in listed.stdout


def test_nobody_can_accept_that_a_caution_is_left_out(tmp_path: Path) -> None:
    rest = (
        "leave out:\n  cautions: [{section: measure, because: paper}]\n"
        "accepted: [{finding: caution-left-out, because: I say so}]\n---\n"
    )
    found = [finding.id for finding in proof(read(tmp_path, rest), 3).findings]
    assert "caution-left-out" in found
    assert "accepts-nothing" in found


def test_the_reason_is_told_of_a_grandchild_too(tmp_path: Path) -> None:
    rest = "leave out:\n  cautions: [{section: beginning, because: paper}]\n---\n"
    written(tmp_path, HEAD + rest)
    (tmp_path / "third").mkdir()
    text = HEAD.replace("extends: parent", "extends: child").replace("id: child", "id: third")
    path = tmp_path / "third" / "lab.md"
    path.write_text(f"{text}---\n", encoding="utf-8")
    lab = read_lab(path)
    assert LOCK not in prose(lab)
    assert [remark.what for remark in lab.remarks] == [Noticed.caution_left_out]


REPLACED = PARENT.split("```exercise seen\n")[1].split("```")[0].replace("Show it.", "Show mine.")


def test_the_caution_of_an_exercise_stays_when_that_is_replaced(tmp_path: Path) -> None:
    bare = REPLACED.replace("caution: Two people, and the gate closed.\n", "")
    lab = read(tmp_path, f"---\n```exercise seen\n{bare}```\n")
    assert f"> **Caution.** {GATE}" in prose(lab)
    assert [remark.what for remark in lab.remarks] == [Noticed.caution_kept]
    lab = read(tmp_path, f"---\n```exercise seen\n{REPLACED}```\n")
    assert GATE not in prose(lab)
    assert lab.remarks == ()


def test_the_caution_of_an_exercise_goes_by_name_or_with_it(tmp_path: Path) -> None:
    rest = "leave out:\n  cautions: [{exercise: seen, because: no gate here}]\n---\n"
    lab = read(tmp_path, rest)
    assert [remark.what for remark in lab.remarks] == [Noticed.caution_left_out]
    assert lab.exercises[1].data.get("caution") is None
    for rest in (
        "leave out:\n  exercises: [seen]\n---\n",
        "leave out:\n  sections: [measure]\n---\n",
    ):
        lab = read(tmp_path, rest)
        told = [item for item in lab.remarks if item.what is Noticed.caution_left_out]
        assert "the exercise 'seen' is left out" in told[0].sentence


def test_a_section_by_its_heading_still_works_and_proof_says_what_is_better(
    tmp_path: Path,
) -> None:
    lab = read(tmp_path, "---\n## The plan\n\nMine.\n\n## Sources\n\nMy sources.\n")
    assert remarks(lab) == [
        (Noticed.section_by_heading, "child/lab.md", line_of(tmp_path, "child", "## The plan"))
    ]
    found = [finding for finding in proof(lab, 3).findings if finding.id == "section-by-heading"]
    assert "{# section: plan #}" in found[0].mend
    assert f"parent/lab.md, line {line_of(tmp_path, 'parent', '## The plan')}" in found[0].sentence


@pytest.mark.parametrize("heading", ["## The plans", "## Mine {# section: measures #}"])
def test_a_new_section_that_is_nearly_a_known_one_is_told(heading: str, tmp_path: Path) -> None:
    lab = read(tmp_path, f"---\n{heading}\n\nMine.\n")
    assert [remark.what for remark in lab.remarks] == [Noticed.section_nearly_known]
    assert "section-nearly-known" in [finding.id for finding in proof(lab, 3).findings]


# What the child says, the line of it (by a part) that the error names, its words.
MISTAKES = [
    ("---\n{# before: plann #}\n\nX.\n", "{# before:", "Did you mean 'plan'?"),
    ("---\n{# before: plann #}\n\nX.\n", "{# before:", "(parent/lab.md)"),
    ("---\n{# after: The plan #}\n\nX.\n", "{# after:", "is no id of a section"),
    ("---\nX. {# after: plan #}\n", "{# after:", "alone on its line"),
    ("---\nX. {# section: plan #}\n", "{# section:", "behind no heading"),
    ("---\n## P {# sektion: plan #}\n", "{# sektion:", "Did you mean '{# section:"),
    ("---\n## P {# section: Plan #}\n", "{# section:", "'Plan' is no id"),
    ("---\n## P {# section: beginning #}\n", "{# section:", "above the first heading"),
    ("---\n## P {# section: plan #}\n\n## Q {# section: plan #}\n", "## Q", "another section's"),
    ("---\n## P {# section: plan #}\n\n## The plan\n", "## The plan", "written anew already"),
    ("---\n## The plan {# section: mine #}\n", "## The plan", "parent/lab.md, line 14"),
    ("leave out:\n  sections: [plann]\n---\n", "sections:", "Did you mean 'plan'?"),
    ("leave out:\n  sections: ['']\n---\n", "sections:", "is no section"),
    ("leave out:\n  cautions: [{section: plan}]\n---\n", "cautions:", "because"),
    ("leave out:\n  cautions: [{because: x}]\n---\n", "cautions:", "name a section"),
    ("leave out:\n  cautions: [{section: plan, because: x}]\n---\n", "cautions:", "no caution"),
    ("leave out:\n  cautions: [{section: pln, because: x}]\n---\n", "cautions:", "'plan'"),
    ("leave out:\n  cautions: [{exercise: one, because: x}]\n---\n", "cautions:", "no caution"),
    ("leave out:\n  cautions: [{exercise: sen, because: x}]\n---\n", "cautions:", "'seen'"),
]


@pytest.mark.parametrize(("rest", "line", "words"), MISTAKES)
def test_a_mistake_is_told_at_its_line(rest: str, line: str, words: str, tmp_path: Path) -> None:
    with pytest.raises(DefinitionError) as refused:
        read(tmp_path, rest)
    [problem] = refused.value.problems
    assert words in str(problem)
    assert problem.place.file == "child/lab.md"
    assert problem.place.line == line_of(tmp_path, "child", line)


def test_two_sections_that_are_called_the_same_now_are_told_with_both_files(
    tmp_path: Path,
) -> None:
    with pytest.raises(DefinitionError) as refused:
        read(tmp_path, "---\n## Sources {# section: plan #}\n")
    parent, child = (line_of(tmp_path, name, "## Sources") for name in ("parent", "child"))
    assert f"parent/lab.md, line {parent}: the heading 'Sources'" in str(refused.value)
    assert f"(child/lab.md, line {child})" in str(refused.value)


def test_a_lab_alone_puts_nothing_before_or_after(tmp_path: Path) -> None:
    parent = PARENT.replace("## Sources", "{# after: plan #}\n\n## Sources")
    with pytest.raises(DefinitionError, match="this one extends none"):
        read(tmp_path, "---\n", parent)


def test_a_mark_in_code_is_shown(tmp_path: Path) -> None:
    parent = PARENT.replace("The parent's sources.", "    ## x {# sections: Y #}\n")
    assert "The beginning." in prose(read(tmp_path, "---\n", parent))


def test_what_was_dealt_is_read_whatever_its_marks_say(tmp_path: Path) -> None:
    path = written(tmp_path, f"{HEAD}---\n", PARENT.replace("section: plan", "sektion: plan"))
    with pytest.raises(DefinitionError):
        read_lab(path)
    assert read_lab(path, dealt=True).id == "child"
