"""Names of plant, line and site: a line of another lab changes the scenery of all texts."""

import shutil
from pathlib import Path

import pytest

from labkit.lab.announced import announced
from labkit.lab.definition import Lab
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

SHIPPED = Path(__file__).parents[2] / "labs"

TEXT = """\
---
id: parent
version: 1.0
title: The {{ line }}
summary: In {{ plant }}.
scenery:
  plant: Brindlemere Springs
  line: case line
  site: >
    packing
    hall
draw:
  gap: {from: 2, to: 8}
---

**Aim.** Measure in the {{ site }}.

## The {{ site }} {# section: site #}

{% if gap > 1 %}At {{ plant }}{% endif %}, {{ site | upper }}:
{{ "the " + line if gap > 1 else "" }}.

```exercise one
kind: choice
answer: "'a' if gap > 4 else 'b'"
title: At {{ plant }}
question: Where in {{ site }}?
options:
  - {id: a, text: "{{ gap }} m along the {{ line }}", tell: No.}
  - {id: b, text: Nowhere., tell: No.}
marks: 1
working: In {{ site }}.
```
"""


def text_of(lab: Lab) -> str:
    scenario = draw(lab, "s")
    parts = [part.render(scenario.names) for part in lab.body if isinstance(part, Prose)]
    [one] = lab.exercises
    ask = scenario.prepare(one).ask
    question = one.question.render(scenario.names)
    return "\n".join([lab.title, lab.summary, *parts, question, str(ask)])


def extension(folder: Path, parent: str, header: str, body: str = "") -> Lab:
    for name, text in (
        ("parent", parent),
        ("child", f"---\nextends: parent\nid: child\nversion: 1.0\n{header}---\n{body}"),
    ):
        (folder / name).mkdir(exist_ok=True)
        (folder / name / "lab.md").write_text(text, encoding="utf-8")
    return read_lab(folder / "child" / "lab.md")


def test_the_words_stand_in_every_text() -> None:
    lab = read_lab_text(TEXT)
    text = text_of(lab)
    assert (lab.title, lab.summary) == ("The case line", "In Brindlemere Springs.")
    assert "## The packing hall\n" in text
    assert "At Brindlemere Springs, PACKING HALL:\nthe case line." in text
    assert "m along the case line" in text
    assert "Where in packing hall?" in text
    assert announced(lab).aim == "Measure in the packing hall."
    assert "plant" not in draw(lab, "s").names


def test_one_line_changes_the_scenery(tmp_path: Path) -> None:
    lab = extension(tmp_path, TEXT, "title: Mine\nscenery:\n  plant: Kestrelmoor Dairy\n")
    text = text_of(lab)
    assert "Brindlemere" not in text
    assert text.count("Kestrelmoor Dairy") == 2
    assert "case line" in text
    parent = read_lab(tmp_path / "parent" / "lab.md")
    assert draw(lab, "s").fingerprint == draw(parent, "s").fingerprint


@pytest.mark.parametrize("heading", ["## The {{ site }}", "## The packing hall"])
def test_a_heading_with_a_name_is_the_same_in_another_scenery(heading: str, tmp_path: Path) -> None:
    header = "title: Mine\nscenery: {site: kiln house}\n"
    text = text_of(extension(tmp_path, TEXT, header, f"{heading}\n\nMine.\n"))
    assert "Mine." in text
    assert "At Brindlemere" not in text


@pytest.mark.parametrize("name", sorted(path.parent.name for path in SHIPPED.glob("*/lab.md")))
def test_five_lines_put_a_shipped_lab_into_another_plant(name: str, tmp_path: Path) -> None:
    shipped = (SHIPPED / name / "lab.md").read_text(encoding="utf-8")
    shutil.copytree(SHIPPED / name, tmp_path / "parent")
    lab = extension(tmp_path, shipped, "title: T\nscenery: {plant: Kestrelmoor Dairy}\n")
    text = "\n".join(part.text for part in lab.body if isinstance(part, Prose))
    assert "Kestrelmoor Dairy" in text
    assert "Brindlemere" not in text
    assert {scene.name for scene in lab.scenery} == lab.language.said


def test_a_name_that_no_text_uses_is_told(tmp_path: Path) -> None:
    lab = extension(tmp_path, TEXT, "title: T\nscenery: {plnat: Kestrelmoor Dairy}\n")
    [unused] = [finding for finding in proof(lab, 3).findings if finding.id == "unused"]
    assert (unused.of, unused.place.file, unused.place.line) == ("plnat", "child/lab.md", 6)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("plant: Brindlemere Springs", "plant: '{{ gap }}'", "words only, without braces"),
        ("plant: Brindlemere Springs", "plant: ''", "is empty"),
        ("plant: Brindlemere Springs", f"plant: {'x' * 201}", "longer than 200"),
        ("plant: Brindlemere Springs", "plant: [a]", "must be text"),
        ("plant: Brindlemere Springs", "gap: Brindlemere Springs", "under 'scenery' already"),
        ("plant: Brindlemere Springs", "network: Brindlemere", "already in use"),
        ("plant: Brindlemere Springs", "Plant: Brindlemere", "Use small letters"),
        ("In {{ plant }}.", "In {{ plnat }}.", "Known here: plant, line, site"),
        ("Where in {{ site }}?", "Where in {{ sit }}?", "Did you mean 'site'?"),
        ("{% if gap > 1 %}", "{% for site in [1] %}{% endfor %}{% if 1 %}", "'scenery' already"),
    ],
)
def test_a_mistake_is_told(old: str, new: str, words: str) -> None:
    with pytest.raises(DefinitionError, match=words.replace("?", r"\?")):
        read_lab_text(TEXT.replace(old, new))


def test_a_name_that_only_a_formula_says_is_used_however_often_the_lab_is_read() -> None:
    text = TEXT.replace("At {{ plant }}", "Here").replace("In {{ plant }}.", "A summary.")
    text = text.replace("{{ site | upper }}", "{{ plant | upper }}")
    for _ in range(2):
        assert [
            each.id for each in proof(read_lab_text(text), 3).findings if each.id == "unused"
        ] == []
