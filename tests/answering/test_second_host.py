"""Another host than the notebook: the same messages, verdicts, journal and hand-in, of every kind.

Each lab that we ship, and one of the kinds that these have not, is worked through twice, once at
the notebook's widgets and once at a host that knows no widget, and compared message by message. In
practice every known mistake is told in the words of the lab's own check; in a browser one of each
kind is.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from kinds_in_labs import SHIPPED, files_of_every_kind
from plain_host import PlainHost, sent

from labkit.doors.installed import check_for
from labkit.doors.installed import kinds as installed_kinds
from labkit.exchange.hand_in import hand_in
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.language.markdown import message_html

sys.path.append(str(Path(__file__).parents[1] / "station"))
from at_a_desk import Desk, send, task_file

LABS = files_of_every_kind(SHIPPED)
TIMES = {"at", "session", "made_at", "signature"}
BENCH = [{"kind": "power off"}, {"kind": "dance"}, {"kind": "power on"}, {"kind": "look back"}]


def messages(exercise: dict[str, Any], number: int) -> Iterator[tuple[dict[str, Any], str]]:
    """What a page of an exercise may send, and what its verdict must be; with the key at hand."""
    key = exercise["practice"]["key"]
    check = check_for(exercise["kind"])
    tokens = (f"{number}-{count}" for count in range(10_000))
    yield {"do": "hint", "token": next(tokens)}, ""
    yield {"do": "answer", "token": next(tokens), "answer": {"no": "answer"}}, "wrong"
    for answer in check.slip_answers(exercise["ask"], key).values():
        yield {"do": "answer", "token": next(tokens), "answer": answer}, "wrong"
    steps = BENCH if exercise["kind"] == "diagnosis" else [{"kind": "test", "answer": {}}]
    for step in steps:
        again = {"do": "step", "token": next(tokens), "step": step}
        yield again, ""
        yield again, ""
    right = check.right_answer(exercise["ask"], key)
    yield {"do": "try", "token": next(tokens), "program": right, "on": [], "memory": None}, ""
    yield {"do": "answer", "token": next(tokens), "answer": right}, "right"
    yield {"do": "dance", "token": next(tokens)}, ""
    yield {"do": "answer", "token": 7}, ""


def words(exercise: dict[str, Any], answer: Any) -> str:
    """What the lab's own check says of an answer, its key at hand."""
    key = exercise["practice"]["key"]
    return check_for(exercise["kind"]).check(exercise["ask"], key, answer).message


def plain(value: Any) -> Any:
    """A value as it travels, without times and what follows from them."""
    if isinstance(value, dict):
        return {name: plain(each) for name, each in value.items() if name not in TIMES}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    return value


def journal(host: Desk | PlainHost) -> Any:
    """The entries of a host's journal."""
    kept = host.workbook.journal if isinstance(host, Desk) else host.journal
    return plain(kept.read().entries)


def handed_in(host: Desk | PlainHost) -> Any:
    """The hand-in of a host."""
    if isinstance(host, Desk):
        return plain(hand_in(host.workbook.task, host.workbook.journal))
    return plain(hand_in(host.task, host.journal))


def both(lab: Path, folder: Path, *, practice: bool) -> tuple[Desk, PlainHost, list[Any]]:
    """The same workbook at the notebook's host and at the plain one, and its exercises with keys.

    The keys are those of practice: an assessed workbook holds none.
    """
    scenario = draw(read_lab(lab), "two hosts")
    files = []
    for name in ("notebook", "plain", "keys"):
        (folder / name).mkdir()
        files.append(task_file(scenario, folder / name, practice=practice or name == "keys"))
    keys = json.loads(files[2].read_bytes())["exercises"]
    return Desk(files[0]), PlainHost(files[1]), keys


@pytest.mark.parametrize("lab", LABS, ids=[lab.parent.name for lab in LABS])
def test_practice_is_the_same_at_both_hosts(lab: Path, tmp_path: Path) -> None:
    notebook, other, exercises = both(lab, tmp_path, practice=True)
    for number, exercise in enumerate(exercises):
        widget, answering = notebook.exercise(exercise["id"]), other.exercise(exercise["id"])
        assert plain(widget.shown) == plain(answering.shown)
        for message, expected in messages(exercise, number):
            heard = json.loads(sent(answering, json.dumps(message)))
            assert (plain(send(widget, **message)) or None) == heard
            assert plain(widget.saved) == plain(answering.saved)
            told = answering.saved["verdict"]
            if expected and told and not answering.page.awaits:
                assert told["right"] is (expected == "right"), message
                assert message_html(words(exercise, message["answer"])) in told["html"], message
            assert not expected or told, message
    assert journal(notebook) == journal(other)
    assert handed_in(notebook) == handed_in(other)
    again = PlainHost(tmp_path / "plain" / notebook.file.name)
    notebook.restart()
    for exercise in exercises:
        before, widget = other.exercise(exercise["id"]), notebook.exercise(exercise["id"])
        after = again.exercise(exercise["id"])
        assert after.saved == before.saved
        assert plain(widget.saved) == plain(after.saved)
        assert plain(widget.shown) == plain(after.shown) == plain(before.shown)
        assert after.saved["token"] == ""
        assert after.saved["answered"]


def test_every_kind_is_in_these_labs() -> None:
    kinds = {exercise.kind for lab in LABS for exercise in read_lab(lab).exercises}
    assert kinds == installed_kinds()


@pytest.mark.parametrize("lab", ["plan-the-trunk", "network-power", "acceptance"])
def test_an_assessed_exercise_tells_only_what_cannot_be_read(lab: str, tmp_path: Path) -> None:
    [path] = [each for each in LABS if each.parent.name == lab]
    notebook, other, exercises = both(path, tmp_path, practice=False)
    for number, exercise in enumerate(exercises):
        widget, answering = notebook.exercise(exercise["id"]), other.exercise(exercise["id"])
        for message, expected in messages(exercise, number):
            heard = json.loads(sent(answering, json.dumps(message)))
            assert (plain(send(widget, **message)) or None) == heard
            assert plain(widget.saved) == plain(answering.saved)
            told = answering.saved["verdict"]
            assert told is None or not told["readable"]
            assert expected != "right" or told is None
        assert answering.saved["hints"] == []
        assert answering.saved["example"] is None
    assert journal(notebook) == journal(other)
    assert handed_in(notebook) == handed_in(other)
