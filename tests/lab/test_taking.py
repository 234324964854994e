"""An exercise of another lab: what comes with it, what is told, what never changes unsaid."""

from pathlib import Path

import pytest
from PIL import Image

from labkit.lab.definition import Exercise, Lab, Noticed
from labkit.lab.draw import draw
from labkit.lab.reading import read_in_part, read_lab, read_lab_text
from labkit.lab.reading.lineage import files_of, has_digest
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError
from labkit.language.stream import Stream

THEIRS = """\
---
id: theirs
version: 1.2
title: Theirs
scenery: {plant: Kestrelmoor Dairy, site: cheese store}
tables: {drives: drives.csv}
draw:
  celsius: {from: 35, to: 60, step: 5}
  lengths: {from: 10, to: 40, step: 10, count: number}
  number: {one of: [3, 4]}
  spare: {from: 1, to: 9}
  drive: {row of: drives, where: current > least}
sources:
  cold: {value: 20, source: a book}
  least: {value: 2, source: a book}
  unneeded: {value: 7, source: a book}
let:
  warmer: celsius - cold
  whole: sum(lengths)
  half: whole / 2
  other: spare + 1
valid:
  - rule: celsius > cold + 20
    because: it is warm
  - rule: celsius + spare < 65
    because: the spare one fits
  - rule: spare > 1
    because: it is about the spare one alone
accepted:
  - {finding: few-answers, exercise: warm, because: there are few}
---

> **Caution.** Switch off before you open anything.

Text of theirs.

## Part 1

> **Caution.** Copper burns at {{ celsius }} °C.

Text of part 1.

### Warm

```exercise warm
kind: quantity
title: Warm copper at {{ plant }}
question: How much warmer than {{ cold }} °C?
answer: warmer
unit: K
marks: 1
working: "{{ warmer }} K."
```

## Part 2

> **Caution.** This one is of part 2.

```exercise long
kind: quantity
title: How long
question: How long are all {{ lengths | join(' and ') }} together?
answer: whole
unit: m
marks: 2
working: "{{ half }} and {{ half }}."
```

```exercise drive
kind: quantity
title: The drive
question: What does the {{ drive.type }} draw?
answer: drive.current
unit: A
marks: 1
working: "{{ drive.current }} A."
```
"""
DRIVES = "# source: invented\ntype,current [A]\nAlder,1\nBirch,3\nCedar,4\n"
THEIRS = THEIRS.replace(
    "  lengths: {from: 10, to: 40, step: 10, count: number}\n  number: {one of: [3, 4]}\n",
    "  number: {one of: [3, 4]}\n  lengths: {from: 10, to: 40, step: 10, count: number}\n",
)
HEAD = "id: mine\nversion: 1.0\ntitle: Mine\n"
WARM = "from: theirs/warm\n"


def mine(
    folder: Path, *blocks: str, header: str = "", theirs: str = THEIRS, text: str = ""
) -> Path:
    """A lab with these blocks beside the other; the first is called 'taken'."""
    names = ["taken", *(f"taken-{number}" for number in range(2, 9))]
    body = "\n".join(
        f"```exercise {name}\n{block}```\n" for name, block in zip(names, blocks, strict=False)
    )
    written(folder, "theirs", theirs)
    (folder / "theirs" / "drives.csv").write_text(DRIVES, encoding="utf-8")
    return written(folder, "mine", f"---\n{HEAD}{header}---\n\n{text}\n\n{body}")


def written(folder: Path, name: str, text: str) -> Path:
    (folder / name).mkdir(exist_ok=True)
    file = folder / name / "lab.md"
    file.write_text(text, encoding="utf-8")
    return file


def wrong(file: Path) -> list[str]:
    with pytest.raises(DefinitionError) as raised:
        read_lab(file)
    return [str(problem) for problem in raised.value.problems]


def names(lab: Lab) -> set[str]:
    drawn = {parameter.name for parameter in lab.parameters}
    return drawn | lab.derived.keys() | lab.constants.keys() | lab.tables.keys()


def told(lab: Lab, what: Noticed = Noticed.taken) -> list[str]:
    return [remark.sentence for remark in lab.remarks if remark.what is what]


def body(lab: Lab) -> list[str]:
    parts = (part for part in lab.body if isinstance(part, Prose | Exercise))
    return [part.id if isinstance(part, Exercise) else part.text for part in parts]


def test_an_exercise_comes_with_what_it_needs_and_nothing_else(tmp_path: Path) -> None:
    lab = read_lab(mine(tmp_path, WARM))
    (exercise,) = lab.exercises
    assert names(lab) == {"celsius", "cold", "warmer"}
    assert (exercise.id, exercise.kind, exercise.marks) == ("taken", "quantity", 1)
    scenario = draw(lab, "s")
    assert exercise.title.render(scenario.names) == "Warm copper at Kestrelmoor Dairy"
    assert list(lab.language.scenery) == ["plant"]
    assert scenario.prepare(exercise).key["value"] == scenario.names["celsius"] - 20


def test_the_other_lab_its_version_and_what_came_are_told(tmp_path: Path) -> None:
    lab = read_lab(mine(tmp_path, WARM))
    (exercise,) = lab.exercises
    taken = exercise.taken
    assert taken is not None
    assert (taken.lab, taken.version, taken.exercise) == ("theirs", "1.2", "warm")
    (sentence,) = told(lab)
    assert "'taken' is taken from theirs 1.2 (theirs/lab.md, line 45)" in sentence
    assert "With it came: plant, celsius, cold, warmer, 2 cautions." in sentence
    assert lab.takes_from == ("theirs",)
    assert lab.extends == ()


def test_cautions_of_the_section_those_around_it_and_the_whole_lab_come(tmp_path: Path) -> None:
    lab = read_lab(mine(tmp_path, WARM, "from: theirs/long\n"))
    assert body(lab) == [
        "> **Caution.** Switch off before you open anything.",
        "> **Caution.** Copper burns at {{ celsius }} °C.",
        "taken",
        "> **Caution.** This one is of part 2.",
        "taken-2",
    ]


def test_a_caution_that_is_there_already_is_not_said_twice(tmp_path: Path) -> None:
    said = "> **Caution.** Switch off before\n> you open anything."
    lab = read_lab(mine(tmp_path, WARM, text=said))
    assert body(lab)[:2] == [said, "> **Caution.** Copper burns at {{ celsius }} °C."]


def test_a_caution_brings_the_names_that_it_says(tmp_path: Path) -> None:
    lab = read_lab(mine(tmp_path, WARM))
    theirs = THEIRS.replace("Switch off before", "Switch off at {{ spare }} m before")
    more = read_lab(mine(tmp_path, WARM, theirs=theirs))
    assert names(more) - names(lab) == {"spare"}


def test_own_fields_take_the_place_of_the_others(tmp_path: Path) -> None:
    lab = read_lab(mine(tmp_path, f"{WARM}marks: 4\ntitle: Mine\n"))
    (exercise,) = lab.exercises
    assert (exercise.marks, exercise.title.text) == (4, "Mine")
    assert (
        str(exercise.place_of("marks")) == "mine/lab.md, line 11, field 'exercise 'taken': marks'"
    )
    assert exercise.place_of("working").file == "theirs/lab.md"


def test_a_caution_in_a_field_that_is_written_anew_stays(tmp_path: Path) -> None:
    sign_off = (
        "```exercise warm\nkind: sign_off\ntitle: T\nquestion: Q\ncaution: Prove it dead.\n"
        "items:\n  - {id: a, text: Show it, look_for: It, marks: 1}\nmarks: 1\nworking: W\n```\n"
    )
    before, _, behind = THEIRS.partition("```exercise warm")
    theirs = before + sign_off + behind.partition("```\n")[2]
    kept = "> **Caution.** Prove it dead."
    own = read_lab(mine(tmp_path, f"{WARM}caution: Wear gloves.\n", theirs=theirs))
    assert kept in body(own)
    same = read_lab(mine(tmp_path, f"{WARM}title: Mine\n", theirs=theirs))
    assert kept not in body(same)
    assert same.exercises[0].data["caution"] == "Prove it dead."


def test_what_is_drawn_is_a_stream_by_its_own_name_and_changes_no_other(tmp_path: Path) -> None:
    own = "draw:\n  gap: {from: 1, to: 1000}\n"
    without = written(
        tmp_path,
        "mine",
        f"---\n{HEAD}{own}---\n\n```exercise a\nkind: quantity\ntitle: T\nquestion: Q\n"
        "answer: gap\nunit: m\nmarks: 1\nworking: W\n```\n",
    )
    alone = [draw(read_lab(without), f"s{n}") for n in range(20)]
    theirs = THEIRS.replace("  - rule: celsius > cold + 20\n    because: it is warm\n", "")
    lab = read_lab(mine(tmp_path, WARM, header=own, theirs=theirs))
    scenarios = [draw(lab, f"s{n}") for n in range(20)]
    assert [s.names["gap"] for s in scenarios] == [s.names["gap"] for s in alone]
    assert [s.names["celsius"] for s in scenarios] == [
        35 + 5 * Stream(f"s{n}", "0", "celsius").below(6) for n in range(20)
    ]


def test_a_rule_comes_where_it_needs_no_more_than_came_and_is_told_otherwise(
    tmp_path: Path,
) -> None:
    lab = read_lab(mine(tmp_path, WARM))
    assert [rule.because for rule in lab.rules] == ["it is warm"]
    assert {draw(lab, f"s{n}").names["celsius"] for n in range(40)} == {45, 50, 55, 60}
    (sentence,) = told(lab, Noticed.rule_not_taken)
    assert "1 rule of 'theirs' did not come" in sentence
    assert "the spare one fits" in sentence


def test_a_rule_comes_when_two_exercises_bring_all_that_it_needs(tmp_path: Path) -> None:
    theirs = THEIRS.replace("{{ half }} and", "{{ spare }} and")
    lab = read_lab(mine(tmp_path, WARM, "from: theirs/long\n", theirs=theirs))
    assert [rule.because for rule in lab.rules] == [
        "it is warm",
        "the spare one fits",
        "it is about the spare one alone",
    ]
    assert told(lab, Noticed.rule_not_taken) == []


def test_a_count_and_a_row_of_a_table_bring_what_they_are_chosen_by(tmp_path: Path) -> None:
    lab = read_lab(mine(tmp_path, "from: theirs/long\n", "from: theirs/drive\n"))
    assert names(lab) == {"number", "lengths", "whole", "half", "drive", "drives", "least"}
    assert draw(lab, "s").names["drive"]["type"] in ("Birch", "Cedar")


def test_own_formulas_may_use_what_came(tmp_path: Path) -> None:
    header = "let:\n  double: 2 * warmer\n"
    lab = read_lab(mine(tmp_path, WARM, header=header))
    scenario = draw(lab, "s")
    assert scenario.names["double"] == 2 * (scenario.names["celsius"] - 20)


def test_a_name_that_is_something_else_here_is_told_at_the_line(tmp_path: Path) -> None:
    header = "draw:\n  celsius: {from: 1, to: 5}\n"
    (sentence,) = wrong(mine(tmp_path, WARM, header=header))
    assert sentence.startswith("mine/lab.md, line 12, field 'exercise 'taken': from':")
    assert "needs 'celsius' of 'theirs', and 'celsius' is something else here" in sentence
    assert "(mine/lab.md, line 6)" in sentence
    assert "write 'given: {celsius: celsius}'" in sentence


def test_a_name_of_this_lab_can_stand_in_the_place_of_the_others(tmp_path: Path) -> None:
    header = "draw:\n  celsius: {from: 61, to: 65}\n"
    lab = read_lab(mine(tmp_path, f"{WARM}given: {{celsius: celsius}}\n", header=header))
    scenario = draw(lab, "s")
    assert scenario.prepare(lab.exercises[0]).key["value"] == scenario.names["celsius"] - 20 > 40
    # The rule about it holds for what is given too.
    assert [rule.because for rule in lab.rules] == ["it is warm"]


def test_a_formula_of_this_lab_can_stand_in_the_place_of_a_name(tmp_path: Path) -> None:
    header = "draw:\n  hall: {from: 61, to: 65}\nlet:\n  more: hall + 1\n"
    lab = read_lab(mine(tmp_path, f"{WARM}given: {{celsius: more + 1}}\n", header=header))
    scenario = draw(lab, "s")
    assert scenario.names["warmer"] == scenario.names["hall"] + 2 - 20
    assert "celsius" not in {parameter.name for parameter in lab.parameters}


def test_the_same_value_of_a_book_is_no_other_thing(tmp_path: Path) -> None:
    same = "sources:\n  cold: {value: 20, source: a  book}\n"
    assert read_lab(mine(tmp_path, WARM, header=same)).constants["cold"].value == 20
    other = "sources:\n  cold: {value: 21, source: a book}\n"
    (sentence,) = wrong(mine(tmp_path, WARM, header=other))
    assert "'cold' is something else here" in sentence


def test_words_of_this_labs_scenery_take_the_place_of_the_others(tmp_path: Path) -> None:
    header = "scenery: {plant: Brindlemere Springs}\n"
    lab = read_lab(mine(tmp_path, WARM, header=header))
    assert lab.exercises[0].title.text == "Warm copper at Brindlemere Springs"
    assert "plant as it is called here" in told(lab)[0]


@pytest.mark.parametrize(
    ("block", "words"),
    [
        ("from: theirs\n", "'theirs' is not a lab and an exercise of it."),
        ("from: ../outside/warm\n", "is not a lab and an exercise of it."),
        ("from: /etc/passwd\n", "is not a lab and an exercise of it."),
        ("from: theirs/../x\n", "is not a lab and an exercise of it."),
        ("from: [theirs, warm]\n", "must be text"),
        ("from: ''\n", "is empty"),
        ("from: thiers/warm\n", "there is no lab 'thiers'"),
        ("from: thiers/warm\n", "Did you mean 'theirs'?"),
        ("from: theirs/wram\n", "'theirs' has no exercise 'wram'. Did you mean 'warm'?"),
        ("from: mine/taken\n", "'mine' is this lab itself."),
        (f"{WARM}kind: choice\n", "'warm' of 'theirs' is of the kind 'quantity'."),
        (f"{WARM}given: celsius\n", "must be a group of fields"),
        (f"{WARM}given: {{celsus: 3}}\n", "'warm' needs no 'celsus'. Did you mean 'celsius'?"),
        (f"{WARM}given: {{celsius: celsius}}\n", "'celsius' is no name of this lab."),
        (f"{WARM}given: {{celsius: nobody}}\n", "'nobody' is not a name of this lab."),
        (f"{WARM}given: {{network: network}}\n", "'warm' needs no 'network'."),
        (f"{WARM}mark: 3\n", "Did you mean 'marks'?"),
        ("from: theirs/long\ngiven: {number: 2 + 1}\n", "needs 'number' before all else."),
    ],
)
def test_what_cannot_be_taken_is_told_at_its_line(tmp_path: Path, block: str, words: str) -> None:
    file = mine(tmp_path, block)
    (sentence,) = wrong(file)
    assert words in sentence
    line = 11 if "\n" in block.rstrip() else 10
    assert sentence.startswith(f"mine/lab.md, line {line}, ")
    # In a preview it is a card in its place.
    read = read_in_part(file)
    assert [broken.id for broken in read.broken] == ["taken"]
    assert [str(problem) for problem in read.problems] == [sentence]


def test_a_lab_that_cannot_be_read_is_told_with_its_first_mistake(tmp_path: Path) -> None:
    file = mine(tmp_path, WARM, theirs=THEIRS.replace("answer: warmer", "answer: warmest"))
    (sentence,) = wrong(file)
    assert "'theirs' cannot be read: theirs/lab.md, line " in sentence
    assert "'warmest'" in sentence
    file = mine(tmp_path, WARM, theirs="no lab at all")
    assert (
        "'theirs' cannot be read: theirs/lab.md, line 1: the header is missing." in wrong(file)[0]
    )


def test_labs_that_take_from_each_other_are_told(tmp_path: Path) -> None:
    theirs = THEIRS + "\n```exercise back\nfrom: mine/taken\n```\n"
    (sentence,) = wrong(mine(tmp_path, WARM, theirs=theirs))
    assert sentence.startswith("mine/lab.md, line 10")
    assert "'theirs' cannot be read" in sentence
    assert "goes round in a circle: 'mine' needs this lab itself." in sentence


def test_a_circle_of_three_and_one_through_extends_are_told(tmp_path: Path) -> None:
    written(
        tmp_path,
        "third",
        f"---\nid: third\nversion: 1\ntitle: T\n---\n\n```exercise a\n{WARM}```\n",
    )
    theirs = THEIRS + "\n```exercise back\nfrom: third/a\n```\n"
    assert "goes round in a circle" in wrong(mine(tmp_path, WARM, theirs=theirs))[0]
    written(tmp_path, "third", "---\nextends: mine\nid: third\nversion: 1\ntitle: T\n---\n")
    (sentence,) = wrong(mine(tmp_path, "from: third/taken\n"))
    assert "goes round in a circle" in sentence


def test_a_file_that_a_link_leads_to_elsewhere_is_not_read(tmp_path: Path) -> None:
    file = mine(tmp_path, "from: linked/warm\n")
    (tmp_path / "secret.md").write_text(THEIRS, encoding="utf-8")
    (tmp_path / "linked").mkdir()
    (tmp_path / "linked" / "lab.md").symlink_to(tmp_path / "secret.md")
    (sentence,) = wrong(file)
    assert "'linked' cannot be read: linked/lab.md, line 1: this is a link" in sentence


def test_labs_beyond_number_are_not_read(tmp_path: Path) -> None:
    blocks = [f"```exercise e{n}\nfrom: lab-{n}/a\n```\n" for n in range(21)]
    for number in range(21):
        written(
            tmp_path,
            f"lab-{number}",
            f"---\nid: lab-{number}\nversion: 1\ntitle: T\n---\n\n```exercise a\nkind: quantity\n"
            "title: T\nquestion: Q\nanswer: 1\nunit: m\nmarks: 1\nworking: W\n```\n",
        )
    (sentence,) = wrong(written(tmp_path, "mine", f"---\n{HEAD}---\n\n" + "\n".join(blocks)))
    assert "the exercises come from more than 20 labs." in sentence


def test_an_exercise_that_was_taken_can_be_taken_on(tmp_path: Path) -> None:
    mine(tmp_path, f"{WARM}marks: 3\n")
    third = written(
        tmp_path,
        "third",
        "---\nid: third\nversion: 1\ntitle: T\n---\n\n```exercise a\nfrom: mine/taken\n```\n",
    )
    lab = read_lab(third)
    (exercise,) = lab.exercises
    assert exercise.taken is not None
    assert (exercise.taken.lab, exercise.marks) == ("mine", 3)
    assert names(lab) == {"celsius", "cold", "warmer"}
    assert exercise.place_of("working").file == "theirs/lab.md"
    assert [rule.because for rule in lab.rules] == ["it is warm"]
    assert lab.takes_from == ("mine", "theirs")
    assert len([text for text in body(lab) if text.startswith("> **Caution")]) == 2


def test_a_lab_on_top_may_take_too_and_what_its_parent_took_is_the_same(tmp_path: Path) -> None:
    mine(tmp_path, WARM)
    child = "---\nextends: mine\nid: child\nversion: 1\ntitle: C\n---\n\n## More\n\n"
    lab = read_lab(written(tmp_path, "child", f"{child}```exercise long\nfrom: theirs/warm\n```\n"))
    assert [exercise.id for exercise in lab.exercises] == ["taken", "long"]
    assert names(lab) == {"celsius", "cold", "warmer"}
    other = child.replace("---\n\n## More", "draw: {celsius: {from: 61, to: 62}}\n---\n\n## More")
    file = written(tmp_path, "child", f"{other}```exercise long\nfrom: theirs/warm\n```\n")
    assert "'celsius' is something else here" in wrong(file)[0]


def test_a_lab_on_top_may_take_from_the_one_below(tmp_path: Path) -> None:
    written(tmp_path, "theirs", THEIRS)
    (tmp_path / "theirs" / "drives.csv").write_text(DRIVES, encoding="utf-8")
    child = "---\nextends: theirs\nid: child\nversion: 1\ntitle: C\n---\n\n## Once more\n\n"
    file = written(tmp_path, "child", f"{child}```exercise again\n{WARM}title: Again\n```\n")
    lab = read_lab(file)
    assert [exercise.id for exercise in lab.exercises] == ["warm", "long", "drive", "again"]
    assert lab.takes_from == ()


def test_every_file_is_in_the_digest_and_goes_into_a_class(tmp_path: Path) -> None:
    file = mine(tmp_path, WARM)
    first = read_lab(file).digest
    assert has_digest(file, first)
    assert set(files_of(file)) == {
        ("mine", "lab.md"),
        ("theirs", "lab.md"),
        ("theirs", "drives.csv"),
    }
    files = [(path.parent.name, path.name) for path in read_in_part(file).files]
    assert files == [("mine", "lab.md"), ("theirs", "lab.md"), ("theirs", "drives.csv")]
    mine(tmp_path, WARM, theirs=THEIRS.replace("version: 1.2", "version: 1.3"))
    assert read_lab(file).digest != first
    assert not has_digest(file, first)


def test_a_version_that_was_seen_is_held_against_the_one_that_is_there(tmp_path: Path) -> None:
    same = read_lab(mine(tmp_path, "from: theirs/warm 1.2\n"))
    assert told(same, Noticed.another_version) == []
    other = read_lab(mine(tmp_path, "from: theirs/warm 1.1\n"))
    (sentence,) = told(other, Noticed.another_version)
    assert "was taken from version 1.1 of 'theirs', which is 1.2 now" in sentence


def test_what_the_other_lab_accepts_there_comes_too(tmp_path: Path) -> None:
    (exercise,) = read_lab(mine(tmp_path, WARM)).exercises
    (accepted,) = exercise.accepted
    assert (accepted.finding, accepted.exercise) == ("few-answers", "taken")
    assert accepted.place.file == "theirs/lab.md"


def test_a_name_that_this_lab_works_out_itself_may_be_meant(tmp_path: Path) -> None:
    """What comes and needs it stands below it, as a formula uses what is above."""
    header = "let:\n  three: 1 + 2\n  whole: three * 5\n"
    given = "from: theirs/long\ngiven: {whole: whole}\nworking: '{{ half }}.'\n"
    lab = read_lab(mine(tmp_path, given, header=header))
    assert list(lab.derived) == ["three", "whole", "half"]
    for number in range(3):
        assert draw(lab, f"s{number}").names["half"] == 7.5


def test_a_text_alone_takes_nothing() -> None:
    with pytest.raises(DefinitionError, match="no lab beside it"):
        read_lab_text(f"---\n{HEAD}---\n\n```exercise a\n{WARM}```\n")


NETWORK_LAB = """\
---
id: net
version: 1.0
title: Net
draw:
  gap: {from: 2, to: 8}
  drop: {from: 1, to: 4}
valid:
  - rule: lengths_fit(network)
    because: the plan keeps the rules
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: 20 * gap}
  taps: {at: "[gap]", drop: "[drop]", device: '["scale"]', current: "[0.5]"}
---

```exercise far
kind: quantity
title: T
question: How far?
answer: longest_distance(network)
unit: m
marks: 1
working: W.
```

```exercise most
kind: quantity
title: T
question: How long may it be at 125 kbit/s?
answer: trunk_limit(thick, 125)
unit: m
marks: 1
working: W.
```
"""
OWN_NETWORK = (
    "draw:\n  length: {from: 31, to: 39}\nnetwork:\n  family: devicenet\n  rate: 125\n  trunk:\n"
    "    - {cable: thick, length: length}\n"
    "  taps: {at: '[1]', drop: '[1]', device: '[\"valve\"]', current: '[0.5]'}\n"
)


def test_the_network_comes_with_all_that_it_is_made_of(tmp_path: Path) -> None:
    written(tmp_path, "net", NETWORK_LAB)
    lab = read_lab(mine(tmp_path, "from: net/far\n", text="```picture\n```"))
    scenario = draw(lab, "s")
    assert set(scenario.drawn) == {"gap", "drop"}
    assert scenario.network.segments[0].length == 20 * scenario.names["gap"]
    assert [rule.because for rule in lab.rules] == ["the plan keeps the rules"]
    assert "gap, drop, the network" in told(lab)[0]


def test_functions_of_a_family_bring_its_network_where_there_is_none(tmp_path: Path) -> None:
    written(tmp_path, "net", NETWORK_LAB)
    lab = read_lab(mine(tmp_path, "from: net/most\n"))
    assert lab.network is not None
    own = read_lab(mine(tmp_path, "from: net/most\n", header=OWN_NETWORK))
    assert names(own) == {"length"}


def test_a_network_of_its_own_is_told_and_can_be_meant(tmp_path: Path) -> None:
    written(tmp_path, "net", NETWORK_LAB)
    (sentence,) = wrong(mine(tmp_path, "from: net/far\n", header=OWN_NETWORK))
    assert "needs the network of 'net', and this lab has its own (mine/lab.md, line " in sentence
    assert "write 'given: {network: network}'" in sentence
    given = "from: net/far\ngiven: {network: network}\n"
    lab = read_lab(mine(tmp_path, given, header=OWN_NETWORK))
    assert names(lab) == {"length"}
    assert [rule.because for rule in lab.rules] == ["the plan keeps the rules"]
    (sentence,) = wrong(mine(tmp_path, given))
    assert "only the network of this lab can stand in the place of that one." in sentence


def test_two_labs_whose_names_clash_are_told(tmp_path: Path) -> None:
    other = THEIRS.replace("id: theirs", "id: other").replace(
        "from: 35, to: 60", "from: 40, to: 60"
    )
    written(tmp_path, "other", other)
    (tmp_path / "other" / "drives.csv").write_text(DRIVES, encoding="utf-8")
    (sentence,) = wrong(mine(tmp_path, WARM, "from: other/warm\n"))
    assert sentence.startswith("mine/lab.md, line 14, ")
    assert "'celsius' is something else here (theirs/lab.md, line 8)" in sentence


def test_a_picture_that_the_exercise_shows_comes(tmp_path: Path) -> None:
    theirs = THEIRS.replace(
        "question: How much warmer", "question: '![The open cover of it](a.png) How much warmer"
    ).replace("than {{ cold }} °C?", "than {{ cold }} °C?'")
    file = mine(tmp_path, WARM, theirs=theirs)
    Image.new("RGB", (4, 4)).save(tmp_path / "theirs" / "a.png")
    lab = read_lab(file)
    assert "data:image/png;base64," in lab.exercises[0].question.render(draw(lab, "s").names)
    assert ("theirs", "a.png") in files_of(file)


def test_a_name_that_an_own_field_no_longer_says_does_not_come(tmp_path: Path) -> None:
    block = "from: theirs/long\nworking: Add them up.\n"
    assert "half" not in names(read_lab(mine(tmp_path, block)))
    assert "half" in names(read_lab(mine(tmp_path, f"{block}title: '{{{{ half }}}}'\n")))


def test_a_field_that_is_called_otherwise_is_told(tmp_path: Path) -> None:
    (sentence,) = wrong(mine(tmp_path, "take: theirs/warm\n"))
    assert "To take an exercise from there, write 'from: theirs/warm'." in sentence


@pytest.mark.parametrize("exercise", ["warm-copper", "look-up"])
def test_an_exercise_of_a_lab_that_comes_with_labkit_is_taken(
    tmp_path: Path, exercise: str
) -> None:
    lab = read_lab(mine(tmp_path, f"from: network-power/{exercise}\n"))
    scenario = draw(lab, "s")
    assert scenario.prepare(lab.exercises[0]).key
    assert any("burn you" in text for text in body(lab))


@pytest.mark.parametrize(
    "header",
    [
        "let:\n  warmer: [1]\n",
        "let: [1]\n",
        "draw: 3\n",
        "draw:\n  celsius: [1, 2]\n",
        "sources:\n  cold: 20\n",
        "scenery: [plant]\n",
        "scenery:\n  plant: [1]\n",
        "tables: {drives: [a]}\n",
        "network: devicenet\n",
        "network: [1]\n",
        "valid: 3\n",
        "accepted: 3\n",
    ],
)
def test_a_header_that_is_none_is_told_and_nothing_breaks(tmp_path: Path, header: str) -> None:
    blocks = [WARM, "from: theirs/drive\n", f"{WARM}given: {{celsius: 3}}\ncaution: [1]\n"]
    file = mine(tmp_path, *blocks, header=header)
    assert wrong(file)
    assert read_in_part(file).problems


def test_the_same_formula_of_the_same_names_is_no_other_thing(tmp_path: Path) -> None:
    header = "let:\n  warmer: celsius  - cold\n"
    assert names(read_lab(mine(tmp_path, WARM, header=header))) == {"celsius", "cold", "warmer"}
    sentences = wrong(mine(tmp_path, WARM, header=header.replace("-", "+")))
    assert any("'warmer' is something else here" in one for one in sentences)


def test_what_comes_by_two_ways_comes_once(tmp_path: Path) -> None:
    mine(tmp_path, WARM)
    head = "---\nid: third\nversion: 1\ntitle: T\n---\n\n"
    blocks = "```exercise a\nfrom: mine/taken\n```\n\n```exercise b\nfrom: theirs/warm\n```\n"
    lab = read_lab(written(tmp_path, "third", head + blocks))
    assert [rule.because for rule in lab.rules] == ["it is warm"]
    assert names(lab) == {"celsius", "cold", "warmer"}
    assert len([text for text in body(lab) if text.startswith("> **Caution")]) == 2
