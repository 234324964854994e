"""No answer is lost: each is on disk before anybody says so, and damage stays where it is."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

try:
    import resource
except ModuleNotFoundError:  # on Windows
    resource = None  # type: ignore[assignment]

from labkit.exchange.formats import NewerVersionError
from labkit.exchange.journal import (
    ANSWER,
    HINT,
    MAX_ANSWER,
    MAX_DEPTH,
    OPENED,
    STEP,
    Journal,
    parse,
    records,
)


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return Journal(tmp_path / "lab.answers.jsonl")


def answers(journal: Journal) -> list[Any]:
    return [entry.get("answer") for entry in journal.read().entries if entry["event"] == ANSWER]


def test_each_entry_is_synced_to_disk_after_it_is_written(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    on_disk: list[bytes] = []
    sync = os.fsync

    def spy(descriptor: int) -> None:
        sync(descriptor)
        on_disk.append(journal.path.read_bytes())

    monkeypatch.setattr(os, "fsync", spy)
    journal.append(OPENED, lab="x")
    for number in range(3):
        journal.append(ANSWER, exercise="e", answer=number)
    # After the first entry the folder too, so that the new file's name lasts.
    again = [1] if os.name == "posix" else []
    assert [data.count(b"\n") for data in on_disk] == [1, *again, 2, 3, 4]
    assert on_disk[-1] == journal.path.read_bytes()


def test_when_the_disk_refuses_nothing_is_claimed(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    journal.append(OPENED)
    before = journal.path.read_bytes()
    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="No space"):
        journal.append(ANSWER, exercise="e", answer="1 m")
    # It comes again: what is there already would count twice.
    assert journal.path.read_bytes() == before


@pytest.mark.skipif(resource is None, reason="only there a file can be kept small")
@pytest.mark.parametrize("torn", [b"", b'{"event": "ans'])
def test_of_a_line_that_a_full_disk_takes_in_part_nothing_stays(
    journal: Journal, torn: bytes
) -> None:
    journal.append(OPENED)
    journal.path.write_bytes(journal.path.read_bytes() + torn)
    before = journal.path.read_bytes()
    limit = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + 20, limit[1]))
    try:
        with pytest.raises(OSError, match="large"):
            journal.append(ANSWER, exercise="e", answer="1 m")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limit)
    assert journal.path.read_bytes() == before
    journal.append(ANSWER, exercise="e", answer="1 m")
    assert answers(journal) == ["1 m"]
    assert journal.read().unreadable == bool(torn)


def test_a_message_that_stands_there_twice_was_done_once(journal: Journal) -> None:
    for event, more in ((ANSWER, {"answer": "1 m"}), (STEP, {"step": "look"})):
        for token in ("t1", "t2", "t1"):
            journal.append(event, exercise="e", token=f"{event} {token}", **more)
    journal.append(ANSWER, exercise="other", token="answer t1", answer="2 m")
    found = records(journal.read().entries)
    assert found["e"].answers == ("1 m", "1 m")
    assert found["e"].steps == ("look", "look")
    assert found["other"].tries == 1


def test_appending_never_touches_what_is_there(journal: Journal) -> None:
    before = b""
    for number in range(5):
        journal.append(ANSWER, exercise="e", answer=number)
        after = journal.path.read_bytes()
        assert after.startswith(before)
        before = after


def test_a_torn_last_line_is_closed_and_swallows_no_later_answer(journal: Journal) -> None:
    journal.append(ANSWER, exercise="e", answer="first")
    journal.append(ANSWER, exercise="e", answer="torn")
    whole = journal.path.read_bytes()
    for cut in range(whole.index(b"\n") + 2, len(whole) - 1):
        journal.path.write_bytes(whole[:cut])
        journal.append(ANSWER, exercise="e", answer="later")
        text = journal.read()
        assert text.unreadable == 1
        assert answers(journal) == ["first", "later"]


def test_an_entry_that_lost_only_its_line_end_still_counts(journal: Journal) -> None:
    journal.append(ANSWER, exercise="e", answer="first")
    journal.path.write_bytes(journal.path.read_bytes()[:-1])
    journal.append(ANSWER, exercise="e", answer="second")
    assert answers(journal) == ["first", "second"]
    assert journal.read().unreadable == 0


BAD_LINES = [
    b"nonsense",
    b"[1, 2]",
    b'{"no": "event"}',
    b'{"event": 3}',
    b"\xff\xfe\x00",
    b"\x00" * 64,
    b'{"event": "answer", "answer": NaN}',
    b'{"event": "answer", "answer": -Infinity}',
    b'{"event": "answer", "answer": 1e999}',
    b'{"event": "answer", "answer": ' + b"9" * 5000 + b"}",
    b'{"event": "answer", "answer": ' + b"[" * 100 + b"]" * 100 + b"}",
    b"[" * 50_000,
]


@pytest.mark.parametrize("bad", BAD_LINES)
def test_an_unreadable_line_is_counted_and_the_others_stay(journal: Journal, bad: bytes) -> None:
    journal.append(ANSWER, exercise="e", answer="before")
    with journal.path.open("ab") as file:
        file.write(bad + b"\n")
    journal.append(ANSWER, exercise="e", answer="after")
    assert journal.read().unreadable == 1
    assert answers(journal) == ["before", "after"]


def test_empty_lines_and_windows_line_ends_are_no_damage() -> None:
    text = parse(b'\r\n\n  \n{"event": "answer"}\r\n\n')
    assert (len(text.entries), text.unreadable) == (1, 0)


def test_two_windows_write_into_one_journal(tmp_path: Path) -> None:
    path = tmp_path / "lab.answers.jsonl"
    windows = Journal(path), Journal(path)
    for number in range(10):
        windows[number % 2].append(ANSWER, exercise="e", answer=number)
    assert answers(windows[0]) == list(range(10))
    assert len({entry["session"] for entry in windows[0].read().entries}) == 2
    record = records(windows[1].read().entries)["e"]
    assert (record.answer, record.tries) == (9, 10)


def test_half_a_surrogate_pair_costs_neither_the_answer_nor_the_others(journal: Journal) -> None:
    journal.append(ANSWER, exercise="e", answer="5 m \ud800")
    with journal.path.open("ab") as file:
        file.write(b'{"event": "answer", "exercise": "e", "answer": "6 m \\udc00"}\n')
        file.write(b'{"event": "answer", "exercise": "e", "answer": "7 m \\ud83d\\ude00"}\n')
    assert answers(journal) == ["5 m ?", "6 m ?", "7 m \U0001f600"]
    json.dumps(journal.read().entries, ensure_ascii=False).encode()


@pytest.mark.parametrize(
    "answer", [float("nan"), float("inf"), {1, 2}, b"x", "x" * MAX_ANSWER, [[[]]] * 10_000]
)
def test_what_cannot_be_kept_is_refused_with_a_sentence_and_not_written(
    journal: Journal, answer: Any
) -> None:
    with pytest.raises(ValueError, match=r"^The answer .*\.$"):
        journal.append(ANSWER, exercise="e", answer=answer)
    assert not journal.path.exists()


def test_endless_nesting_is_refused_with_a_sentence(journal: Journal) -> None:
    deep: Any = []
    for _ in range(5000):
        deep = [deep]
    with pytest.raises(ValueError, match=f"more than {MAX_DEPTH} deep"):
        journal.append(ANSWER, exercise="e", answer=deep)


def test_no_journal_yet_is_an_empty_one(journal: Journal) -> None:
    assert journal.read().entries == ()


def test_records_keep_the_last_answer_the_most_hints_and_the_time() -> None:
    entries: list[dict[str, Any]] = [
        {"event": ANSWER, "exercise": "e", "answer": 1, "at": "t1"},
        {"event": HINT, "exercise": "e", "hint": 2},
        {"event": HINT, "exercise": "e", "hint": 1},
        {"event": ANSWER, "exercise": "e", "answer": None, "at": "t2"},
        {"event": ANSWER, "exercise": "e", "at": "no answer in it"},
        {"event": HINT, "exercise": "f", "hint": "many"},
        {"event": ANSWER, "exercise": ["g"], "answer": 1},
    ]
    found = records(entries)
    assert set(found) == {"e", "f"}
    assert (found["e"].answer, found["e"].answered, found["e"].at) == (None, True, "t2")
    assert (found["e"].tries, found["e"].hints, found["e"].answers) == (2, 2, (1, None))
    assert (found["f"].answered, found["f"].hints) == (False, 0)


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=300))
def test_any_bytes_are_entries_or_counted(data: bytes) -> None:
    text = parse(data)
    lines = [line for line in data.split(b"\n") if line.strip()]
    assert len(text.entries) + text.unreadable == len(lines)


def between(entries: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """A journal with entries of events to come before, between and after its own."""
    found: list[dict[str, Any]] = []
    for number, entry in enumerate([*entries, {"event": "end"}]):
        drill = {**entry, "event": "drill", "answer": ["wrong"], "hint": 9, "step": number}
        found += [{**drill, "token": f"d{number}"}, {"event": "token", "exercise": "e"}, entry]
    return found


def test_an_event_to_come_is_no_answer_no_hint_and_no_step(journal: Journal) -> None:
    journal.append(OPENED, lab="x")
    journal.append(ANSWER, exercise="e", token="t1", answer="5 m")
    journal.append(HINT, exercise="e", token="t2", hint=1)
    journal.append(STEP, exercise="f", token="t3", step={"do": "look"})
    entries = journal.read().entries
    assert records(between(entries)) == records(entries)
    assert set(records(entries)) == {"e", "f"}
    assert records([{"event": ["answer"], "exercise": "e", "answer": 1}]) == {}


def test_an_event_to_come_is_kept_as_it_is(journal: Journal) -> None:
    journal.append(ANSWER, exercise="e", answer="5 m")
    kept = journal.append("drill", of="e", seed="drill-1", numbers={"a": [1, 2.5, None]})
    journal.append("token", value="é")
    text = journal.read()
    assert [entry["event"] for entry in text.entries] == [ANSWER, "drill", "token"]
    assert text.entries[1] == kept
    assert text.unreadable == 0


def test_a_journal_that_a_later_labkit_wrote_in_says_what_to_do(journal: Journal) -> None:
    journal.append(OPENED, lab="x", format_version=1)
    journal.append(ANSWER, exercise="e", format_version=2, answer="no version: it opened nothing")
    assert len(journal.read().entries) == 2
    journal.append(OPENED, lab="x", format_version=2)
    with pytest.raises(NewerVersionError, match=r"update labkit on this laptop; .* are kept\.$"):
        journal.read()
    for odd in (None, "2", True, [2]):
        line = json.dumps({"event": OPENED, "format_version": odd}).encode()
        assert len(parse(line + b"\n" + line).entries) == 2
