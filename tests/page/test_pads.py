"""What a page hears of its scratch pad, and how much of the machine a pad may take."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desks import desk_of, scenario
from starlette.applications import Starlette
from starlette.requests import HTTPConnection
from starlette.testclient import TestClient

from labkit.language.pad_lines import MAX_LINES, Beside
from labkit.page import pads
from labkit.page.app import Hand, PageHost
from labkit.page.desk import Desk

HERE = "http://192.0.2.1:8642"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_of(scenario("bring-up"), tmp_path, practice=False)


@pytest.fixture
def page(desk: Desk) -> Iterator[TestClient]:
    """A page at that desk. Who it is says a header."""

    async def its_desk(_: HTTPConnection) -> Desk:
        return desk

    def hand(asked: HTTPConnection, _: Desk) -> Hand | None:
        person = asked.headers.get("person", "t01")
        return Hand(person) if person else None

    with TestClient(Starlette(routes=PageHost(its_desk, hand_of=hand).routes), HERE) as client:
        yield client


def told(page: TestClient, said: object, person: str = "t01", origin: str = HERE) -> Any:
    return page.post("/pad", content=json.dumps(said), headers={"origin": origin, "person": person})


def test_each_line_is_told_what_stands_beside_it(page: TestClient) -> None:
    lines = ["loop = 120 ohm / 2", "measured at tap 3", "24 V - loop", "24 V / loop"]
    wrong = "60 Ω cannot be taken from 24 V: 24 V is a voltage, 60 Ω is a resistance."
    assert told(page, {"lines": lines}).json() == [
        {"result": "= 60 Ω", "wrong": ""},
        {"result": "", "wrong": ""},
        {"result": "", "wrong": wrong},
        {"result": "= 0.4 A", "wrong": ""},
    ]


@pytest.mark.parametrize(
    "said",
    [
        *(None, [], "1 + 1", {}, {"lines": "1 + 1"}, {"lines": [1]}, {"lines": [["1 + 1"]]}),
        {"lines": ["1"] * (MAX_LINES + 1)},
        {"lines": ["x" * 300_000]},
    ],
)
def test_what_is_no_pad_is_refused(page: TestClient, said: object) -> None:
    assert told(page, said).status_code == 400


def test_only_who_works_here_on_a_page_of_this_host_is_answered(page: TestClient) -> None:
    assert told(page, {"lines": ["1 + 1"]}, person="").status_code == 403
    assert told(page, {"lines": ["1 + 1"]}, origin="http://evil.example").status_code == 403


def test_nothing_of_a_pad_is_kept_nor_told_to_others(
    page: TestClient, desk: Desk, tmp_path: Path
) -> None:
    before = {file: file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()}
    opened = desk.opened()
    assert told(page, {"lines": ["secret = 12 V"]}).status_code == 200
    assert {file: file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()} == before
    assert desk.opened() == opened
    # Nor does a name of one pad stand in another one.
    assert told(page, {"lines": ["secret * 2"]}, person="t02").json()[0]["result"] == ""


class Slow:
    """Calculating that takes until it is let go on."""

    def __init__(self) -> None:
        self.begun, self.may_end = threading.Event(), threading.Event()
        self.threads: set[int] = set()

    def __call__(self, lines: list[str]) -> list[Beside]:
        self.threads.add(threading.get_ident())
        self.begun.set()
        assert self.may_end.wait(120)
        return [Beside() for _ in lines]


def test_a_person_has_one_pad_calculated_at_a_time_and_the_host_answers_meanwhile(
    page: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    slow = Slow()
    monkeypatch.setattr(pads, "beside_lines", slow)
    found: list[int] = []
    first = threading.Thread(target=lambda: found.append(told(page, {"lines": ["1"]}).status_code))
    first.start()
    assert slow.begun.wait(120)
    assert told(page, {"lines": ["1"]}).status_code == 429
    assert page.get("/desk").status_code == 200  # the event loop is free
    slow.may_end.set()
    first.join(10)
    assert found == [200]


def test_who_took_long_waits_as_long(page: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    made = pads.Pads(lambda: clock[0])

    def takes_three_seconds(lines: list[str]) -> list[Beside]:
        clock[0] += 3
        return [Beside() for _ in lines]

    monkeypatch.setattr(pads, "beside_lines", takes_three_seconds)

    def status(person: str) -> int:
        assert page.portal
        return page.portal.call(made.beside, person, {"lines": ["1"]}).status_code

    assert status("t01") == 200
    clock[0] += 2.5
    assert status("t01") == 429
    clock[0] += 0.5
    assert status("t01") == 200
    assert status("t02") == 200
