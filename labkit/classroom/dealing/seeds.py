"""What follows from the class's secret: a workbook's number, its seed, the key that signs it."""

from __future__ import annotations

from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.exchange.signing import sign
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw_again


def workbook_id(secret: str, class_id: str, lab: str, trainee: str, attempt: int = 1) -> str:
    """The number of a workbook, which nobody without the secret can tell beforehand."""
    again = f" {attempt}" if attempt > 1 else ""
    return sign(secret, f"workbook {class_id} {lab} {trainee}{again}".encode())[:16]


def seed_of(
    secret: str, class_id: str, lab: str, trainee: str, variant: int, attempt: int = 1
) -> str:
    """The seed of one candidate draw: of the class, the lab, the trainee and the attempt alone."""
    words = ["scenario", class_id, lab, trainee, str(variant)]
    # The first attempt's words are those of classes that were dealt before there were retakes.
    words += [f"attempt {attempt}"] if attempt > 1 else []
    return sign(secret, "\x1f".join(words).encode())


def signing_key(secret: str, workbook: str) -> str:
    """The key that signs the hand-in of one workbook."""
    return sign(secret, f"hand-in of {workbook}".encode())


def scenario_of(secret: str, class_id: str, lab: Lab, item: Dealt) -> Scenario:
    """The scenario that `item` was dealt, drawn again. Raises `ClassError` if it came out another.

    Marking somebody by numbers that they never had would be worse than not marking.
    """
    trainee, attempt = item.origin
    seed = seed_of(secret, class_id, lab.id, trainee, item.variant, attempt)
    scenario = draw_again(lab, seed, item.tries)
    if scenario.fingerprint != item.fingerprint:
        raise ClassError(
            f"The numbers of '{lab.id}' for {item.name} ({item.trainee}) do not come out as they "
            "were dealt: this is another labkit than the one that dealt. Use that version."
        )
    return scenario
