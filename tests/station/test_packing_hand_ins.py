"""The hand-in holds what the journal holds, signed, and is whole or not there."""

from __future__ import annotations

import hmac
import json
import os
from hashlib import sha256
from pathlib import Path
from typing import Any

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.exchange.hand_in import file_name, pack, signed_text
from labkit.exchange.journal import ANSWER, HANDED_IN, Journal
from labkit.exchange.signing import signed
from labkit.exchange.task_file import TaskFileError
from labkit.exchange.whole_file import write_whole

TASK: dict[str, Any] = {
    "format": "labkit task",
    "format_version": 1,
    "workbook": "0123456789abcdef",
    "class": {"id": "c", "title": "C"},
    "lab": {"id": "tiny", "version": "1.0", "title": "Tiny", "digest": "d", "minutes": 5},
    "trainee": {"id": "zoë@x", "name": "Zoë"},
    "practice": True,
    "deadline": None,
    "signing_key": "key of this workbook",
    "picture": None,
    "exercises": [],
}


def home_with(folder: Path, task: dict[str, Any] = TASK) -> Path:
    path = folder / "tiny.task.json"
    path.write_text(json.dumps(task), encoding="utf-8")
    return path


def test_a_hand_in_holds_the_journal_and_verifies(tmp_path: Path) -> None:
    task = home_with(tmp_path)
    Journal(tmp_path / "tiny.answers.jsonl").append(ANSWER, exercise="e", answer="5 m")
    made = pack(task)
    assert made == tmp_path / "tiny--zoë@x.handin.json"
    content = json.loads(made.read_bytes())
    assert [entry["event"] for entry in content["journal"]] == [ANSWER, HANDED_IN]
    assert content["trainee"] == TASK["trainee"]
    assert content["lab"] == {"id": "tiny", "version": "1.0", "digest": "d"}
    assert signed(TASK["signing_key"], signed_text(content), content["signature"])
    # The same by the definition: HMAC-SHA-256 (RFC 2104) of the rest, keys in order, no spaces.
    rest = {name: content[name] for name in content if name != "signature"}
    text = json.dumps(rest, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    mac = hmac.new(TASK["signing_key"].encode(), text.encode(), sha256).hexdigest()
    assert content["signature"] == mac
    assert TASK["signing_key"] not in made.read_text()


JOURNAL_VALUES = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**30), 10**30),
        st.floats(),
        st.text(st.characters(), max_size=8),
        st.sampled_from(["\ud800", "x\udfff", "\x00", "\u2028", "\U0001f600"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=4), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(deadline=None, max_examples=150)
@given(value=JOURNAL_VALUES, escaped=st.booleans())
def test_whatever_stands_in_the_journal_the_receiver_reads_what_was_signed(
    tmp_path_factory: pytest.TempPathFactory, value: Any, escaped: bool
) -> None:
    home = tmp_path_factory.mktemp("home")
    line = json.dumps({"event": ANSWER, "exercise": "e", "answer": value}, ensure_ascii=escaped)
    data = line.encode("utf-8", "replace") + b"\n"
    (home / "tiny.answers.jsonl").write_bytes(data)
    content = orjson.loads(pack(home_with(home)).read_bytes())
    assert signed(TASK["signing_key"], signed_text(content), content["signature"])
    assert len(content["journal"]) + content["unreadable_lines"] == 2


def test_handing_in_again_replaces_the_file_and_keeps_both_in_the_journal(tmp_path: Path) -> None:
    task = home_with(tmp_path)
    first = json.loads(pack(task).read_bytes())
    second = json.loads(pack(task).read_bytes())
    assert len(second["journal"]) == len(first["journal"]) + 1
    assert len(list(tmp_path.glob("*.handin.json"))) == 1


def test_a_hand_in_can_go_onto_a_stick(tmp_path: Path) -> None:
    (tmp_path / "stick").mkdir()
    assert pack(home_with(tmp_path), tmp_path / "stick").parent == tmp_path / "stick"
    with pytest.raises(FileNotFoundError):
        pack(home_with(tmp_path), tmp_path / "no stick")


def test_a_file_is_replaced_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "x.handin.json"
    write_whole(target, b"old")
    seen: list[bytes] = []
    sync = os.fsync

    def full(descriptor: int) -> None:
        seen.append(target.read_bytes())
        sync(descriptor)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_whole(target, b"new and longer")
    assert seen == [b"old"]
    assert target.read_bytes() == b"old"
    monkeypatch.undo()
    write_whole(target, b"new")
    assert target.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["x.handin.json"]


@settings(deadline=None)
@given(st.text(max_size=80), st.text(max_size=80))
def test_a_hand_ins_name_stays_in_its_folder_whatever_the_ids(lab: str, trainee: str) -> None:
    name = file_name(lab, trainee)
    assert not set('/\\:*?"<>|\0\n') & set(name)
    assert name not in (".", "..")
    assert name.endswith(".handin.json")


def test_trainees_whose_ids_differ_get_files_whose_names_differ() -> None:
    ids = ["j.doe", "j-doe", "j_doe", "j@doe", "j+doe", "x" * 63, "x" * 64]
    names = {file_name("l", name) for name in ids}
    assert len(names) == len(ids)


DAMAGED_TASKS = {
    "empty": b"",
    "binary": bytes(range(256)),
    "cut": json.dumps(TASK).encode()[:100],
    "deep": b"[" * 100_000,
    "list": b"[]",
    "other format": json.dumps({**TASK, "format": "x"}).encode(),
    **{
        f"without {name}": json.dumps({key: TASK[key] for key in TASK if key != name}).encode()
        for name in ("workbook", "class", "lab", "trainee", "practice", "signing_key", "exercises")
    },
    "lab without digest": json.dumps({**TASK, "lab": {"id": "tiny", "version": "1"}}).encode(),
    "trainee of numbers": json.dumps({**TASK, "trainee": {"id": 1, "name": 2}}).encode(),
    "class without title": json.dumps({**TASK, "class": {"id": "c"}}).encode(),
    "exercise of text": json.dumps({**TASK, "exercises": ["e"]}).encode(),
    "exercise without kind": json.dumps({**TASK, "exercises": [{"id": "e"}]}).encode(),
}


@pytest.mark.parametrize("name", DAMAGED_TASKS)
def test_a_damaged_task_file_is_said_and_no_answer_is_touched(tmp_path: Path, name: str) -> None:
    task = tmp_path / "tiny.task.json"
    task.write_bytes(DAMAGED_TASKS[name])
    (tmp_path / "tiny.answers.jsonl").write_bytes(b"{}\n")
    with pytest.raises(TaskFileError, match=r"'tiny\.task\.json' is damaged") as caught:
        pack(task)
    assert caught.value._render_traceback_() == [str(caught.value)]
    assert (tmp_path / "tiny.answers.jsonl").read_bytes() == b"{}\n"


def test_a_missing_task_file_and_one_of_another_version_are_said(tmp_path: Path) -> None:
    with pytest.raises(TaskFileError, match="missing"):
        pack(tmp_path / "tiny.task.json")
    with pytest.raises(TaskFileError, match="another version of labkit"):
        pack(home_with(tmp_path, {**TASK, "format_version": 2, "new": 1}))
