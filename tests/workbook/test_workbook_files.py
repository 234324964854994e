"""What is in the two files that a trainee gets, and what is not."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest
from drawn import make

from labkit.doors.check import tells_direction
from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.workbook import WORKBOOK_METADATA
from labkit.workbook.examples import EXAMPLE_SEED, Examples

# The whole task, key by key: what is not named here must not be in an assessed task file.
TASK_KEYS = {
    "format": str,
    "format_version": int,
    "workbook": str,
    "class": {"id": str, "title": str},
    "lab": {"id": str, "version": str, "title": str, "digest": str, "minutes": int},
    "trainee": {"id": str, "name": str},
    "practice": bool,
    "deadline": (str, type(None)),
    "signing_key": str,
    "picture": {"svg": str, "facts": str},
    "exercises": list,
}
EXERCISE_KEYS = {"id", "number", "kind", "title", "question", "marks", "ask"}
ASK_KEYS = {
    "quantity": {"unit"},
    "choice": {"options"},
    "address_plan": {"devices", "limit"},
    "supply_position": {"network"},
}
SET_UP = re.compile(
    r"# This sets the questions up\. There is nothing to change here\.\n"
    r"try:\n"
    r"    from labkit\.station import open_workbook\n"
    r"except ImportError:\n"
    r'    raise SystemExit\("labkit is not installed here: ask your instructor to set this laptop '
    r'up\."\)\n'
    r"workbook = open_workbook\('plan-the-trunk\.task\.json'\)\n"
    r"workbook\.welcome\(\)"
)
PICTURE = re.compile(r"# Your network\.\nworkbook\.picture\(\)")
EXERCISE = re.compile(r"# Question '([a-z0-9-]+)'\.\nworkbook\.exercise\('\1'\)")
HAND_IN = re.compile(r"# Hand in\.\nworkbook\.hand_in_panel\(\)")


def test_every_notebook_is_valid_and_asks_to_be_started(assessed: Any, practice: Any) -> None:
    for drawn in (*assessed, *practice):
        notebook = nbformat.reads(drawn.files.notebook.decode(), as_version=nbformat.NO_CONVERT)
        nbformat.validate(notebook)
        assert (notebook.nbformat, notebook.nbformat_minor) == (4, 5)
        assert notebook.metadata[WORKBOOK_METADATA] == {
            "workbook": "0123456789abcdef",
            "start": True,
        }
        for cell in notebook.cells:
            assert cell.metadata.editable is False
            assert cell.metadata.deletable is False
            if cell.cell_type == "code":
                assert cell.metadata.jupyter.source_hidden is True
                assert (cell.outputs, cell.execution_count) == ([], None)


def test_code_cells_hold_only_the_fixed_lines(assessed: Any, practice: Any) -> None:
    for drawn in (*assessed, *practice):
        cells = json.loads(drawn.files.notebook)["cells"]
        first, *others, last = [cell["source"] for cell in cells if cell["cell_type"] == "code"]
        assert SET_UP.fullmatch(first)
        assert HAND_IN.fullmatch(last)
        asked = [match[1] for source in others if (match := EXERCISE.fullmatch(source))]
        assert asked == [exercise.id for exercise in drawn.scenario.lab.exercises]
        rest = [source for source in others if not EXERCISE.fullmatch(source)]
        assert len(rest) == 1
        assert PICTURE.fullmatch(rest[0])


def test_an_assessed_task_file_holds_the_named_keys_only(assessed: Any) -> None:
    for drawn in assessed:
        task = json.loads(drawn.files.task)
        _is_shaped(task, TASK_KEYS, "task")
        assert task["practice"] is False
        for exercise in task["exercises"]:
            assert set(exercise) == EXERCISE_KEYS
            ask = exercise["ask"]
            assert set(ask) == ASK_KEYS[exercise["kind"]]
            if exercise["kind"] == "choice":
                # A letter tells nothing; an option's own name would.
                assert [option["id"] for option in ask["options"]] == list("abcd")
                assert all(set(option) == {"id", "text"} for option in ask["options"])
            if exercise["kind"] == "address_plan":
                assert ask["limit"] == 63
                assert all(isinstance(device, str) for device in ask["devices"])
            if exercise["kind"] == "supply_position":
                assert not ask["network"].get("supplies")


def test_examples_with_other_numbers_are_in_practice_tasks_alone(
    assessed: Any, practice: Any
) -> None:
    for drawn in practice:
        task = json.loads(drawn.files.task)
        wanted = {e["practice"]["example"]["draw"] for e in task["exercises"] if _example(e)}
        assert wanted
        assert {*task["example_pictures"]} == {str(number) for number in wanted}
        for exercise in task["exercises"]:
            check, example = check_for(exercise["kind"]), _example(exercise)
            assert bool(example) == tells_direction(check, exercise["ask"])
            if example and exercise["kind"] == "quantity":
                answer = example["answer"].replace("\\", "")
                key = exercise["practice"]["key"]
                assert not check.check(exercise["ask"], key, answer).right
                assert check.check(exercise["ask"], key, answer).readable
        number = min(wanted)
        other = draw(drawn.scenario.lab, EXAMPLE_SEED.format(number))
        assert task["example_pictures"][str(number)] == drawn.scenario.lab.network.draw(
            other.network
        )
    for drawn in assessed:
        assert b"example" not in drawn.files.task


def _example(exercise: dict[str, Any]) -> Any:
    return exercise["practice"]["example"]


def test_an_example_that_is_right_for_the_trainee_gives_way_to_the_next(
    practice: Any,
) -> None:
    lab = practice[0].scenario.lab
    exercise = next(e for e in lab.exercises if e.kind == "quantity")
    for number in (1, 2):
        own = draw(lab, EXAMPLE_SEED.format(number)).prepare(exercise)
        found = Examples(lab).other_than(exercise, own.ask, own.key)
        assert found is not None
        assert found.number == (2 if number == 1 else 1)


def test_where_every_draw_has_one_answer_there_is_no_example(tmp_path: Path) -> None:
    text = (
        "---\nid: same\nversion: 1.0\ntitle: Same\ndraw:\n  a: {from: 1, to: 9}\n---\n\n"
        "```exercise one\nkind: quantity\ntitle: T\nquestion: '{{ a }}?'\nanswer: 7 + 0 * a\n"
        "unit: m\nmarks: 1\nworking: '{{ a }}'\n```\n"
    )
    (tmp_path / "lab.md").write_text(text, encoding="utf-8")
    lab = read_lab(tmp_path / "lab.md")
    [exercise] = lab.exercises
    own = draw(lab, "own").prepare(exercise)
    assert Examples(lab).other_than(exercise, own.ask, own.key) is None


def test_no_answer_hint_or_working_is_in_an_assessed_workbook(assessed: Any) -> None:
    for drawn in assessed:
        for what, secret in _secret_texts(drawn):
            assert secret not in _readable(drawn.files.task), what
            assert secret not in _readable(drawn.files.notebook), what


def test_the_same_texts_are_found_in_a_practice_task(practice: Any) -> None:
    # Without this the test above could pass because it looks for the wrong thing.
    for drawn in practice[:5]:
        for what, secret in _secret_texts(drawn):
            assert secret in _readable(drawn.files.task), what
            assert secret not in _readable(drawn.files.notebook), what


def test_calculated_answers_are_not_in_an_assessed_workbook(assessed: Any) -> None:
    # Sums of two or three drawn lengths stand in the text for good reason or by chance; what takes
    # a formula of the method must be nowhere.
    for drawn in assessed:
        texts = (_readable(drawn.files.task), _readable(drawn.files.notebook))
        for exercise in drawn.scenario.lab.exercises:
            if exercise.id not in ("look-up", "section-loss", "last-voltage"):
                continue
            value = drawn.scenario.prepare(exercise).key["value"]
            for digits in (f"{value:.3f}", f"{value:.4f}"):
                assert not any(digits in text for text in texts), (exercise.id, digits)


def test_names_from_the_roster_do_not_work_as_markup(practice: Any) -> None:
    opening = json.loads(practice[0].files.notebook)["cells"][0]["source"]
    assert r"Ansa \*Merrow\* \<b\>" in opening
    assert "<b>" not in opening


@pytest.mark.parametrize("mode", ["practice", "assessed"])
def test_the_same_seed_builds_the_same_bytes(mode: str, request: Any, scenarios: Any) -> None:
    drawn = request.getfixturevalue(mode)[0]
    again = make(scenarios[0], practice=mode == "practice")
    assert again.files == drawn.files


def _is_shaped(data: dict[str, Any], shape: dict[str, Any], where: str) -> None:
    assert set(data) == set(shape), where
    for name, kind in shape.items():
        if isinstance(kind, dict):
            _is_shaped(data[name], kind, f"{where}/{name}")
        else:
            assert isinstance(data[name], kind), f"{where}/{name}"


def _secret_texts(drawn: Any) -> Iterator[tuple[str, str]]:
    """Hints, workings and tells of one scenario; short ones would be found by chance."""
    names = drawn.scenario.names
    for exercise in drawn.scenario.lab.exercises:
        key = drawn.scenario.prepare(exercise).key
        yield f"{exercise.id} working", exercise.working.render(names)
        for hint in exercise.hints:
            yield f"{exercise.id} hint", hint.text.render(names)
        for slip in key.get("slips", []):
            if isinstance(slip, dict):
                yield f"{exercise.id} {slip['id']}", slip["tell"]
        for name, tell in key.get("tell", {}).items():
            if tell:
                yield f"{exercise.id} {name}", tell


def _readable(data: bytes) -> str:
    """The file's text as a reader of JSON sees it."""
    return "\n".join(_strings(json.loads(data)))


def _strings(data: Any) -> Iterator[str]:
    if isinstance(data, dict):
        for name, value in data.items():
            yield str(name)
            yield from _strings(value)
    elif isinstance(data, list):
        for value in data:
            yield from _strings(value)
    else:
        yield str(data)
