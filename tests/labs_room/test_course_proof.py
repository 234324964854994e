"""Every lab that we ship is proof-read: nothing is found but what the lab itself accepts.

A thousand draws of a lab are proof-read. Of labs whose checks are slow it is some hundred, as the
time allows, and of a thousand it is only seen that every exercise has a solution and that the
difficulty lies in the band that the lab states; the rest is for `labkit proof`, before a lab's
version goes up.
"""

from pathlib import Path

import pytest

from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.proofing import PROOF_SEED, Severity, proof

LABS = Path(__file__).parents[2] / "labs"
NAMES = sorted(file.parent.name for file in LABS.glob("*/lab.md"))
DRAWS = 1_000
# Whole proof-readings of fewer draws, for labs whose checks work out programs, circuits or traffic.
FEWER_PROOFS = {
    "acceptance": 200,
    "branches-and-rates": 200,
    "bring-up": 200,
    "controller-and-chassis": 200,
    "network-power": 200,
    "scan-list-and-io-map": 200,
    "troubleshooting": 150,
    "wiring-and-terminators": 40,
}
FEWER_DRAWS = {"troubleshooting": 250, "wiring-and-terminators": 100}


@pytest.mark.parametrize("name", NAMES)
def test_a_shipped_lab_has_no_finding_that_it_does_not_accept(name: str) -> None:
    draws = FEWER_PROOFS.get(name, DRAWS)
    report = proof(read_lab(LABS / name / "lab.md"), draws)
    assert [
        f"{item.place}: {item.sentence} [{item.id}]"
        for item in report.findings
        if item.severity is not Severity.NOTE
    ] == []
    assert (report.drawn, report.different) == (draws, draws)
    assert report.difficulty is not None


@pytest.mark.parametrize("name", FEWER_PROOFS)
def test_every_draw_can_be_solved_and_is_as_hard_as_the_lab_states(name: str) -> None:
    lab = read_lab(LABS / name / "lab.md")
    assert lab.difficulty is not None
    assert lab.difficulty.band is not None
    low, high = lab.difficulty.band
    for number in range(1, FEWER_DRAWS.get(name, DRAWS) + 1):
        scenario = draw(lab, PROOF_SEED.format(number))
        assert scenario.difficulty is not None
        assert low <= scenario.difficulty <= high, scenario.seed
        for exercise in lab.exercises:
            prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
            right = check.right_answer(prepared.ask, prepared.key)
            verdict = check.check(prepared.ask, prepared.key_as_needed, right)
            assert verdict.right or verdict.awaits, (scenario.seed, exercise.id, verdict.message)
