"""Fault cards: who has which, the same again, what stands where, and what readings say."""

from __future__ import annotations

import csv
import html
import json
import re
from pathlib import Path

import pytest
from rigs_by_chance import devicenet_rig, modbus_rig
from tiny_class import MakeRoom

from labkit.classroom.cards.checking import held_against
from labkit.classroom.cards.dealing import (
    RECORD,
    CardDeal,
    deal_again_or_anew,
    deal_cards,
    deal_in,
    pairs_among,
    pairs_of,
    remember_deal,
    require_deal_of,
)
from labkit.classroom.cards.figures import between
from labkit.classroom.cards.pages import PrintedCards, print_deal
from labkit.classroom.errors import ClassError
from labkit.classroom.people.erasing import erase
from labkit.classroom.private_place import Place
from labkit.classroom.roster import Trainee
from labkit.lab.rig import Rig
from labkit.workbook.handout import PageSize


@pytest.fixture(scope="module")
def rig() -> Rig:
    return devicenet_rig(4)


@pytest.fixture(scope="module")
def deal(rig: Rig) -> CardDeal:
    return deal_cards(rig, pairs_of(6), "cards")


def faults(deal: CardDeal) -> list[object]:
    return [card.card.work.fault for card in deal.cards]


def text_of(page: Path) -> str:
    return html.unescape(
        re.sub(r"<(style.*?</style|[^>]*)>", " ", page.read_text("utf-8"), flags=re.S)
    )


def test_every_pair_has_a_card_and_another_pair_looks_for_it(deal: CardDeal) -> None:
    assert [card.number for card in deal.cards] == [1, 2, 3, 4, 5, 6]
    assert [card.by for card in deal.cards] == pairs_of(6)
    assert {card.to for card in deal.cards} == {*pairs_of(6)}
    assert all(card.by != card.to for card in deal.cards)
    assert len({*faults(deal)}) == 6
    counts = [card.card.readings for card in deal.cards]
    assert max(counts) - min(counts) <= 1


def test_the_same_word_deals_the_same_cards(rig: Rig, deal: CardDeal) -> None:
    assert faults(deal_cards(rig, pairs_of(6), "cards")) == faults(deal)
    assert faults(deal_cards(rig, pairs_of(6), "other")) != faults(deal)


def test_a_pair_alone_is_looked_after_by_the_trainer(rig: Rig) -> None:
    (card,) = deal_cards(rig, pairs_of(1), "cards").cards
    assert card.to == ""


@pytest.mark.parametrize("count", [0, -1, 501])
def test_so_many_pairs_there_are_not(count: int) -> None:
    with pytest.raises(ClassError, match="1 to 500"):
        pairs_of(count)


def test_who_sits_together_is_a_pair() -> None:
    people = [Trainee(f"t{n}", f"P{n}", bench=bench) for n, bench in enumerate("aabbb")]
    assert sorted(pairs_among(people)) == ["P0 and P1", "P2 and P3", "P4"]
    assert pairs_among([Trainee("x", "X"), Trainee("y", "Y"), Trainee("z", "Z")]) == [
        "X and Y",
        "Z",
    ]
    with pytest.raises(ClassError, match="Nobody is in the roster"):
        pairs_among([])


def test_the_record_brings_the_same_cards_back(rig: Rig, deal: CardDeal, tmp_path: Path) -> None:
    assert deal_in(tmp_path) is None
    with pytest.raises(ClassError, match="No cards were dealt"):
        require_deal_of(rig, tmp_path)
    remember_deal(Place(tmp_path), deal)
    for again in (
        deal_in(tmp_path),
        require_deal_of(rig, tmp_path),
        deal_again_or_anew(rig, tmp_path, None, None),
        deal_again_or_anew(rig, tmp_path, pairs_of(6), "cards"),
    ):
        assert again is not None
        assert (faults(again), again.seed) == (faults(deal), "cards")
        assert [card.by for card in again.cards] == [card.by for card in deal.cards]


def test_other_cards_are_not_put_over_those_that_somebody_has(
    rig: Rig, deal: CardDeal, tmp_path: Path
) -> None:
    remember_deal(Place(tmp_path), deal)
    for pairs, seed in ((pairs_of(5), None), (None, "other")):
        with pytest.raises(ClassError, match="holds other cards"):
            deal_again_or_anew(rig, tmp_path, pairs, seed)
    with pytest.raises(ClassError, match="holds other cards"):
        deal_again_or_anew(devicenet_rig(5), tmp_path, None, None)
    with pytest.raises(ClassError, match="has changed since"):
        require_deal_of(devicenet_rig(5), tmp_path)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"format": "else"}, "no record of fault cards"),
        ({"version": 2}, "newer version"),
        ({"version": "1"}, "is damaged"),
        ({"cards": [{"number": 1}]}, "is damaged"),
        ({"cards": [{"number": 1, "by": "a", "to": "b", "fault": {"kind": "x"}}]}, "other rules"),
    ],
)
def test_a_record_that_cannot_be_read_is_told(
    deal: CardDeal, tmp_path: Path, change: dict[str, object], says: str
) -> None:
    file = remember_deal(Place(tmp_path), deal)
    data = json.loads(file.read_text("utf-8"))
    file.write_text(json.dumps({**data, **change}), "utf-8")
    with pytest.raises(ClassError, match=says):
        deal_in(tmp_path)
    file.write_text("{", "utf-8")
    with pytest.raises(ClassError, match="cannot be read"):
        deal_in(tmp_path)


@pytest.fixture(scope="module")
def printed(deal: CardDeal, tmp_path_factory: pytest.TempPathFactory) -> PrintedCards:
    return print_deal(deal, Place(tmp_path_factory.mktemp("cards")))


def test_the_fault_stands_inside_and_nothing_of_it_outside(
    deal: CardDeal, printed: PrintedCards
) -> None:
    page = printed.cards.read_text("utf-8")
    covers = re.findall(r'<section class="third cover">(.*?)</section>', page, re.S)
    insides = re.findall(r'<section class="third inside">(.*?)</section>', page, re.S)
    assert len(covers) == len(insides) == 6
    for card, cover, inside in zip(deal.cards, covers, insides, strict=True):
        assert card.by in cover
        assert f"<b>{card.number}</b>" in cover
        assert html.escape(card.card.work.put_in, quote=False) in html.unescape(inside)
        assert card.card.work.put_in not in html.unescape(cover)
        assert card.card.work.kind not in cover
        # The caution comes before the fault is told.
        assert inside.index("Caution") < inside.index("The fault")


def test_every_card_says_what_keeps_people_safe(printed: PrintedCards) -> None:
    page = text_of(printed.cards)
    for words in (
        "Switch off, lock, tag",
        "Verify the absence of voltage",
        "The mains side stays shut",
        "licensed electricians",
        "local code",
        "Not under power",
    ):
        assert page.count(words) == 6, words


def test_the_measuring_sheet_tells_nothing(deal: CardDeal, printed: PrintedCards) -> None:
    page = text_of(printed.measuring)
    for card in deal.cards:
        assert card.card.work.put_in not in page
    assert all(probe.where in page for probe in deal.rig.probes)
    assert not re.search(r"\d\.\d+ Ω", page)
    assert page.index("Caution") < page.index("Ohms: power off")


def test_the_trainers_sheet_has_sound_and_faulty_readings_and_who_says_so(
    deal: CardDeal, printed: PrintedCards
) -> None:
    page = text_of(printed.trainer)
    deck = deal.rig.deck
    for probe, span in deck.spans(None).items():
        assert between(probe, span) in page
    for card in deal.cards:
        assert card.card.work.put_in in page
        for probe in deck.telling(card.card.work.fault, None):
            assert between(probe, deck.spans(card.card.work.fault)[probe]) in page
    assert "common practice, no source" in page
    for edges in ("± 1 %", "20 % to 1000 % of the planned value", "33.3 % to 333.3 % of"):
        assert edges in page
    assert "± (1 % + 0.5 Ω with its leads)" in page
    assert "± (1 % + 0.02 V)" in page
    assert "121 Ω, 1 %" in page


def test_paper_is_as_asked_for(deal: CardDeal, tmp_path: Path) -> None:
    for page in print_deal(deal, Place(tmp_path), PageSize.letter).pages:
        assert "@page { size: Letter" in page.read_text("utf-8")
        assert "<script" not in page.read_text("utf-8")


def filled_in(deal: CardDeal, number: int, printed: PrintedCards) -> str:
    """The table as a pair would fill it in with the fault of a card in the rig."""
    fault = deal.numbered(number).card.work.fault
    deck = deal.rig.deck
    shown = {(p.instrument, p.where): span.middle for p, span in deck.spans(fault).items()}
    said = deck.said(fault) if not fault.wired else {}
    rows = list(csv.reader(printed.readings.open(encoding="utf-8")))
    for row in rows[1:]:
        value = shown.get((row[0], row[1]))
        row[2] = said.get((row[0], row[1]), "") if value is None else f"{value:.3f}"
        row[2] = "OL" if row[2] == "inf" else row[2]
    return "\n".join(";".join(row) for row in rows)


def test_a_pairs_readings_find_their_own_card(deal: CardDeal, printed: PrintedCards) -> None:
    for number in range(1, 7):
        text = filled_in(deal, number, printed)
        told = held_against(deal, number, text, "m.csv")
        assert told[-1] == "Only the fault of this card fits all of these readings."
        assert any("agrees with the fault, not with the sound rig" in line for line in told)
        other = held_against(deal, number % 6 + 1, text, "m.csv")
        assert "The fault of this card does not fit all of these readings." in other


def test_readings_that_tell_nothing_and_that_fit_nothing_are_told(deal: CardDeal) -> None:
    told = held_against(deal, 1, "ohms;6;0.5\n", "m.csv")
    assert "What still fits" in " ".join(told)
    assert "and the sound rig" in " ".join(told)
    told = held_against(deal, 1, "ohms;1;15\n", "m.csv")
    assert "15.0 Ω agrees with neither" in told[1]
    assert "the rig is not as its file describes it" in told[-1]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("ohms,99,3", "has places 1 to"),
        ("volts,1,3", "is measured in ohms"),
        ("ampere,1,3", "none of this rig's instruments"),
        ("ohms,scaner: CAN_H to CAN_L,3", "Did you mean 'scanner: CAN_H to CAN_L'?"),
        ("ohms,1,fife", "no reading in Ω"),
        ("ohms,1,3 V", "no reading in Ω"),
        ("lamps,scanner,blue", "none of the words"),
        ("lamps,skanner,green", "Did you mean 'scanner'?"),
        ("ohms,1", "write three things"),
        ("ohms,1,60,5", "write three things"),
        ("ohms,1,", "no reading has a value yet"),
    ],
)
def test_a_line_that_cannot_be_read_is_told(deal: CardDeal, line: str, says: str) -> None:
    with pytest.raises(ClassError) as caught:
        held_against(deal, 1, f"instrument,place,value\n# ours\n{line}\n", "m.csv")
    assert says in str(caught.value)
    assert "no reading" in says or "line 3" in str(caught.value)


def test_a_card_that_there_is_not(deal: CardDeal) -> None:
    with pytest.raises(ClassError, match="cards 1 to 6"):
        held_against(deal, 7, "ohms,1,60", "m.csv")


def test_modbus_is_dealt_and_checked_too(tmp_path: Path) -> None:
    deal = deal_cards(modbus_rig(2), pairs_of(4), "cards")
    printed = print_deal(deal, Place(tmp_path))
    assert "1 to 6 kΩ" not in text_of(printed.trainer)
    text = filled_in(deal, 2, printed)
    assert held_against(deal, 2, text, "m.csv")[-1].startswith("Only the fault")


def test_where_nothing_can_be_told_apart_nothing_is_dealt() -> None:
    blind = devicenet_rig(4, "by hand: {faults: [rate]}\ninstruments: [volts]\n")
    with pytest.raises(ClassError, match="Nothing can be dealt"):
        deal_cards(blind, pairs_of(2), "cards")


def test_names_on_cards_are_gone_when_somebody_is_erased(make_room: MakeRoom, rig: Rig) -> None:
    room = make_room("t1,Ann Orrel", "t2,Ben Tasker")
    room.deal()
    place = Place.of(room.path, room.path / "print")
    deal = deal_cards(rig, pairs_among(room.folder.trainees), "secret", secret=True)
    print_deal(deal, place)
    record = room.path / "print" / RECORD
    assert "Ben Tasker" in record.read_text("utf-8")
    assert json.loads(record.read_text("utf-8"))["seed"] == ""
    erase(room.folder, "t2", reason="asked for")
    left = [file for file in (room.path / "print").iterdir() if b"Ben Tasker" in file.read_bytes()]
    assert left == []
