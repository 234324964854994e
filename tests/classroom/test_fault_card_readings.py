"""Readings of fault cards line by line: how they are written, read and told, at every edge."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

import pytest
from rigs_by_chance import devicenet_rig

from labkit.bench.rig.judging import Heard, Measured
from labkit.bench.rig.probes import OHMS, VOLTS, Probe
from labkit.bench.rig.spans import Span
from labkit.bench.situation import Terminal
from labkit.classroom.cards.checking import MOST_TOLD, held_against
from labkit.classroom.cards.dealing import CardDeal, deal_again_or_anew, deal_cards, pairs_of
from labkit.classroom.cards.figures import between, shown
from labkit.classroom.cards.measured import MOST_BYTES, Line, read_measured, to_fill_in
from labkit.classroom.errors import ClassError
from labkit.lab.rig import Rig


@pytest.fixture(scope="module")
def rig() -> Rig:
    return devicenet_rig(4)


@pytest.fixture(scope="module")
def deal(rig: Rig) -> CardDeal:
    return deal_cards(rig, pairs_of(6), "cards")


def probe(instrument: str) -> Probe:
    at = Terminal("somewhere", 1)
    return Probe(instrument, "somewhere", at, at)


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (0, 9.994, "0.00 to 9.99 Ω"),
        (10, 999.9, "10.0 to 999.9 Ω"),
        (1000, 2000, "1000 to 2000 Ω"),
        (57.66, math.inf, "57.7 Ω or more, open"),
    ],
)
def test_between_which_figures_has_as_many_digits_as_a_meter(
    low: float, high: float, text: str
) -> None:
    assert between(probe(OHMS), Span(low, low, high)) == text


def test_less_than_nothing_is_written_with_a_minus() -> None:
    assert between(probe(VOLTS), Span(-12.5, 0, -0.5)) == "−12.5 to −0.50 V"
    assert shown(probe(VOLTS), -0.5) == "−500.0 mV"
    assert shown(probe(OHMS), math.inf) == "open"


def read(text: str, rig: Rig) -> list[Line]:
    return read_measured(text, "m.csv", rig)


def value_of(text: str, rig: Rig) -> float:
    [line] = read(text, rig)
    assert isinstance(line.reading, Measured)
    return line.reading.value


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("ohms,1,60", 60),
        ("OHMS,1,60 Ω", 60),
        ("ohms;1;60,5", 60.5),
        ("ohms\t1\t60,5", 60.5),
        ('ohms,1,"60,5"', 60.5),
        ("  ohms ,  1 , 60  ", 60),
        # A spreadsheet's empty columns behind.
        ("ohms,1,60,,", 60),
        ("\ufeffohms,1,60", 60),
        ("ohms,1,1.2 kΩ", 1200),
        *((f"ohms,1,{word}", math.inf) for word in ("OL", "o.l.", "0L", "O L", "open", "∞", "inf")),
    ],
)
def test_a_figure_is_read_as_people_write_it(line: str, value: float, rig: Rig) -> None:
    assert value_of(line, rig) == value


def test_open_is_no_voltage(rig: Rig) -> None:
    number = next(n for n, each in enumerate(rig.probes, start=1) if each.instrument == VOLTS)
    assert value_of(f"volts,{number},24", rig) == 24
    with pytest.raises(ClassError, match="no reading in V"):
        read(f"volts,{number},OL", rig)


def test_places_are_counted_from_1_to_the_last(rig: Rig) -> None:
    last = len(rig.probes)
    for number in (1, last):
        [line] = read(f"{rig.probes[number - 1].instrument},{number},1", rig)
        assert isinstance(line.reading, Measured)
        assert line.reading.probe == rig.probes[number - 1]
    for number in (0, last + 1):
        with pytest.raises(ClassError, match=f"has places 1 to {last}, not {number}"):
            read(f"ohms,{number},1", rig)


def test_lines_keep_their_numbers_and_empty_ones_are_left_out(rig: Rig) -> None:
    lines = read("instrument,place,value\n\n# ours\nohms,1,\nohms,2,60\n  # mine\nohms,1,3\n", rig)
    assert [line.number for line in lines] == [5, 7]


def test_every_line_that_cannot_be_read_is_told_at_once(rig: Rig) -> None:
    with pytest.raises(ClassError) as caught:
        read("ohms,1,x\nohms,1,60\nohms,99,1\n", rig)
    assert [line.split(":")[0] for line in str(caught.value).splitlines()] == [
        "m.csv, line 1",
        "m.csv, line 3",
    ]


def test_as_long_as_this_and_no_longer(rig: Rig) -> None:
    line = "ohms,1,60\n"
    assert len(read(line + "#" * (MOST_BYTES - len(line)), rig)) == 1
    with pytest.raises(ClassError, match="longer than 200000 characters"):
        read(line + "#" * (MOST_BYTES - len(line) + 1), rig)


def test_what_is_heard_is_read_without_regard_to_capitals(rig: Rig) -> None:
    device, *_ = rig.setup.layout.devices
    [line] = read(f"Lamps,{device.upper()},DARK", rig)
    assert line.reading == Heard("lamps", device, "dark")


def test_the_table_to_fill_in_has_every_place_and_who_answers(rig: Rig) -> None:
    rows = list(csv.reader(io.StringIO(to_fill_in(rig))))
    assert rows[0] == ["instrument", "place", "value"]
    assert all(row[2] == "" for row in rows[1:])
    places = [(row[0], row[1]) for row in rows[1:]]
    measured = [(each.instrument, each.where) for each in rig.probes]
    assert places[: len(measured)] == measured
    devices = [*rig.setup.layout.devices]
    scanner = [at for by, at in places if by == "scanner"]
    # The scanner says nothing of itself; its lamps are looked at.
    assert scanner == [at for by, at in rig.deck.said(None) if by == "scanner"]
    assert {*scanner} == {*devices} - {rig.setup.scanner}
    assert {at for by, at in places if by == "lamps"} == {*devices}


def test_without_a_word_six_pairs_get_the_usual_cards(
    rig: Rig, deal: CardDeal, tmp_path: Path
) -> None:
    new = deal_again_or_anew(rig, tmp_path, None, None)
    assert [card.card for card in new.cards] == [card.card for card in deal.cards]
    assert new.seed == "cards"
    assert [card.by for card in deal_again_or_anew(rig, tmp_path, ["A", "B"], "x").cards] == [
        "A",
        "B",
    ]


def test_so_many_faults_that_still_fit_are_named_and_the_rest_counted(
    rig: Rig, deal: CardDeal
) -> None:
    """One reading that nothing but a few faults would change leaves nearly all of them."""
    for number, each in enumerate(rig.probes, start=1):
        value = rig.deck.spans(None)[each].middle
        told = held_against(deal, 1, f"{each.instrument};{number};{value:.3f}\n", "m.csv")
        fits = next(line for line in told if line.startswith("What still fits"))
        left = sum(
            rig.deck.spans(fault)[each].holds(float(f"{value:.3f}")) for fault in rig.deck.works
        )
        assert f"{left} of {len(rig.deck.works)} faults and the sound rig: the sound rig;" in fits
        more = left + 1 - MOST_TOLD
        assert (f"; and {more} more." in fits) is (more > 0)
        assert fits.count(";") == min(left, MOST_TOLD - 1) + (more > 0)
        nothing = "None of these readings tells the fault from the sound rig: measure elsewhere."
        both = "agrees with both" in told[1]
        assert (told[-1] == nothing) is both
