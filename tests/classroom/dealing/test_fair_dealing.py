"""Draws are equally hard, neighbours' answers differ, and nobody's numbers change for it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from itertools import combinations, pairwise, permutations
from pathlib import Path

import pytest
from fair_class import CHECKED, FairRoom, MakeFairRoom, right_answers, right_here
from tiny_class import MakeRoom

from labkit.classroom.dealing import deal as dealing
from labkit.classroom.dealing.deal import deal, deal_again
from labkit.classroom.dealing.deal_summary import deal_summary
from labkit.classroom.dealing.fairness import Part, answer_sheet, bounds_of
from labkit.classroom.dealing.fairness import equal_answers as equal_between
from labkit.classroom.dealing.seeds import seed_of
from labkit.classroom.dealt import Bounds
from labkit.classroom.errors import ClassError
from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError
from labkit.workbook import WorkbookFiles

SQUARE = {"ann": "A1", "ben": "A2", "cy": "B1", "dot": "B2"}
HALL = {f"{row.lower()}{place}": f"{row}{place}" for row in "ABCD" for place in range(1, 7)}


def workbooks_of(room: FairRoom) -> dict[str, bytes]:
    files = sorted((room.path / "workbooks").rglob("*"))
    return {str(f.relative_to(room.path)): f.read_bytes() for f in files if f.is_file()}


def everything_of(room: FairRoom) -> dict[str, bytes]:
    """All that was dealt, but for when: two deals are not made in the same second."""
    record = re.sub(rb'"dealt_at": "[^"]*"', b"", (room.path / "deal.json").read_bytes())
    return {**workbooks_of(room), "deal.json": record}


def beside(seats: dict[str, str]) -> list[tuple[str, str]]:
    """Pairs no more than one row and one place apart."""
    return [
        (one, other)
        for one, other in combinations(seats, 2)
        if all(abs(ord(x) - ord(y)) <= 1 for x, y in zip(seats[one], seats[other], strict=True))
    ]


def equal_answers(room: FairRoom, one: str, other: str, attempts: tuple[int, int] = (1, 1)) -> int:
    """By the checks alone; the choice's answer is the same option in every draw of this lab."""
    mine, theirs = (
        room.scenario(room.item(who, attempt))
        for who, attempt in zip((one, other), attempts, strict=True)
    )
    same = right_here(mine, right_answers(theirs)) | right_here(theirs, right_answers(mine))
    return len(same | {"parity"})


def test_seats_not_lines_of_the_roster_decide_the_numbers(make_fair_room: MakeFairRoom) -> None:
    found = []
    for number, order in enumerate(permutations(SQUARE)):
        if number % 4:
            continue
        room = make_fair_room(SQUARE, f"class-{number}")
        room.seat(SQUARE, order)
        room.deal()
        found.append(workbooks_of(room))
        assert [item.trainee for item in room.dealt.dealt] == list(order)
    assert len(found) == 6
    assert all(files == found[0] for files in found)


@pytest.mark.parametrize("seat", ["A2", "B2", ""])
def test_a_late_trainee_amid_the_others_changes_nobody(
    make_fair_room: MakeFairRoom, seat: str
) -> None:
    seats = {"ann": "A1", "cy": "A3", "dot": "B1", "eve": "C3"}
    room = make_fair_room(seats)
    room.deal()
    before, items = workbooks_of(room), room.dealt.dealt
    room.seat({"aaron": seat, **seats})
    assert room.deal().new == 1
    after = workbooks_of(room)
    assert {name: after[name] for name in before} == before
    assert [item for item in room.dealt.dealt if item.trainee != "aaron"] == list(items)
    late = room.item("aaron")
    neighbours = [who for who in seats if (who, "x") and seat and _near(seat, seats[who])]
    assert len(late.equal) == len(neighbours)
    assert all(count <= room.dealt.bounds["fair"].equal for count in late.equal)


def _near(one: str, other: str) -> bool:
    return all(abs(ord(x) - ord(y)) <= 1 for x, y in zip(one, other, strict=True))


@pytest.mark.parametrize(("stated", "bound"), [({}, 5.0), ({"difficulty_spread": "1.5"}, 1.5)])
def test_a_class_of_24_is_equally_hard(
    make_fair_room: MakeFairRoom, stated: dict[str, str], bound: float
) -> None:
    room = make_fair_room(HALL, **stated)
    room.deal()
    hard = [room.scenario(item).difficulty for item in room.dealt.dealt]
    known = [value for value in hard if value is not None]
    assert len(known) == 24
    assert max(known) - min(known) <= bound + 1e-9
    assert min(known) >= 10
    assert max(known) <= 30
    # The same class without a choice of draws is not.
    lab, secret = room.folder.lab("fair"), room.folder.secret()
    plain = [draw(lab, seed_of(secret, "room-7", "fair", who, 0)).difficulty for who in HALL]
    assert max(filter(None, plain)) - min(filter(None, plain)) > 2 * bound
    said = next(deal_summary(room.dealt))
    assert f"a spread of {max(known) - min(known):.2g} over 24" in said
    assert f"up to {bound:.2g} is allowed" in said


def test_neighbours_share_few_answers(make_fair_room: MakeFairRoom) -> None:
    room = make_fair_room(HALL)
    room.deal()
    bounds = room.dealt.bounds["fair"]
    assert bounds.copyable == CHECKED
    assert bounds.always == ("parity",)
    pairs = beside(HALL)
    assert len(pairs) == 4 * 5 + 3 * 6 + 2 * 3 * 5
    counts = [equal_answers(room, *pair) for pair in pairs]
    assert max(counts) <= bounds.equal < len(CHECKED)
    # What the record says of the pairs is what the checks find.
    told = [count for item in room.dealt.dealt for count in item.equal]
    assert sorted(told) == sorted(counts)
    apart = [pair for pair in combinations(HALL, 2) if pair not in pairs]
    assert max(equal_answers(room, *pair) for pair in apart) > bounds.equal
    said = list(deal_summary(room.dealt))[1]
    assert f"at most {max(counts)}, " in said
    assert "68 pair(s)" in said
    assert f"up to {bounds.equal} are allowed (parity: in every draw" in said


def test_without_seats_the_lines_of_the_roster_are_the_seats(make_fair_room: MakeFairRoom) -> None:
    people = [f"p{number:02}" for number in range(12)]
    room = make_fair_room(dict.fromkeys(people, ""))
    room.deal()
    assert [len(item.equal) for item in room.dealt.dealt] == [0] + [1] * 11
    bound = room.dealt.bounds["fair"].equal
    for pair in pairwise(people):
        assert equal_answers(room, *pair) <= bound


def test_a_stated_bound_is_kept_or_the_deal_stops(make_fair_room: MakeFairRoom) -> None:
    room = make_fair_room({"ann": "A1", "ben": "A2"}, neighbours_equal="1")
    room.deal()
    assert equal_answers(room, "ann", "ben") == 1
    room = make_fair_room({"ann": "A1", "ben": "A2"}, "hard", neighbours_equal="0")
    with pytest.raises(ClassError, match=r"Write 'neighbours_equal: 1' in class\.yaml"):
        room.deal()
    first = workbooks_of(room)
    assert len(first) == 3
    room.write_class(labs="[fair]", neighbours_equal="1")
    assert room.deal().new == 1
    assert equal_answers(room, "ann", "ben") == 1
    assert {name: workbooks_of(room)[name] for name in first} == first


def test_where_no_draw_keeps_labkits_own_bound_the_best_is_dealt_and_said(
    make_fair_room: MakeFairRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none_allowed(*args: object) -> Bounds:
        from dataclasses import replace

        return replace(bounds_of(*args), equal=0)  # type: ignore[arg-type]

    monkeypatch.setattr(dealing, "usual_bounds", none_allowed)
    room = make_fair_room(SQUARE)
    room.deal()
    counts = [count for item in room.dealt.dealt for count in item.equal]
    assert set(counts) >= {1}
    assert max(counts) <= 3
    assert any(f"{len(counts)} pair(s) of neighbours have more" in s for s in _said(room))


def _said(room: FairRoom) -> list[str]:
    return list(deal_summary(room.dealt))


def test_the_bounds_of_the_first_deal_hold_and_can_only_be_widened(
    make_fair_room: MakeFairRoom,
) -> None:
    room = make_fair_room(SQUARE, difficulty_spread="{fair: 2}")
    room.deal()
    first = room.dealt.bounds["fair"]
    room.write_class(labs="[fair]", difficulty_spread="0.5")
    room.seat({**SQUARE, "eve": "C1"})
    room.deal()
    assert room.dealt.bounds["fair"] == first
    room.write_class(labs="[fair]", difficulty_spread="6")
    room.deal()
    wider = room.dealt.bounds["fair"]
    assert wider.low is not None
    assert wider.high is not None
    assert wider.high - wider.low == pytest.approx(6)
    assert all(wider.takes(item.difficulty) for item in room.dealt.dealt)


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"difficulty_spread": "0.001"}, "is too narrow for 'fair'"),
        ({"difficulty_spread": "{other: 1}"}, "'other' is not one of the labs"),
        ({"difficulty_spread": "-1"}, "difficulty_spread"),
        ({"difficulty_spread": "wide"}, "difficulty_spread"),
        ({"neighbours_equal": "few"}, "'few' is not a number of answers"),
        ({"attempts_count": "first"}, "attempts_count"),
    ],
)
def test_bounds_that_cannot_be_are_said(
    make_fair_room: MakeFairRoom, fields: dict[str, str], sentence: str
) -> None:
    room = make_fair_room(SQUARE, **fields)
    with pytest.raises((ClassError, DefinitionError), match=sentence):
        room.deal()
    assert not (room.path / "workbooks").exists()


def test_the_same_lab_has_the_same_bounds_everywhere(make_fair_room: MakeFairRoom) -> None:
    room = make_fair_room(SQUARE)
    room.deal()
    lab = read_lab(room.library / "fair" / "lab.md")
    assert bounds_of(lab) == room.dealt.bounds["fair"]


def test_an_answer_is_shared_whichever_of_the_two_it_is_right_for() -> None:
    def part(value: float, tolerance: float) -> Part:
        key = {"value": value, "tolerance": tolerance, "decimals": 1, "slips": []}
        return Part(check_for("quantity"), {"unit": "m"}, key, f"{value} m", "")

    narrow, wide, far = part(10.0, 0.01), part(10.4, 0.5), part(11.0, 0.01)
    assert equal_between((narrow,), (wide,)) == equal_between((wide,), (narrow,)) == 1
    assert equal_between((narrow, wide), (far, far)) == 0


class PulledPlugError(BaseException):
    """The machine goes off: nothing after it runs."""


def _cut(monkeypatch: pytest.MonkeyPatch, name: str, after: int, *, torn: bool = False) -> None:
    """End the run at the call number `after` of one function of `dealing`."""
    real, calls = getattr(dealing, name), 0

    def cut(*args: object) -> object:
        nonlocal calls
        calls += 1
        if calls > after:
            if torn:
                return real(*args)[:-9]
            raise PulledPlugError
        return real(*args)

    monkeypatch.setattr(dealing, name, cut)


@pytest.mark.parametrize("name", ["_write", "log_line", "write_deal"])
@pytest.mark.parametrize("after", [0, 1, 3])
def test_cut_at_any_moment_and_resumed_it_is_the_same_deal(
    make_fair_room: MakeFairRoom, monkeypatch: pytest.MonkeyPatch, name: str, after: int
) -> None:
    whole, cut = make_fair_room(SQUARE, "whole"), make_fair_room(SQUARE, "cut")
    for room in (whole, cut):
        room.deal()
        room.again("ben")
    for file in cut.path.glob("deal*"):
        file.unlink()
    for file in sorted((cut.path / "workbooks").rglob("*"), reverse=True):
        file.rmdir() if file.is_dir() else file.unlink()
    _cut(monkeypatch, name, after)
    for step in (cut.deal, lambda: cut.again("ben"), cut.deal, lambda: cut.again("ben")):
        try:
            step()
        except PulledPlugError:
            break
        except ClassError:
            pass
    monkeypatch.undo()
    cut.deal()
    if cut.dealt.dealt.find("ben", "fair", 2) is None:
        cut.again("ben")
    assert everything_of(cut) == everything_of(whole)
    assert not (cut.path / "deal-unfinished.jsonl").exists()


def test_a_killed_run_with_several_processes_goes_on_to_the_same_bytes(
    make_fair_room: MakeFairRoom,
) -> None:
    whole, killed = make_fair_room(HALL, "whole"), make_fair_room(HALL, "killed")
    whole.deal()
    script = (
        "import sys, pathlib\n"
        "from labkit.classroom.class_folder import ClassFolder\n"
        "from labkit.classroom.dealing import deal\n"
        "deal._WORTH_STARTING = 0\n"
        "folder, library = map(pathlib.Path, sys.argv[1:])\n"
        "deal.deal(ClassFolder.open(folder), library, jobs=2)\n"
    )
    words = [sys.executable, "-c", script, str(killed.path), str(killed.library)]
    run = subprocess.Popen(words, start_new_session=True)
    try:
        while run.poll() is None and not list(killed.path.glob("workbooks/*/*.ipynb")):
            time.sleep(0.005)
    finally:
        if run.poll() is None:
            os.killpg(run.pid, signal.SIGKILL)
        run.wait()
    assert list(killed.path.glob("workbooks/*/*.ipynb"))
    deal(killed.folder, killed.library, jobs=1)
    kept = {n: d for n, d in everything_of(killed).items() if not n.endswith(".part")}
    assert kept == everything_of(whole)


def test_any_number_of_jobs_deals_the_same(
    make_fair_room: MakeFairRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dealing, "_WORTH_STARTING", 0)
    found, steps = [], []
    for jobs in (1, 2):
        room = make_fair_room(HALL, f"jobs-{jobs}", mode="assessed")
        deal(room.folder, room.library, lambda *step: steps.append(step), jobs=jobs)
        deal_again(room.folder, room.library, ["b2", "a1"], jobs=jobs)
        found.append(everything_of(room))
    assert found[0] == found[1]
    assert steps[-1] == (24, 24)
    with pytest.raises(ClassError, match="0 jobs cannot be had"):
        deal(room.folder, room.library, jobs=0)


@pytest.mark.parametrize(("worth", "here"), [(0, 1), (1_000, 24)])
def test_processes_are_started_only_where_they_save_more_than_they_take(
    make_fair_room: MakeFairRoom, monkeypatch: pytest.MonkeyPatch, worth: float, here: int
) -> None:
    here_written: list[Path] = []
    write = WorkbookFiles.write

    def counted(files: WorkbookFiles, folder: Path, *, mode: int) -> None:
        here_written.append(folder)
        write(files, folder, mode=mode)

    monkeypatch.setattr(WorkbookFiles, "write", counted)
    monkeypatch.setattr(dealing, "_WORTH_STARTING", worth)
    room = make_fair_room(HALL)
    deal(room.folder, room.library, jobs=2)
    assert len(here_written) == here
    assert len(list(room.path.glob("workbooks/*/*.ipynb"))) == 24


def test_a_deal_of_before_is_read_scored_and_added_to(make_room: MakeRoom) -> None:
    from labkit.classroom.marks.scoring import score

    room = make_room("ann", "ben")
    room.deal()
    record = json.loads((room.path / "deal.json").read_bytes())
    del record["bounds"]
    for item in record["dealt"]:
        for name in ("attempt", "difficulty", "equal", "equal_before"):
            del item[name]
    (room.path / "deal.json").write_text(json.dumps(record))
    room.hand_in("ann")
    assert score(room.folder).results[0].earned == 8
    before = {f: f.read_bytes() for f in (room.path / "workbooks").rglob("*.json")}
    room.write_roster("ann", "late", "ben")
    assert room.deal().new == 1
    assert len(room.dealt.dealt[1].equal) == 2
    assert all(file.read_bytes() == data for file, data in before.items())


def test_nothing_of_the_choice_is_in_what_trainees_get(make_fair_room: MakeFairRoom) -> None:
    room = make_fair_room(SQUARE, mode="assessed")
    room.deal()
    room.again("ann")
    for name, data in workbooks_of(room).items():
        assert b'"difficulty"' not in data, name
        assert b'"equal' not in data, name
        for other in set(SQUARE) - {Path(name).parts[1]}:
            assert f"Name {other}".encode() not in data


@pytest.mark.parametrize(
    ("lab", "exercise"), [("order-and-words", "make-safe"), ("several-right", "too-much")]
)
def test_the_same_answer_in_other_letters_is_the_same(lab: str, exercise: str) -> None:
    """What a neighbour reads aloud are steps and boxes; their letters are drawn anew."""
    found = read_lab(Path(__file__).parents[2] / "lab" / "labs" / lab / "lab.md")
    seen: dict[str, set[str]] = {}
    sheets = [answer_sheet(draw(found, str(seed)), [exercise])[0] for seed in range(40)]
    for part in sheets:
        seen.setdefault(part.named, set()).add(str(part.answer))
    assert max(map(len, seen.values())) > 1
    for one, other in pairwise(sheets):
        assert not one.named or one.named != other.named or one.takes(other)
