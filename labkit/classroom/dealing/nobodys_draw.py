"""Draws of a lab that nobody was dealt, to be shown to a whole class."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final

from labkit.exchange.signing import sign
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw
from labkit.language.problems import DefinitionError

MOST_DRAWS: Final = 20
"""So many draws are looked at."""


def seed_of_nobodys(secret: str, class_id: str, lab: str, number: int) -> str:
    """The seed of one such draw. Its words begin otherwise than those of any trainee's seed."""
    return sign(secret, "\x1f".join(["for everybody", class_id, lab, str(number)]).encode())


def nobodys_draws(
    secret: str, class_id: str, lab: Lab, dealt: Collection[str]
) -> Iterator[Scenario]:
    """Draws of a lab whose numbers are none of those that were `dealt` (fingerprints).

    The same ones in the same order each time, as long as no other numbers are dealt.
    """
    for number in range(1, MOST_DRAWS + 1):
        try:
            scenario = draw(lab, seed_of_nobodys(secret, class_id, lab.id, number))
        except DefinitionError:
            continue  # a formula without a value in this draw: another one will do
        if scenario.fingerprint not in dealt:
            yield scenario
