"""An assessed workbook in the browser: recorded only, and no key near the page."""

from __future__ import annotations

import re

import pytest
from dealt import DealtClass, Desk
from driving import Server, Station

pytestmark = pytest.mark.browser


def test_an_assessed_workbook_records_and_tells_nothing(
    station: Station, server: Server, assessed: DealtClass
) -> None:
    desk = assessed.desk("t01")
    solutions = desk.solutions()
    station.open(desk.notebook)
    page = station.page
    assert page.get_by_role("button", name="Show a hint").count() == 0
    assert page.get_by_role("button", name="Check my answer").count() == 0
    assert page.get_by_role("button", name="Save my answer").count() == len(solutions)

    # Leaving a field saves it; nobody has to press anything.
    wrong, right = solutions["longest-distance"], solutions["section-loss"]
    slip = next(iter(wrong.slips.values()))
    for solution, answer in ((wrong, slip), (right, right.right)):
        station.fill(solution, answer)
        page.keyboard.press("Tab")
        station.wait_state(solution.name, "saved")
        assert desk.on_disk(solution.name) == [answer]
    station.fill(solutions["rate-verdict"], solutions["rate-verdict"].right)
    station.wait_state("rate-verdict", "saved")
    # An unreadable answer is kept, and only its form is spoken of.
    station.fill(solutions["all-drops"], "12")
    page.keyboard.press("Tab")
    station.wait_verdict("all-drops", "unreadable")
    station.answer(solutions["addresses"], solutions["addresses"].right)
    station.answer(solutions["supply"], "0 m")
    for name in ("longest-distance", "section-loss", "rate-verdict", "addresses", "supply"):
        assert station.exercise(name).get_attribute("data-verdict") is None
        assert station.exercise(name).locator(".lk-feedback").text_content() == ""
    station.shot("assessed")
    told = page.locator(".lk-handin").text_content()
    assert re.search(r"no answer yet\. This lab opens .*2026.*\. Hand in by .*2099.*\.", told), told

    _autosave_waits_for_a_slow_engine(station, server, desk)
    _nothing_of_the_key_was_sent(station, desk)


def _autosave_waits_for_a_slow_engine(station: Station, server: Server, desk: Desk) -> None:
    """What is changed while an earlier answer still waits is saved too, without a press."""
    solutions = desk.solutions()
    first, *_ = devices = list(solutions["addresses"].right)
    process = server.kernel_process(server.kernel_of(desk.notebook))
    frame = station.exercise("addresses")
    process.suspend()
    try:
        for address, device in enumerate(devices[:3], 40):
            frame.get_by_label(f"Node address of {device}", exact=True).fill(str(address))
            station.page.keyboard.press("Tab")
    finally:
        process.resume()
    station.wait_state("addresses", "saved")
    last = desk.on_disk("addresses")[-1]
    assert [last[device] for device in devices[:3]] == ["40", "41", "42"]
    assert last[first] != solutions["addresses"].right[first]


def _nothing_of_the_key_was_sent(station: Station, desk: Desk) -> None:
    sent = "\n".join([*station.received, station.page.content()])
    scenario = desk.scenario
    for exercise in scenario.lab.exercises:
        # That the ear is open: every question did come.
        assert _heard(exercise.question.render(scenario.names), sent), exercise.id
        prepared = scenario.prepare(exercise)
        secrets = [exercise.working.render(scenario.names)]
        secrets += [hint.text.render(scenario.names) for hint in exercise.hints]
        if exercise.kind == "quantity":
            secrets += [slip["tell"] for slip in prepared.key["slips"]]
        elif exercise.kind == "choice":
            secrets += list(prepared.key["tell"].values())
        for secret in filter(None, secrets):
            assert not _heard(secret, sent), (exercise.id, secret)
    for word in ('"practice": {', '"key"', '"tolerance"', '"slips"', '"working": "'):
        assert word not in sent.replace('\\"', '"'), word


def _heard(text: str, sent: str) -> bool:
    """Whether every long run of plain words in `text` is in `sent`; sums have no such run."""
    runs = [run.strip() for run in re.findall(r"[A-Za-z][A-Za-z ,]{14,}", text.replace("\n", " "))]
    return bool(runs) and all(run in sent for run in runs)
