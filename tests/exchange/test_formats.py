"""Files from elsewhere are read by their version, or refused in words that say what to do."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.exchange.formats import NewerVersionError, reader_of
from labkit.exchange.hand_in import HandInError, read_hand_in
from labkit.exchange.parts import Parts, each, misfit, of
from labkit.exchange.task_file import TaskFileError, read_task

OLDER = Path(__file__).parents[1] / "version_0_1"
TASK = OLDER / "workbook" / "plan-the-trunk.task.json"
HAND_IN = OLDER / "demo-class" / "hand-ins" / "plan-the-trunk--t01.handin.json"

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3)
    ),
    max_leaves=8,
)


def test_each_version_has_its_reader_and_a_newer_one_is_said() -> None:
    readers = {1: "first", 2: "second"}
    assert [reader_of(readers, version) for version in (1, 2)] == ["first", "second"]
    with pytest.raises(NewerVersionError, match="update labkit"):
        reader_of(readers, 3)


@pytest.mark.parametrize("version", [None, True, 1.0, "1", [1], {}, 0, -1])
def test_what_never_was_a_version_has_no_reader(version: Any) -> None:
    assert reader_of({1: "first"}, version) is None


def test_files_of_version_0_1_are_read() -> None:
    task = read_task(TASK)
    assert task["exercises"][0]["id"]
    content = read_hand_in(json.loads(HAND_IN.read_bytes()))
    assert content["lab"]["id"] == task["lab"]["id"]


def test_a_newer_task_file_and_hand_in_say_what_to_do(tmp_path: Path) -> None:
    newer = {**json.loads(TASK.read_bytes()), "format_version": 2, "exercises": "of another shape"}
    (tmp_path / "x.task.json").write_text(json.dumps(newer))
    with pytest.raises(TaskFileError, match=r"instructor to update labkit on this laptop\.$"):
        read_task(tmp_path / "x.task.json")
    with pytest.raises(HandInError, match=r"update labkit on this machine\.$") as caught:
        read_hand_in({"format": "labkit hand-in", "format_version": 2, "more": 1})
    assert not caught.value.damaged


@pytest.mark.parametrize("version", [None, True, 1.0, "1", 0])
def test_a_version_that_never_was_is_damage(tmp_path: Path, version: Any) -> None:
    task = {**json.loads(TASK.read_bytes()), "format_version": version}
    (tmp_path / "x.task.json").write_text(json.dumps(task))
    with pytest.raises(TaskFileError, match="is damaged"):
        read_task(tmp_path / "x.task.json")
    with pytest.raises(HandInError, match="'format_version'") as caught:
        read_hand_in({**json.loads(HAND_IN.read_bytes()), "format_version": version})
    assert caught.value.damaged


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"trainee": {"id": "t01"}}, "trainee → name"),
        ({"trainee": 7}, "trainee"),
        ({"trainee": {"id": "t01", "name": "T", "more": 1}}, "trainee → more"),
        ({"lab": {"id": "x" * 201, "version": "1", "digest": "d"}}, "lab → id"),
        ({"made_at": "soon"}, "made_at"),
        ({"unreadable_lines": True}, "unreadable_lines"),
        ({"unreadable_lines": -1}, "unreadable_lines"),
        ({"unreadable_lines": 1_000_001}, "unreadable_lines"),
        ({"journal": [{}, []]}, "journal"),
        ({"journal": {}}, "journal"),
        ({"signature": "0" * 63}, "signature"),
        ({"signature": "0" * 64 + "\n"}, "signature"),
        ({"more": 1}, "more"),
    ],
)
def test_the_first_part_that_does_not_fit_is_named(change: dict[str, Any], part: str) -> None:
    content = {**json.loads(HAND_IN.read_bytes()), **change}
    with pytest.raises(HandInError, match=f"^Its part '{part}' is missing or not as it should be"):
        read_hand_in(content)


@given(JSON)
def test_any_json_is_refused_with_a_sentence(value: Any) -> None:
    with pytest.raises(HandInError, match=r"^It .*\.$"):
        read_hand_in(value)


@given(st.dictionaries(st.sampled_from(sorted(json.loads(HAND_IN.read_bytes()))), JSON, min_size=1))
def test_any_json_in_its_parts_is_read_or_refused_with_a_sentence(parts: dict[str, Any]) -> None:
    content = {**json.loads(HAND_IN.read_bytes()), **parts}
    try:
        told = "" if read_hand_in(content) else "nothing"
    except HandInError as error:
        told = str(error)
    assert told == "" or (told.startswith("It") and told.endswith("."))


def test_the_way_leads_through_objects_and_lists() -> None:
    parts: Parts = {"a": {"b": of(str)}, "c": each({"d": of(int)})}
    whole: dict[str, Any] = {"a": {"b": ""}, "c": [{"d": 1}], "more": 1}
    assert misfit(whole, parts) == []
    assert misfit(whole, parts, only=True) == ["more"]
    assert misfit({**whole, "a": {}}, parts) == ["a", "b"]
    assert misfit({**whole, "a": []}, parts) == ["a"]
    assert misfit({**whole, "c": [{"d": ""}]}, parts) == ["c"]
    assert misfit([], parts) == [""]
