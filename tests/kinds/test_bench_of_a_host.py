"""An assessed bench at a host is played when it is asked, and shows what a recording would show;
any bench shows the same where it is played apart, and after a restart what was kept.

They are worked at side by side through the messages of a page: every reply and everything that is
shown must be the same, character by character.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields
from functools import lru_cache
from itertools import count, pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.answering.answering import Answering
from labkit.answering.played import asked_line, read_told, told_line
from labkit.bench import recording
from labkit.bench.bench import Bench
from labkit.bench.measurements import Ohms, Volts
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation, Terminal
from labkit.doors.page import Play
from labkit.exchange.journal import ExerciseRecord, Journal
from labkit.exchange.task_file import Task, TaskExercise
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis import playing
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.page.kept_plays import WorkbookPlays
from labkit.page.play_processes import PlayProcesses
from labkit.workbook import WorkbookFiles, task_data
from labkit.workbook.task import exercise_data

LABS = Path(__file__).parents[2] / "labs"
# Five labs' faults: a loose contact, two of the wires, a supply's way, and two that no wire shows.
BENCHES = [
    ("troubleshooting", "p16", "case-loose"),
    ("troubleshooting", "p16", "case-power"),
    ("wiring-and-terminators", "b", "sheet-on-the-bench"),
    ("acceptance", "p16", "fault-b"),
    ("bring-up", "b", "first-fault"),
]
RECORDED_KINDS = {"diagnosis"}
"""The kinds whose steps `steps` below knows."""


@lru_cache
def lab(name: str) -> Lab:
    return read_lab(LABS / name / "lab.md")


@lru_cache
def scenario(name: str, seed: str) -> Scenario:
    return draw(lab(name), seed)


def hosted(drawn: Scenario) -> Task:
    """An assessed task that stays with its host."""
    return task_data(
        drawn,
        workbook="w",
        class_id="c",
        class_title="C",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=False,
        deadline=None,
        signing_key="0" * 64,
        hosted=True,
    )


@lru_cache(maxsize=1)
def sides(name: str, seed: str, exercise: str) -> tuple[TaskExercise, TaskExercise]:
    """An exercise as an assessed task file has it, and as a host has it."""
    drawn = scenario(name, seed)
    [at_host] = [each for each in hosted(drawn)["exercises"] if each["id"] == exercise]
    [defined] = [each for each in lab(name).exercises if each.id == exercise]
    prepared = drawn.prepare(defined)
    assert prepared.assessed is not None
    in_file: TaskExercise = {**at_host, "ask": {**prepared.ask, **prepared.assessed()}}
    return orjson.loads(orjson.dumps(in_file)), at_host


class Apart(PlayProcesses):
    """What passes between two processes, in this one. Now and then the other one is a new one."""

    questions = 0

    def play(self, kind: str, asked: Any, known: Any = None, **_: Any) -> dict[str, Any]:
        self.questions += 1
        if self.questions % 5 == 0:
            playing._benches.clear()
        return read_told(told_line(asked_line(kind, asked, known)))


class Page:
    """An exercise in a journal of its own, and everything that its page is ever told."""

    def __init__(
        self, exercise: TaskExercise, folder: str, name: str, apart: Apart | None = None
    ) -> None:
        self._exercise, self._journal = exercise, Journal(Path(folder) / name)
        self._record = ExerciseRecord()
        self._play: Play | None = None
        if apart:
            place = Path(folder)

            def write(name: str, data: bytes) -> None:
                (place / name).write_bytes(data)

            self._play = WorkbookPlays(apart, place, write, "w").of("an-exercise", "diagnosis")
        self.open()

    def open(self) -> None:
        """As after a restart."""
        self._answering = Answering(
            self._exercise,
            journal=self._journal,
            record=self._record,
            when_saved=self._keep,
            play=self._play,
        )

    def _keep(self, _: str, record: ExerciseRecord) -> None:
        self._record = record

    def hears(self, message: Any) -> str:
        """All that is told after a message, but for the time that it was saved."""
        reply = self._answering.hear(message)
        saved = {**self._answering.saved, "at": ""}
        return json.dumps([reply, saved, self._answering.shown])


@contextmanager
def pages(at: tuple[str, str, str]) -> Iterator[tuple[Page, ...]]:
    """The page of a task file's exercise, that of a host's, and that of one who plays apart."""
    with TemporaryDirectory() as folder:
        in_file, at_host = sides(*at)
        yield (
            Page(in_file, folder, "file.jsonl"),
            Page(at_host, folder, "host.jsonl"),
            Page(at_host, folder, "apart.jsonl", Apart()),
        )


@contextmanager
def in_practice(at: tuple[str, str, str]) -> Iterator[tuple[Page, ...]]:
    """The page of a practice exercise, and that of one who plays apart."""
    with TemporaryDirectory() as folder:
        exercise = practised(*at)
        yield (
            Page(exercise, folder, "here.jsonl"),
            Page(exercise, folder, "apart.jsonl", Apart()),
        )


@lru_cache
def practised(name: str, seed: str, exercise: str) -> TaskExercise:
    """An exercise of a practice task."""
    drawn = scenario(name, seed)
    [number] = [n for n, each in enumerate(drawn.lab.exercises) if each.id == exercise]
    key = drawn.prepare(drawn.lab.exercises[number]).key
    practice: Any = {"key": key, "working": "", "hints": [], "example": None}
    return {**exercise_data(drawn, drawn.lab.exercises[number], 1), "practice": practice}


def steps(setup: Setup) -> st.SearchStrategy[dict[str, Any]]:
    """Steps that the bench knows, allowed and not, at places that are there and that are not."""
    layout = setup.layout
    connectors = [*layout.connectors, "tap 99, left"]
    pools: dict[str, list[Any]] = {
        "connector": connectors,
        "place": [*layout.devices, *connectors, "left end", "nowhere"],
        "supply": [*layout.supplies, "supply 99"],
        "piece": [*layout.pieces, "no piece"],
        "seconds": [6.0, 20.0, 7.0],
        "position": [1.0, 2.5],
        "wire": ["drain", "CAN_H", "purple"],
    }
    for device in ("device", "talker", "listener", "scanner"):
        pools[device] = [*layout.devices, "nobody"]
    ends = [f"{c}/{n}{half}" for c in connectors for n in (1, 2, 4, 5) for half in ("", "s")]
    pools["a"] = pools["b"] = [*ends, "earth"]
    catalogue = setup.catalogue

    def filled(kind: type[Any]) -> st.SearchStrategy[dict[str, Any]]:
        usual = {n.name: st.sampled_from(pools.get(n.name, ["?"])) for n in fields(kind)}
        return st.fixed_dictionaries({"kind": st.just(kind.kind), **usual})

    every = [
        filled(kind) for kind in (*catalogue.measurements.values(), *catalogue.actions.values())
    ]
    often = ["ohms", "volts", "look", "power on", "power off", "unplug", "plug"]
    usual = [filled({**catalogue.measurements, **catalogue.actions}[name]) for name in often]
    strange: st.SearchStrategy[Any] = st.sampled_from(
        [None, 7, {}, {"kind": "dance"}, {"kind": "look back"}, [[]]]
    )
    return st.one_of(*usual, *usual, *every, strange)


@pytest.mark.parametrize("at", BENCHES, ids="/".join)
def test_the_bench_at_a_host_offers_and_shows_exactly_what_is_recorded(
    at: tuple[str, str, str],
) -> None:
    setup = setup_of(sides(*at)[0]["ask"]["setup"])

    @given(st.lists(steps(setup), min_size=4, max_size=14), st.integers(0, 13))
    @settings(max_examples=25)
    def side_by_side(taken: list[dict[str, Any]], restarted: int) -> None:
        tokens = (f"t{number}" for number in count())
        with pages(at) as side:
            for number, step in enumerate(taken):
                message = {"do": "step", "token": next(tokens), "step": step}
                all_hear_the_same(side, message)
                all_hear_the_same(side, message)
                if number == restarted:
                    for page in side:
                        page.open()
            answer = {"steps": taken, "verdict": {"fault": "broken", "place": "tap 1, left"}}
            all_hear_the_same(side, {"do": "answer", "token": next(tokens), "answer": answer})

    side_by_side()


def all_hear_the_same(side: tuple[Page, ...], message: Any) -> None:
    heard = [page.hears(message) for page in side]
    assert heard == [heard[0]] * len(side), message


@pytest.mark.parametrize("at", BENCHES, ids="/".join)
def test_at_a_host_the_meters_read_what_they_read_on_the_bench_itself(
    at: tuple[str, str, str], tmp_path: Path
) -> None:
    # Task file and host share how readings are kept, so they would go wrong together.
    _, at_host = sides(*at)
    setup = setup_of(at_host["ask"]["setup"])
    faults = frozenset(
        map(setup.catalogue.fault_from_json, practised(*at)["practice"]["key"]["faults"])
    )
    page, tokens = Page(at_host, str(tmp_path), "host.jsonl"), count()

    def shown(step: dict[str, Any]) -> str:
        message = {"do": "step", "token": f"t{next(tokens)}", "step": step}
        return str(json.loads(page.hears(message))[0]["reply"]["entry"]["text"])

    pulled = [*setup.layout.device_connectors.values()][1].id
    for out in (None, pulled):
        shown({"kind": "power off"})
        if out:
            shown({"kind": "unplug", "connector": out})
        for kind, power in ((Ohms, False), (Volts, True)):
            if power:
                shown({"kind": "power on"})
            situation = Situation(power=power, unplugged=frozenset({out} if out else ()))
            bench = Bench(setup, faults, situation)
            for a, b in pairs_of(setup):
                told = shown({"kind": kind.kind, "a": a.text, "b": b.text})
                assert told == kind(a, b).take(bench).text, (a, b, situation)


def pairs_of(setup: Setup) -> Iterator[tuple[Terminal, Terminal]]:
    """Within every device's connector, and each conductor to the next device's."""
    places = [connector.id for connector in setup.layout.device_connectors.values()]
    numbers = setup.layout.conductors.in_order
    for here, there in pairwise(places):
        yield from ((Terminal(here, n), Terminal(there, n)) for n in numbers)
    for here in places:
        yield from ((Terminal(here, a), Terminal(here, b)) for a, b in pairwise(numbers))


def test_a_practice_bench_played_apart_shows_exactly_what_it_shows_here() -> None:
    # A loose contact, so that what is read hangs on the clock too.
    at = BENCHES[0]
    setup = setup_of(practised(*at)["ask"]["setup"])

    @given(st.lists(steps(setup), min_size=3, max_size=8), st.integers(0, 7))
    @settings(max_examples=10)
    def side_by_side(taken: list[dict[str, Any]], restarted: int) -> None:
        tokens = (f"t{number}" for number in count())
        with in_practice(at) as side:
            for number, step in enumerate(taken):
                message = {"do": "step", "token": next(tokens), "step": step}
                all_hear_the_same(side, message)
                all_hear_the_same(side, message)
                if number == restarted:
                    for page in side:
                        page.open()

    side_by_side()


def test_these_are_all_the_kinds_that_have_recordings() -> None:
    for file in sorted(LABS.glob("*/lab.md")):
        drawn = scenario(file.parent.name, "p16")
        for exercise in drawn.lab.exercises:
            recorded = drawn.prepare(exercise).assessed is not None
            assert recorded == (exercise.kind in RECORDED_KINDS), exercise.id


def test_nothing_is_measured_for_a_host_before_somebody_measures(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    taken: list[str] = []
    for name in ("_live", "_dead", "_kept"):
        real = getattr(recording, name)

        def counted(*args: Any, name: str = name, real: Any = real) -> Any:
            taken.append(name)
            return real(*args)

        monkeypatch.setattr(recording, name, counted)
    task = hosted(draw(lab("acceptance"), "of its own"))
    [at_host, _] = [each for each in task["exercises"] if each["kind"] == "diagnosis"]
    page = Page(at_host, str(tmp_path), "host.jsonl")
    assert taken == []
    first = next(iter(setup_of(at_host["ask"]["setup"]).layout.connectors))
    probe = {"kind": "ohms", "a": f"{first}/4", "b": f"{first}/2"}
    for number, step in enumerate(({"kind": "power off"}, probe, probe)):
        assert "failed" not in page.hears({"do": "step", "token": str(number), "step": step})
    assert taken == ["_dead"]
    # A task file has all of it.
    task_data(
        scenario("bring-up", "b"),
        workbook="w",
        class_id="c",
        class_title="C",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=False,
        deadline=None,
        signing_key="0" * 64,
    )
    assert len(taken) > 60


def test_what_a_host_holds_is_not_for_a_file() -> None:
    drawn = scenario("bring-up", "b")
    with pytest.raises(TypeError, match="not JSON serializable"):
        WorkbookFiles.of(drawn, hosted(drawn))
