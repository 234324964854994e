"""Mistakes in a definition: each names its file, line, field and a mend; never another error."""

from pathlib import Path

import pytest

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.lab.reading.source import MAX_DEFINITION
from labkit.language.problems import DefinitionError, Problem

GOOD = """\
---
id: two-taps
version: 1.0.0
title: Two taps
minutes: 10
draw:
  rate: {one of: [125, 250]}
  gap: {from: 2, to: 8, step: 0.5}
  names: {one of: [scale, valve, gate], count: 2, different: yes}
let:
  places: running_total([gap, gap])
  drop: gap / 4
  reach: longest_distance(network)
network:
  family: devicenet
  rate: rate
  trunk:
    - {cable: thick, length: 4 * gap}
  taps:
    at: places
    drop: "[drop, drop]"
    device: names
    current: "[0.5, 1]"
valid:
  - rule: gap > 2
    because: the taps stand apart
---

The trunk is {{ 4 * gap }} m long.

```picture
```

```exercise reach
kind: quantity
title: The longest distance
question: How far apart are the two farthest points?
answer: reach
unit: m
tolerance: 0.05
marks: 2
hints:
  - text: Compare the drop with the end of the trunk.
    costs: 0.5
slips:
  - id: half
    answer: reach / 2
    tell: That is half of {{ reach }} m.
working: It is {{ reach }} m.
```

```exercise rate
kind: choice
title: The data rate
question: Which rate is it?
answer: '"slow" if rate == 125 else "fast"'
marks: 1
options:
  - id: slow
    text: 125 kbit/s
    tell: Look again.
  - id: fast
    text: 250 kbit/s
    tell: Look again.
working: It is {{ rate }} kbit/s.
```

```exercise addresses
kind: address_plan
title: Addresses
question: Give each device an address.
devices: names
taken:
  - {address: 0, by: the scanner}
free: 63
marks: 1
working: Any two.
```

```exercise supply
kind: supply_position
title: The supply
question: Where may it stand?
marks: 1
working: In many places.
```
"""


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def work_through(text: str) -> None:
    lab = read_lab_text(text, "labs/two-taps/lab.md")
    scenario = draw(lab, "seed")
    for part in lab.body:
        if hasattr(part, "render"):
            part.render(scenario.names)
    for exercise in lab.exercises:
        scenario.prepare(exercise)
        for prose in (exercise.title, exercise.question, exercise.working):
            prose.render(scenario.names)


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(DefinitionError) as caught:
        work_through(text)
    for problem in caught.value.problems:
        assert problem.place.file == "labs/two-taps/lab.md"
        assert problem.message
        assert str(problem).startswith(str(problem.place))
    return caught.value.problems


def test_the_definition_that_the_mistakes_are_made_in_is_sound() -> None:
    work_through(GOOD)


# What is written instead of what, the line (a part of the changed text that begins on it), the
# field, and words of the sentence with its mend.
MISTAKES = [
    ("---\nid:", "id:", "id:", "", "the header is missing. Start the file with a line '---'"),
    ("apart\n---\n", "apart\n", "---\nid", "", "the header does not end. Close it with"),
    ("title: Two taps", "title: Two: taps", "title: Two:", "", 'title: "Two: taps"'),
    ("  gap: {from", "  gap: {{from", "  gap: {{", "", "Write one: gap: {from"),
    ("title: Two taps", "title: 'Two taps", "title:", "", "does not end"),
    ("title: Two taps", "\ttitle: Two taps", "\ttitle", "", "begins with a tab"),
    ("minutes: 10", "id: again", "id: again", "id", "is written twice. Keep one"),
    ("    at: places", "    at: gap\n    at: places", "    at: places", "at", "is written twice"),
    ("minutes: 10", "minuts: 10", "minuts", "minuts", "not a field here. Did you mean 'minutes'?"),
    ("to: 8", "too: 8", "  gap:", "draw → gap → too", "Did you mean 'to'?"),
    ("minutes: 10", "minutes: ten", "minutes", "minutes", "'ten' is not a whole number"),
    ("minutes: 10", "minutes: 0", "minutes", "minutes", "'0' must be more than 0"),
    ("minutes: 10", "minutes: 99999", "minutes", "minutes", "must be at most 10000"),
    ("minutes: 10", "minutes: " + "9" * 5000, "minutes", "minutes", "too large"),
    ("minutes: 10", "minutes: [10]", "minutes", "minutes", "a whole number, but is a list"),
    ("id: two-taps", "id: Two Taps", "id:", "id", "Use small letters, digits and '-'"),
    ("id: two-taps\n", "", "version", "id", "is missing. Add a line 'id: …'"),
    ("id: two-taps", "id: ''", "id:", "id", "not allowed here"),
    ("version: 1.0.0", "version: new", "version", "version", "Write a version such as 1.0"),
    ("  gap: {from", "  Gap: {from", "  Gap", "draw → Gap", "Use small letters, digits and '_'"),
    ("  gap: {from: 2, to: 8, step: 0.5}", "  gap: 5", "  gap", "draw → gap", "group of fields"),
    ("from: 2, to: 8", "from: 2", "  gap", "draw → gap", "does not say what to draw from"),
    ("from: 2, to: 8", "from: two, to: 8", "  gap", "draw → gap → from", "'two' is not a number"),
    ("from: 2, to: 8", "from: 9, to: 8", "  gap", "draw → gap → to", "8 is below 'from' (9)"),
    ("step: 0.5", "step: 0.7", "  gap", "draw → gap → to", "Write 7.6, or change the step"),
    ("step: 0.5", "step: 0", "  gap", "draw → gap → step", "must be more than 0"),
    ("step: 0.5", "step: 1e-9", "  gap", "draw → gap", "Take a larger step"),
    ("to: 8, step: 0.5", "to: 1e99, step: 1e-90", "  gap", "draw → gap", "Take a larger step"),
    ("from: 2, to: 8", "one of: [1], to: 8", "  gap", "draw → gap", "both 'one of' and a range"),
    (
        "[125, 250]",
        "[]",
        "  rate:",
        "draw → rate → one of",
        "is an empty list; it must have at least 1",
    ),
    ("[125, 250]", "125", "  rate:", "draw → rate → one of", "must be a list"),
    (
        "count: 2, different: yes",
        "different: yes",
        "  names",
        "draw → names → different",
        "'count'",
    ),
    ("different: yes", "different: maybe", "  names", "draw → names → different", "yes or no"),
    ("count: 2", "count: 9", "  names", "draw → names", "9 different values are asked of only 3"),
    ("count: 2", "count: 1.5", "  names", "draw → names", "1.5 is not a whole number"),
    ("count: 2", "count: 1e9", "  names", "draw → names", "not a whole number 0 to 500"),
    ("count: 2", "count: drop", "  names", "draw → names → count", "'let:' comes after 'draw:'"),
    ("count: 2", "count: names", "  names", "draw → names → count", "'names' needs itself"),
    ("  drop: gap / 4", "  gap: 4", "  gap: 4", "let → gap", "is drawn above already"),
    ("  drop: gap / 4", "  network: 4", "  network: 4", "let → network", "already in use"),
    ("  drop: gap / 4", "  sum: 4", "  sum: 4", "let → sum", "already in use"),
    ("  drop: gap / 4", "  thick: 4", "  thick: 4", "let → thick", "already in use"),
    ("  drop: gap / 4", "  if: 4", "  if: 4", "let → if", "already in use"),
    ("  drop: gap / 4", "  self: 4", "  self: 4", "let → self", "already in use"),
    ("  rate: {one", "  loop: {one", "  loop", "draw → loop", "already in use"),
    ("  drop: gap / 4", "  drop: gab / 4", "  drop", "let → drop", "Did you mean 'gap'?"),
    ("  drop: gap / 4", "  drop: reach / 4", "  drop", "let → drop", "'reach' stands below"),
    ("  drop: gap / 4", "  drop:", "  drop", "let → drop", "is empty"),
    ("  drop: gap / 4", "  drop: (gap", "  drop", "let → drop", "cannot be read"),
    ("  drop: gap / 4", "  drop: gap / 0", "  drop", "let → drop", "it divides by zero"),
    ("  drop: gap / 4", "  drop: names + 1", "  drop", "let → drop", "do not go together with '+'"),
    ("  drop: gap / 4", "  drop: [gap]", "  drop", "let → drop", "must be text, but is a list"),
    ("family: devicenet", "family: devnet", "  family", "network → family", "devicenet"),
    ("  family: devicenet\n", "", "network:", "network → family", "is missing. Known here"),
    ("  rate: rate", "  rat: rate", "  rat:", "network → rat", "Did you mean 'rate'?"),
    ("  rate: rate", "  rate: rates", "  rate: rates", "network → rate", "Did you mean 'rate'?"),
    ("  rate: rate", "  rate: 126", "network:", "network", "it must be 125, 250 or 500 kbit/s"),
    (
        "  rate: rate",
        "  rate: reach",
        "  rate: reach",
        "network → rate",
        "worked out from the network",
    ),
    (
        "cable: thick",
        "cable: thik",
        "    - {cable",
        "network → trunk → number 1 → cable",
        "'thick'",
    ),
    ("cable: thick", "cable: 5", "network:", "network", "There is no cable 5"),
    ("length: 4 * gap", "length: gap - gap", "network:", "network", "length"),
    ("length: 4 * gap", "length: gap", "network:", "network", "lies beyond the trunk"),
    ("    at: places", "    at: gap", "    at: gap", "network → taps → at", "not give a list"),
    ("    at: places", "    at: '[gap]'", "    at:", "network → taps", "(at 1, drop 2, device 2"),
    ("    at: places", "    at: '[gap, gap]'", "network:", "network", "Two taps stand at"),
    ("    at: places\n", "", "  taps:", "network → taps → at", "is missing"),
    ("device: names", "device: '[1, 2]'", "network:", "network", "give it as text"),
    ("[0.5, 1]", "[0.5, -1]", "network:", "network", "must be at least 0 A"),
    ("  - rule: gap > 2", "  - rule: gab > 2", "  - rule", "valid → number 1 → rule", "'gap'"),
    ("  - rule: gap > 2", "  - rules: gap > 2", "  - rules", "valid → number 1 → rules", "'rule'?"),
    (
        "    because: the taps stand apart\n",
        "",
        "  - rule",
        "valid → number 1 → because",
        "missing",
    ),
    ("  - rule: gap > 2", "  - rule: gap > 99", "  - rule", "valid → number 1 → rule", "Widen"),
    ("{{ 4 * gap }}", "\n\n{{ 4 * gab }}", "{{ 4 * gab", "", "Did you mean 'gap'?"),
    ("{{ 4 * gap }}", "\n\n{{ gap / 0 }}", "{{ gap / 0", "", "it divides by zero"),
    ("{{ 4 * gap }}", "\n{% if gap %}", "{% if", "", "Write {% endif %}"),
    ("```picture\n```", "```picture\nsize: 3\n```", "size", "picture: size", "is not a field here"),
    ("```picture\n```", "```picture\n- a\n```", "- a", "", "fields are missing"),
    ("```exercise reach", "```exercise", "```exercise\n", "", "no id. Write one of small letters"),
    ("```exercise reach", "```exercise Größe", "```exercise G", "", "```exercise groesse"),
    ("```exercise reach", "```exercise a b", "```exercise a b", "", "```exercise a-b"),
    ("```exercise rate", "```exercise reach", "```exercise reach\nkind: choice", "", "(line 34)"),
    ("kind: quantity", "kind: quantty", "kind: quantty", "*kind", "Did you mean 'quantity'?"),
    ("kind: quantity\n", "", "title: The longest", "*kind", "is missing. Add a line 'kind: …'"),
    ("kind: quantity", "kind: [quantity]", "kind: [", "*kind", "is not an exercise kind"),
    ("title: The longest", "titel: The longest", "titel", "*titel", "Did you mean 'title'?"),
    ("answer: reach\n", "answer: reech\n", "answer: ree", "*answer", "Did you mean 'reach'?"),
    ("answer: reach\n", "answer: names\n", "answer: names", "*answer", "which is not a number"),
    ("answer: reach\n", "answer: reach / 0\n", "answer: reach", "*answer", "it divides by zero"),
    ("answer: reach\n", "answer: network\n", "answer: network", "*answer", "is not a number"),
    ("unit: m", "unit: furlong", "unit: furlong", "*unit", "'furlong' is not a unit known here"),
    ("unit: m", "unit: MV", "unit: MV", "*unit", "a small m is milli"),
    ("tolerance: 0.05", "tolerance: some", "tolerance", "*tolerance", "such as 0.5, or a share"),
    ("tolerance: 0.05", "tolerance: -1", "tolerance", "*tolerance", "'-1' is not a tolerance"),
    ("tolerance: 0.05", "tolerance: 1 % 2", "tolerance", "*tolerance", "is not a tolerance"),
    ("tolerance: 0.05", f"tolerance: {'9' * 400}", "tolerance", "*tolerance", "not a tolerance"),
    ("marks: 2", "marks: many", "marks: many", "*marks", "'many' is not a number"),
    ("marks: 2", "marks: 0", "marks: 0", "*marks", "must be more than 0"),
    ("marks: 2", "marks: nan", "marks: nan", "*marks", "is not a number"),
    ("costs: 0.5", "costs: 2.5", "hints:", "*hints", "cost more than the exercise's marks"),
    ("costs: 0.5", "costs: -1", "    costs", "*hints → number 1 → costs", "must be at least 0"),
    ("the drop with", "{{ dorp }} with", "  - text", "*hints → number 1 → text", "'drop'?"),
    ("  - id: half", "  - id: Half", "  - id: Half", "*slips → number 1 → id", "small letters"),
    ("answer: reach / 2", "answer: x", "    answer: x", "*slips → number 1 → answer", "not a name"),
    ("half of {{ reach", "half of {{ rech", "    tell: Th", "*slips → number 1 → tell", "'reach'?"),
    ("It is {{ reach }} m.", "It is {{ rech }} m.", "working: It", "*working", "'reach'?"),
    ("It is {{ reach }} m.", "|\n  One.\n  {{ rech }}", "  {{ rech", "*working", "'reach'?"),
    ("working: It is {{ reach }} m.\n", "", "kind: quantity", "*working", "is missing"),
    ('"slow" if', '"slwo" if', "answer: '\"sl", "*answer", "Did you mean 'slow'?"),
    (
        "  - id: fast",
        "  - id: slow",
        "  - id: slow\n    text: 250",
        "*options → number 2 → id",
        "twi",
    ),
    ("devices: names", "devices: rate", "devices: rate", "*devices", "list of different names"),
    ("devices: names", "devices: '[]'", "devices: '", "*devices", "list of different names"),
    ("free: 63", "free: 64", "free: 64", "*free", "gives 64, and the addresses here go from 0 to"),
    ("free: 63", "free: 64", "free: 64", "*free", "Write a whole number from 0 to 63"),
    ("{address: 0", "{address: gap", "  - {addr", "*taken → number 1 → address", "not a node add"),
    ("working: In", "plan: gap\nworking: In", "plan: gap", "*plan", "does not give a network"),
    ("[0.5, 1]", "[7.9, 99]", "kind: supply", "*plan", "no position of one supply"),
    (
        "working: In many places.\n```\n",
        "",
        "```exercise supply",
        "",
        "block does not end: it is not closed. Close",
    ),
    ("```picture\n```\n", "```picture\n", "```picture", "", "not closed"),
    ("drop: gap / 4", "drop: &a gap / 4\n  more: *a", "  more: *a", "let → more", "instead of"),
    ("id: two-taps", "id: two\x07taps", "id: two", "", "the character '\\x07' cannot stand here"),
    ("  drop: gap / 4", "  ? [a, b]\n  : 1", "  ? [a", "", "a field's name is a word"),
    ("from: 2, to: 8", "from: 2, to: 16#1F", "  gap", "draw → gap → to", "decimal digits: 31"),
    ("gap / 4", "places | running_total", "  drop", "let → drop", "Write running_total(…)"),
    (
        "{cable: thick, length: 4 * gap}",
        "{cable: {{ gap }}, length: 4}",
        "    - {cable",
        "network → trunk → number 1 → cable",
        "stands without {{ }}. Write 'cable: gap'.",
    ),
    (
        "{cable: thick, length: 4 * gap}",
        "{cable: thick, length: places[0] > 10}",
        "    - {cable",
        "",
        'Put it in quotation marks: length: "places[0] > 10"',
    ),
    (
        "{cable: thick, length: 4 * gap}",
        "{cable: thick, length: bytes_of(gap, 2)[1]}",
        "    - {cable",
        "",
        'Put it in quotation marks: length: "bytes_of(gap, 2)[1]"',
    ),
    ("  drop: gap / 4", "  drop: " + "[" * 900, "id:", "", "nested too deep"),
]


@pytest.mark.parametrize(
    ("instead_of", "written", "line", "field", "sentence"),
    MISTAKES,
    ids=[f"{n}-{mistake[1][:30]!r}" for n, mistake in enumerate(MISTAKES)],
)
def test_a_mistake_names_its_line_its_field_and_a_mend(
    instead_of: str, written: str, line: str, field: str, sentence: str
) -> None:
    assert instead_of in GOOD
    text = GOOD.replace(instead_of, written, 1)
    found = problems_of(text)
    shown = "\n".join(map(str, found))
    expected = line_of(text, line)
    matching = [problem for problem in found if sentence in str(problem)]
    assert matching, shown
    problem = matching[0]
    assert problem.place.line == expected, shown
    if field.startswith("*"):
        assert problem.place.field.startswith("exercise '"), shown
        assert problem.place.field.endswith(f"': {field[1:]}"), shown
    else:
        assert problem.place.field == field, shown


def test_every_mistake_is_told_at_once_in_the_order_of_the_file() -> None:
    text = GOOD
    for instead_of, written in (
        ("gap / 4", "gab / 4"),
        ("- rule: gap", "- rule: gup"),
        ("answer: reach\n", "answer: rich\n"),
        ("kind: choice", "kind: chioce"),
        ("free: 63", "free: fee"),
    ):
        text = text.replace(instead_of, written, 1)
    found = problems_of(text)
    lines = [problem.place.line for problem in found]
    expected = [line_of(text, part) for part in ("  drop:", "  - rule", "answer: ri", "kind: chi")]
    assert lines == [*expected, line_of(text, "free: fee")]


def test_a_lab_without_an_exercise_says_so() -> None:
    text = GOOD[: GOOD.index("```exercise reach")]
    (problem,) = problems_of(text)
    assert "the lab has no exercise" in problem.message


def test_a_picture_needs_a_network() -> None:
    text = "---\nid: a\nversion: 1\ntitle: A\n---\n\n```picture\n```\n"
    (problem,) = problems_of(text)
    assert (problem.place.line, problem.message) == (7, "a picture needs a network.")


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: "\ufeff" + text,
        lambda text: text.rstrip("\n"),
        lambda text: text.replace("---\n", "---  \n"),
        lambda text: text.replace("```", "~~~~"),
    ],
    ids=["CRLF", "CR", "BOM", "no line end", "blanks after ---", "tildes"],
)
def test_ways_of_saving_a_file_change_neither_the_lab_nor_the_lines(change) -> None:  # type: ignore[no-untyped-def]
    good, other = read_lab_text(GOOD), read_lab_text(change(GOOD))
    assert draw(good, "seed").fingerprint == draw(other, "seed").fingerprint
    assert [exercise.place for exercise in good.exercises] == [e.place for e in other.exercises]
    broken = change(GOOD.replace("free: 63", "free: fee"))
    assert [problem.place.line for problem in problems_of(broken)] == [line_of(GOOD, "free: 63")]


def problem_of_file(path: Path) -> Problem:
    with pytest.raises(DefinitionError) as caught:
        read_lab(path)
    (problem,) = caught.value.problems
    return problem


def test_a_file_that_is_not_there_or_is_a_folder(tmp_path: Path) -> None:
    missing = problem_of_file(tmp_path / "lab.md")
    assert missing.place.file == str(tmp_path / "lab.md")
    assert "No such file" in missing.message
    assert "folder" in problem_of_file(tmp_path).message


def test_a_file_that_is_not_utf_8(tmp_path: Path) -> None:
    path = tmp_path / "lab.md"
    path.write_bytes(GOOD.replace("Two taps", "Zwei Abgänge").encode("latin-1"))
    problem = problem_of_file(path)
    assert (problem.place.line, problem.mend) == (4, "Save the file as UTF-8.")
    path.write_bytes(b"\x00\xff" * 1000)
    assert problem_of_file(path).mend == "Save the file as UTF-8."


def test_a_file_of_a_million_characters_is_read_and_a_longer_one_refused() -> None:
    filler = "word " * ((MAX_DEFINITION - len(GOOD)) // 5)
    read_lab_text(GOOD + filler)
    (problem,) = problems_of(GOOD + filler + "word word")
    assert "longer than 1000000 characters" in problem.message


def test_aliases_cannot_be_piled_up() -> None:
    bomb = "let:\n  a: &a [x, x]\n" + "".join(
        f"  {name}: &{name} [{','.join(f'*{last}' for _ in range(9))}]\n"
        for last, name in zip("abcdefgh", "bcdefghi", strict=True)
    )
    found = problems_of(GOOD.replace("let:\n", bomb))
    assert all("Write the value out" in problem.mend for problem in found)


def test_a_long_chain_of_names_is_worked_out() -> None:
    chain = "".join(f"  n{n}: n{n - 1} + 1\n" for n in range(1, 3001))
    text = GOOD.replace("  drop: gap / 4\n", "  n0: gap\n" + chain + "  drop: gap / 4\n")
    text = text.replace("rule: gap > 2", "rule: n3000 > 2")
    scenario = draw(read_lab_text(text), "seed")
    assert scenario.names["n3000"] == scenario.names["gap"] + 3000


def test_a_rule_that_comes_first_keeps_a_later_name_from_being_worked_out() -> None:
    text = GOOD.replace("  drop: gap / 4\n", "  inverse: 1 / (gap - 2)\n  drop: gap / 4\n")
    lab = read_lab_text(text)
    assert all(draw(lab, f"seed {n}").names["gap"] > 2 for n in range(50))


def test_hints_may_cost_all_the_marks_but_no_more() -> None:
    costs = "".join("  - {text: More., costs: 0.1}\n" for _ in range(3))
    text = GOOD.replace("marks: 2\nhints:\n", "marks: 0.3\nhints:\n" + costs)
    read_lab_text(text.replace("costs: 0.5", "costs: 0"))
    assert "cost more" in problems_of(text.replace("costs: 0.5", "costs: 0.01"))[0].message
