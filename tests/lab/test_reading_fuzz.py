"""Random damage to a real lab: it is read and worked out, or refused as a `DefinitionError`."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.lab.reading.source import read_fields, read_source
from labkit.language.problems import DefinitionError

LAB = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"
LINES = LAB.read_text(encoding="utf-8").split("\n")
SCRAPS = [
    *("", "---", "```", "```exercise x", "```picture", "  ", "- ", ": ", "{{", "}}", "{% for x in"),
    *("[", "]", "{", "}", "&a ", "*a", "!!int ", "'", '"', "|", ">", "? ", "#", "\t", "\x07", "\0"),
    *("\ufeff", "\u2028", "0", "-1", "1e99", "9" * 400, "nan", "none", "network", "rate: 126"),
    *("  - ", "kind: quantity", "let:", "<<: ", "%", "\\", "é", "😀", "\ud800"),
]


@st.composite
def damaged(draw_from: st.DrawFn) -> str:
    lines = list(LINES)
    for _ in range(draw_from(st.integers(1, 3))):
        at = draw_from(st.integers(0, len(lines) - 1))
        other = draw_from(st.integers(0, len(lines) - 1))
        line, scrap = lines[at], draw_from(st.sampled_from(SCRAPS))
        cut = draw_from(st.integers(0, len(line)))
        how = draw_from(st.integers(0, 6))
        if how == 0:
            del lines[at]
        elif how == 1:
            lines.insert(other, line)
        elif how == 2:
            lines[at], lines[other] = lines[other], line
        elif how == 3:
            lines[at] = line[:cut] + scrap + line[cut:]
        elif how == 4:
            lines[at] = line[:cut] + line[cut + 1 :]
        elif how == 5:
            lines[at] = scrap
        else:
            lines = lines[: at + 1]
        if not lines:
            break
    return "\n".join(lines)


def work_through(text: str) -> Any:
    lab = read_lab_text(text)
    scenario = draw(lab, "seed")
    for exercise in lab.exercises:
        scenario.prepare(exercise)
        for prose in (exercise.title, exercise.question, exercise.working):
            prose.render(scenario.names)
    return scenario


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(damaged())
def test_a_damaged_lab_is_refused_with_places_or_still_works(text: str) -> None:
    try:
        scenario = work_through(text)
    except DefinitionError as error:
        places = [problem.place for problem in error.problems]
    else:
        places = [scenario.lab.place]
    last_line = text.replace("\u2028", "\n").count("\n") + 2
    assert places
    assert all(place.file == "lab.md" and 1 <= place.line <= last_line for place in places)


def fields_of(text: str) -> object:
    try:
        fields = read_fields(text, "lab.md", 1)
    except DefinitionError as error:
        return str(error)
    return fields.data, fields.lines


def is_read_alike(text: str) -> None:
    with pytest.MonkeyPatch.context() as patched:
        read = fields_of(text)
        patched.setattr(yaml, "__with_libyaml__", False)
        assert read == fields_of(text)


@pytest.mark.parametrize(
    "text",
    [
        *("a: b\tc", "a: 'b\tc'", "\ta: b", "a: {b: is it?}", "a: [b, c?d]", "{b: c,\n? d}"),
        *("? a\n: b", "- ? a", "- - ? a\n    : b", "?", "a: >#\n  b", "a: | #\n  b", "a: >-#"),
        *("a\ufeffb: c", "a: \ufeff", "a: b: c", "a: 'b", "a: [b", "a: \x07", "a: \ud800", "a: *b"),
        *(
            "a: &b c\nd: *b",
            "a: >\n\n  b\n\n  c\n",
            "a: |+\n  b\n\n\nc: d",
            "a: \x85b",
            "é: 😀",
            "",
        ),
        "[" * 1_100,
    ],
)
def test_fields_are_the_same_with_libyaml_and_without(text: str) -> None:
    is_read_alike(text)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(damaged(), st.integers(0, len(LINES)))
def test_damaged_fields_are_the_same_with_libyaml_and_without(text: str, first: int) -> None:
    is_read_alike("\n".join(text.split("\n")[first : first + 12]))


@pytest.mark.parametrize(
    "lab", sorted(path.parent.name for path in LAB.parents[1].glob("*/lab.md"))
)
def test_every_lab_is_the_same_with_libyaml_and_without(lab: str) -> None:
    file = LAB.parents[1] / lab / "lab.md"
    read = read_source(file.read_text(encoding="utf-8"), "lab.md")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(yaml, "__with_libyaml__", False)
        assert read == read_source(file.read_text(encoding="utf-8"), "lab.md")
