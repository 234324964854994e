"""Readings of 40 dealt fault cards against ngspice (Debian's package), with the parts as planned
and with parts by chance within their tolerances.

`thousand_fault_cards.py` does the same with 1,000.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from card_circuits import (
    Drawn,
    Taken,
    dealt_readings,
    parts_of,
    require_open_where_nothing_joins,
    require_our_own,
    require_their_own_card,
)
from ngspice_batch import MISSING

pytestmark = [pytest.mark.spice, pytest.mark.skipif(MISSING, reason="ngspice is not installed")]

CARDS = 40


@pytest.fixture(scope="module")
def readings() -> list[Taken]:
    """Those of every card."""
    found = list(dealt_readings(CARDS))
    assert len(found) == CARDS
    return [taken for card in found for taken in card]


def test_calculated_readings_are_those_of_ngspice(readings: list[Taken], tmp_path: Path) -> None:
    assert len(readings) > 4 * CARDS
    require_our_own(readings, tmp_path)


def test_there_is_a_figure_where_something_joins_and_there_alone(readings: list[Taken]) -> None:
    assert require_open_where_nothing_joins(readings) > 0


def test_real_parts_agree_with_their_own_card_and_tell_others(
    readings: list[Taken], tmp_path: Path
) -> None:
    told, others = require_their_own_card(readings, tmp_path)
    assert told > 0.8 * others > CARDS


def test_each_part_of_a_circuit_has_one_ground() -> None:
    drawn = Drawn(("R1 a b 1", "V1 b c 0", "R2 d e 5", "I1 e a 1"), "a", "d")
    assert not drawn.joined()
    assert len({*parts_of(drawn.cards).values()}) == 2
    grounds = [line for line in drawn.netlist(lambda _, value: value) if " 0 0" in line]
    assert len(grounds) == 2
    assert Drawn(drawn.cards, "a", "c").joined()
