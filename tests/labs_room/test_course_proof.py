"""Every lab that we ship is proof-read: nothing is found but what the lab itself accepts.

Every lab is drawn a thousand times: each exercise has a solution in each draw, and the difficulty
lies in the band that the lab states. The whole of proof-reading (slips, guesses, texts) takes some
hundred draws here, as its cost allows; over a thousand it is run with `labkit proof` before a lab's
version goes up.
"""

from pathlib import Path

import pytest

from labkit.lab.draw import draw
from labkit.lab.kinds import check_for
from labkit.lab.proofing import PROOF_SEED, Severity, proof
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
NAMES = sorted(file.parent.name for file in LABS.glob("*/lab.md"))
DRAWS = 1_000
PROOFS = 200
# Labs whose checks work out circuits and the traffic on a bus.
FEWER_PROOFS = {"troubleshooting": 150, "wiring-and-terminators": 60}
FEWER_DRAWS = {"wiring-and-terminators": 200}


@pytest.mark.parametrize("name", NAMES)
def test_a_shipped_lab_has_no_finding_that_it_does_not_accept(name: str) -> None:
    draws = FEWER_PROOFS.get(name, PROOFS)
    report = proof(read_lab(LABS / name / "lab.md"), draws)
    assert [
        f"{item.place}: {item.sentence} [{item.id}]"
        for item in report.findings
        if item.severity is not Severity.NOTE
    ] == []
    assert (report.drawn, report.different) == (draws, draws)
    assert report.difficulty is not None


@pytest.mark.parametrize("name", NAMES)
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
