"""The test after: a lab that everybody is dealt twice, with parallel draws (`before_and_after`).

The test before is everybody's first workbook of the lab, the test after the second: as hard, with
other numbers, as every retake is. Both are kept. Which of them counts as the mark in that lab says
`attempts_count`, as for every retake.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import DealResult
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.retaking import attempts_of, retake
from labkit.classroom.progress import Progress


@dataclass(frozen=True, slots=True)
class Twice:
    """How far a class is with one such lab, in people.

    Of those in the roster `dealt` have the test before; `left` (ids) have no test after yet, and
    of these `without` have handed in nothing that was received: they would have no before.
    """

    lab: str
    dealt: int
    left: tuple[str, ...]
    without: int


def twice_dealt(folder: ClassFolder, lab: str) -> Twice:
    """How far a class is with a lab that it deals twice."""
    here = {trainee.id for trainee in folder.trainees}
    attempts = [one for one in attempts_of(folder, lab=lab) if one.last.trainee in here]
    once = [one for one in attempts if one.last.attempt == 1]
    without = sum(not one.made for one in once)
    return Twice(lab, len(attempts), tuple(one.last.trainee for one in once), without)


def deal_after(
    folder: ClassFolder,
    library: Path,
    lab: str = "",
    progress: Progress | None = None,
    *,
    jobs: int = 1,
) -> DealResult:
    """Deal the test after to everybody who has the test before and not the one after.

    `lab` may be left out where the class has one such lab. Run again, it deals to the late alone.
    Raises `ClassError`, also where somebody's attempts are used up: nobody is dealt anything then.
    """
    chosen = the_test(folder, lab)
    if not any(item.lab == chosen for item in read_deal(folder).dealt):
        raise ClassError(f"'{chosen}' was not dealt yet: the test before comes first.")
    left = twice_dealt(folder, chosen).left
    return retake(folder, library, left, chosen, progress, jobs=jobs)


def the_test(folder: ClassFolder, lab: str = "") -> str:
    """The lab that is dealt twice. Raises `ClassError` where it is none, or one of several."""
    tests = folder.fields.tests
    if lab in tests:
        return lab
    if lab:
        raise ClassError(
            f"'{lab}' is no test before and after. Write 'before_and_after: yes' to it under "
            "'labs' in class.yaml if it is to be one."
        )
    if not tests:
        raise ClassError(
            "This class has no test before and after: in class.yaml write 'before_and_after: yes' "
            "to a lab under 'labs'."
        )
    if len(tests) > 1:
        raise ClassError(f"Say which test: {', '.join(tests)}.")
    return tests[0]
