"""Whatever is wrong with a hand-in is named, sets that one aside, and costs nobody else a mark."""

from __future__ import annotations

import copy
import gzip
import io
import json
import zipfile
from typing import Any

import pytest
from hand_in_desk import Desk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tiny_class import Room

from labkit.classroom.handins.outcome import Task
from labkit.classroom.marks.marking import work

SETTINGS = settings(
    deadline=None,
    max_examples=150,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
NAMED = {"damaged", "foreign", "tampered"}


@pytest.fixture
def desk(room: Room) -> Desk:
    return Desk(room)


def test_a_hand_in_cut_off_at_any_byte_is_damaged(desk: Desk) -> None:
    assert desk.look(desk.data).outcome == "whole"
    for cut in range(len(desk.data)):
        found = desk.look(desk.data[:cut])
        assert (found.outcome, found.hand_in) == ("damaged", None), cut
        assert found.sentence


def test_a_hand_in_with_any_byte_changed_is_set_aside_or_means_the_same(desk: Desk) -> None:
    for place in range(0, len(desk.data), 3):
        for other in (b"\x00", b" ", b"0", b"\xff", b'"'):
            changed = desk.data[:place] + other + desk.data[place + 1 :]
            found = desk.look(changed)
            if found.hand_in is None:
                assert found.outcome in NAMED
            else:
                # A space for a line break, or a byte for itself.
                assert json.loads(changed) == desk.content


def packed(data: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("x.handin.json", data)
    return stream.getvalue()


BOMBS = {
    "zip": packed(b"0" * 50_000_000),
    "gzip": gzip.compress(b"0" * 50_000_000),
    "deep lists": b"[" * 2_000_000,
    "deep groups": b'{"a":' * 500_000,
    "deep and closed": b"[" * 1_000_000 + b"]" * 1_000_000,
    "deep in a field": b'{"format": "labkit hand-in", "journal": ' + b"[" * 900 + b"]" * 900 + b"}",
    "many keys": json.dumps({f"k{n}": n for n in range(200_000)}).encode(),
    "long number": b'{"format": ' + b"9" * 4_000_000 + b"}",
    "huge number": b'{"format": "labkit hand-in", "unreadable_lines": 1e999}',
    "not a number": b'{"format": "labkit hand-in", "made_at": NaN}',
    "infinity": b'{"format": "labkit hand-in", "made_at": -Infinity}',
    "long text": b'{"format": "' + b"x" * 4_000_000 + b'"}',
    "half a pair": b'{"format": "\\ud800"}',
    "many entries": b'{"format": "labkit hand-in", "journal": [' + b"{}," * 1_000_000 + b"{}]}",
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_named_and_set_aside(desk: Desk, name: str) -> None:
    found = desk.look(BOMBS[name])
    assert found.outcome in NAMED
    assert found.sentence
    assert len(found.sentence) < 400


def test_a_hand_in_is_not_made_another_by_replaying_it(desk: Desk, room: Room) -> None:
    from labkit.classroom.marks.scoring import score

    for number in range(3):
        (room.path / "hand-ins" / f"replay-{number}.json").write_bytes(desk.data)
    scoring = score(room.folder)
    assert [result.earned for result in scoring.results] == [8, 0, 0]
    assert [notice.reason for notice in scoring.notices] == ["same file twice"] * 3
    again = dict(reversed(desk.content.items()))
    (room.path / "hand-ins" / "other-bytes.json").write_text(json.dumps(again))
    assert [notice.reason for notice in score(room.folder).notices] == ["same file twice"] * 4


def test_a_journal_that_was_edited_without_signing_is_tampered(desk: Desk) -> None:
    for change in ("swap", "drop", "double", "answer"):
        content = copy.deepcopy(desk.content)
        journal = content["journal"]
        if change == "swap":
            journal[0], journal[1] = journal[1], journal[0]
        elif change == "drop":
            journal.pop()
        elif change == "double":
            journal.append(journal[-1])
        else:
            journal[1]["answer"] = "0 m"
        found = desk.look(json.dumps(content).encode())
        assert found.outcome == "tampered", change
        assert "Ann Orrel" in found.sentence


JSON = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(2**70), 2**70),
        st.floats(),
        st.text(max_size=30),
        st.sampled_from(["", "0" * 64, "answer", "hint", "double", "plan", "5 m", "\ud800"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.text(max_size=10), inner, max_size=4),
    ),
    max_leaves=12,
)


@SETTINGS
@given(data=st.data())
def test_any_field_of_any_type_well_signed_never_raises(desk: Desk, data: st.DataObject) -> None:
    content = desk.content
    for name in data.draw(st.lists(st.sampled_from(list(content)), min_size=1, max_size=3)):
        content[name] = data.draw(JSON)
    try:
        text = desk.signed(content)
    except UnicodeEncodeError:
        return
    done = work(desk.examiner, Task("x.handin.json", text))
    assert done.receipt["outcome"] in {*NAMED, "whole"}
    assert bool(done.marks) == (done.receipt["outcome"] == "whole")


ENTRY = st.dictionaries(
    st.sampled_from(["at", "session", "event", "exercise", "answer", "hint", "more"]),
    st.one_of(
        JSON,
        st.sampled_from(["answer", "hint", "handed in", "opened", "double", "parity", "plan"]),
    ),
)


@SETTINGS
@given(journal=st.lists(ENTRY, max_size=8))
def test_any_journal_well_signed_is_marked_within_the_marks(
    desk: Desk, journal: list[dict[str, Any]]
) -> None:
    try:
        text = desk.signed({**desk.content, "journal": journal})
    except UnicodeEncodeError:
        return
    done = work(desk.examiner, Task("x.handin.json", text))
    for row in done.marks:
        assert 0 <= row["earned"] <= row["possible"]
        assert row["tries"] >= 0
        assert row["hint_cost"] >= 0


@SETTINGS
@given(st.one_of(st.binary(max_size=300), JSON.map(lambda value: json.dumps(value).encode())))
def test_any_bytes_are_named(desk: Desk, data: bytes) -> None:
    found = desk.look(data)
    assert found.outcome in NAMED
    assert found.sentence


@pytest.mark.parametrize("lost", [2**31, 2**63, 2**64 - 1])
def test_a_well_signed_number_that_no_database_holds_costs_nobody_a_mark(
    desk: Desk, room: Room, lost: int
) -> None:
    from labkit.classroom.marks.scoring import score

    room.hand_in("ben")
    file = room.path / "hand-ins" / "tiny--ann.handin.json"
    file.write_bytes(desk.signed({**desk.content, "unreadable_lines": lost}))
    scoring = score(room.folder)
    assert [(notice.file, notice.reason) for notice in scoring.notices] == [(file.name, "damaged")]
    assert [result.earned for result in scoring.results] == [0, 8, 0]


def test_what_fuzzed_hand_ins_leave_can_be_kept_in_the_records(desk: Desk, room: Room) -> None:
    from labkit.classroom.marks.scoring import score

    journal = [
        {"event": "answer", "exercise": "double", "answer": "x" * 15_000, "at": 2**63 - 1},
        {"event": "answer", "exercise": "plan", "answer": {"pump": 1e308, "valve": -1, "s": []}},
        {"event": "answer", "exercise": "parity", "answer": [[[[]]]], "at": "not a time"},
        {"event": "hint", "exercise": "double", "hint": 2**62},
        {"event": "hint", "exercise": "double", "hint": -5},
        {"event": "answer", "exercise": "none", "answer": "\x00\u202e"},
    ]
    file = room.path / "hand-ins" / "tiny--ann.handin.json"
    file.write_bytes(desk.signed({**desk.content, "journal": journal}))
    result = score(room.folder).results[0]
    assert result.counts
    assert result.earned == 0
