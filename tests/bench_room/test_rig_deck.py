"""Spans of readings, what tells faults apart, and which of them make cards."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import fields, replace
from itertools import pairwise

import pytest
from rigs_by_chance import devicenet_rig, devicenet_text, modbus_rig

from labkit.bench.faults import BiasExtra, Broken, Fault, TerminatorExtra, TerminatorMissing
from labkit.bench.live import Live
from labkit.bench.rig.by_hand import HandWork
from labkit.bench.rig.deck import MOST_READINGS, Card, Deck, Said, dealt, in_a_band
from labkit.bench.rig.judging import Heard, Measured, Verdict, agrees, judged, still_fitting
from labkit.bench.rig.parts import Between, Factors, Parts, layout_with
from labkit.bench.rig.probes import OHMS, VOLTS
from labkit.bench.rig.spans import OPEN_OHM, Meter, Readings, Span
from labkit.bench.situation import Situation
from labkit.bench.wiring import Wiring
from labkit.fieldbus.circuit import resistance
from labkit.lab.reading.rig_file import rig_of
from labkit.lab.rig import Rig
from labkit.language.stream import Stream


@pytest.fixture(scope="module", params=["DeviceNet", "Modbus"])
def rig(request: pytest.FixtureRequest) -> Rig:
    return devicenet_rig(1) if request.param == "DeviceNet" else modbus_rig(1)


def test_every_value_by_chance_lies_between_the_edges(rig: Rig) -> None:
    rng = random.Random(5)
    parts = Parts(loads=Between(1, 1), supplies=Between(1, 1))
    bare = Meter(0, 0, 0, 0)
    readings = Readings(rig.setup, parts, bare, rig.probes)
    for fault in (None, *rng.sample([*rig.deck.works], 6)):
        spans = readings.of(*([fault] if fault else []))
        faults = frozenset([fault] if fault and fault.wired else [])
        for _ in range(4):
            factors = Factors(
                *(
                    rng.uniform(part.low, part.high)
                    for part in (parts.terminators, parts.cable, parts.contacts, parts.inputs)
                )
            )
            layout = layout_with(rig.setup.layout, factors)
            probe = rng.choice([p for p in rig.probes if p.instrument == OHMS])
            wiring = Wiring(layout, faults, probe.situation)
            ohm = resistance(wiring.dead, wiring.node(probe.a), wiring.node(probe.b))
            shown = math.inf if ohm > OPEN_OHM else ohm
            span = spans[probe]
            assert span.low - 1e-9 <= shown <= span.high + 1e-9 or span.holds(shown)


def test_parts_as_planned_are_the_bench_itself(rig: Rig) -> None:
    same = layout_with(rig.setup.layout, Factors())
    for probe in rig.probes[:6]:
        ohms = [
            resistance(wiring.dead, wiring.node(probe.a), wiring.node(probe.b))
            for layout in (rig.setup.layout, same)
            for wiring in [Wiring(layout, frozenset(), Situation())]
        ]
        assert ohms[0] == pytest.approx(ohms[1], rel=1e-12)


def test_a_wider_tolerance_never_makes_a_narrower_span(rig: Rig) -> None:
    wide = replace(rig.parts, terminators=Between.within(0.05), cable=Between.within(0.2))
    wider = Readings(rig.setup, wide, rig.meter, rig.probes).of()
    for probe, span in rig.deck.spans(None).items():
        assert wider[probe].low <= span.low + 1e-9
        assert wider[probe].high >= span.high - 1e-9


def test_a_meter_adds_its_share_and_its_leads() -> None:
    meter = Meter(ohm_share=0.02, ohm_more=0.3, volt_share=0.01, volt_more=0.1)
    span = meter.reads(Span(50, 60, 70), OHMS)
    assert (span.low, span.middle, span.high) == pytest.approx((48.7, 60, 71.7))
    span = meter.reads(Span(20, 24, 25), VOLTS)
    assert (span.low, span.high) == pytest.approx((19.7, 25.35))
    assert meter.reads(Span(0, 0.1, 0.2), OHMS).low == 0
    open_ = meter.reads(Span(5e3, math.inf, math.inf), OHMS)
    assert open_.holds(math.inf)
    assert open_.holds(2e3)
    assert not open_.holds(500)


def test_terminators_read_as_every_technician_knows(rig: Rig) -> None:
    across, *_ = rig.probes
    sound = rig.deck.spans(None)[across]
    assert sound.holds(60)
    assert not sound.holds(120)
    one = rig.deck.spans(TerminatorMissing("left end"))[across]
    assert one.holds(119)
    assert not one.holds(60)


def test_no_card_has_a_twin(rig: Rig) -> None:
    deck = rig.deck
    faults: list[Fault | None] = [None, *deck.works]
    assert len(deck.cards) > 12
    for card in deck.cards:
        fault = card.work.fault
        for other in faults:
            assert other == fault or deck.apart(fault, other), (fault, other)
        assert 1 <= card.readings <= MOST_READINGS


def test_what_the_meter_cannot_tell_is_not_dealt() -> None:
    meter = "meter: {ohms: 30 %, leads: 5 Ω}\ntolerances: {terminators: 50 %, cable: 50 %}\n"
    good, bad = devicenet_rig(1), devicenet_rig(1, meter)
    assert len(bad.deck.cards) < len(good.deck.cards)
    kinds = {card.work.kind for card in bad.deck.cards}
    # A half of the trunk without its terminator is open, whatever the meter.
    assert "terminator extra" not in kinds
    assert {"terminator missing", "conductor open"} <= kinds


def test_instruments_and_plugs_decide_what_can_be_dealt() -> None:
    whole = {card.work.kind for card in devicenet_rig(2).deck.cards}
    assert {"address", "rate", "terminator extra"} <= whole
    alone = devicenet_rig(2, "instruments: [ohms]\nunplug: no\n")
    kinds = {card.work.kind for card in alone.deck.cards}
    assert not kinds & {"address", "rate", "terminator extra"}
    assert alone.deck.unseen
    assert not alone.words


def test_a_band_is_narrow_and_has_enough(rig: Rig) -> None:
    cards = rig.deck.cards
    for wanted in (1, 4, 6, 10):
        band = in_a_band(cards, wanted)
        counts = {card.readings for card in band}
        assert len(band) >= wanted
        inside = [card for card in cards if min(counts) <= card.readings <= max(counts)]
        assert inside == band
    assert in_a_band(cards, 1000) == list(cards)


def test_cards_are_different_as_far_as_they_last(rig: Rig) -> None:
    cards = in_a_band(rig.deck.cards, 6)
    chosen = dealt(cards, 6, Stream("a").order)
    assert len({card.work.fault for card in chosen}) == 6
    kinds = [card.work.kind for card in chosen]
    assert len({*kinds[:3]}) == 3
    assert dealt(cards, 6, Stream("a").order) == chosen
    assert dealt(cards, 6, Stream("b").order) != chosen
    twice = dealt(cards, 2 * len(cards), Stream("a").order)
    assert len({card.work.fault for card in twice[: len(cards)]}) == len(cards)
    assert len(twice) == 2 * len(cards)


def test_a_cards_own_readings_agree_with_it_and_rule_all_others_out(rig: Rig) -> None:
    deck = rig.deck
    for one, other in pairwise(deck.cards):
        fault = one.work.fault
        spans = deck.spans(fault)
        readings: list[Measured | Heard] = [
            Measured(probe, span.middle) for probe, span in spans.items()
        ]
        if not fault.wired:
            readings += [Heard(by, at, word) for (by, at), word in deck.said(fault).items()]
        readings += [Heard("lamps", name, "dark") for name in deck.dark(fault)]
        assert {each.verdict for each in judged(deck, fault, readings)} <= {
            Verdict.FAULT,
            Verdict.BOTH,
        }
        fitting = still_fitting(deck, readings)
        assert fault in fitting
        assert None not in fitting
        assert other.work.fault not in fitting, (fault, other.work.fault)


def test_what_is_said_of_a_damaged_line_is_not_judged() -> None:
    rig = devicenet_rig(1)
    deck = rig.deck
    name = rig.setup.layout.conductors.pair[0]
    broken = next(f for f in deck.works if isinstance(f, Broken) and f.wire == name)
    heard = Heard("scanner", broken.connector, "no answer")
    assert agrees(deck, broken, heard) is None
    assert agrees(deck, None, heard) is False or broken.connector == rig.setup.scanner
    assert judged(deck, broken, [heard])[0].verdict is Verdict.NOT_JUDGED


def test_a_device_without_plus_is_dark() -> None:
    rig = devicenet_rig(1)
    deck, plus = rig.deck, rig.setup.layout.conductors.plus_and_minus[0]
    cut = next(f for f in deck.works if isinstance(f, Broken) and f.wire == plus)
    assert deck.dark(cut) == {cut.connector}
    assert not deck.dark(None)
    dark, green = (Heard("lamps", cut.connector, word) for word in ("dark", "green"))
    assert agrees(deck, cut, dark) is True
    assert agrees(deck, cut, green) is False
    assert agrees(deck, None, dark) is False
    assert agrees(deck, None, green) is True
    assert agrees(deck, cut, Heard("lamps", cut.connector, "off")) is None


def test_equal_files_make_equal_decks() -> None:
    one, other = (rig_of(devicenet_text(3), "rig.md") for _ in range(2))
    assert one.digest == other.digest
    assert [*one.deck.works] == [*other.deck.works]
    assert [(c.work, c.readings) for c in one.deck.cards] == [
        (c.work, c.readings) for c in other.deck.cards
    ]


def test_a_fault_is_in_the_running_or_not_seen_and_a_card_or_a_twin() -> None:
    rig = devicenet_rig(2, "instruments: [volts, scanner]\n")
    deck = rig.deck
    unseen = {work.fault for work in deck.unseen}
    assert unseen
    assert not unseen & {*deck.works}
    assert unseen | {*deck.works} == {work.fault for work in rig.works}
    assert all(not deck.apart(fault, None) for fault in unseen)
    assert all(deck.apart(fault, None) for fault in deck.works)
    cards = {card.work.fault for card in deck.cards}
    twins = {work.fault for work in deck.twins}
    assert not cards & twins
    assert cards | twins == {*deck.works}


def test_lamps_alone_tell_who_is_dark_and_nobody_is_where_they_are_not_looked_at() -> None:
    lit = devicenet_rig(1, "instruments: [lamps]\nby hand: {faults: [conductor open]}\n").deck
    assert {work.fault.place for work in lit.works.values()} == {"scanner", "drive", "valves"}
    assert len(lit.cards) == len(lit.works) == 3
    unlit = devicenet_rig(1, "instruments: [ohms]\nby hand: {faults: [conductor open]}\n").deck
    assert all(unlit.dark(fault) == frozenset() for fault in unlit.works)


def test_who_is_asked_of_a_damaged_line_is_never_asked() -> None:
    rig = devicenet_rig(1)

    def hears(faults: Sequence[Fault]) -> Said:
        assert not any(fault.wired for fault in faults)
        return {("scanner", "drive"): repr(faults)}

    deck = Deck(rig.works, rig.deck.readings, hears, lamps=False)
    assert {card.work.fault.wired for card in deck.cards} == {True, False}


def card(kind: str, place: str, readings: int = 2) -> Card:
    fault = TerminatorExtra(place) if kind == "a" else BiasExtra(place)
    return Card(HandWork(kind, fault, "", ""), readings)


def test_the_narrowest_band_that_has_enough_and_of_several_that_with_most_kinds() -> None:
    one = [card("a", "p", 2), card("a", "q", 2)]
    two = [card("a", "r", 3), card("b", "s", 3)]
    assert in_a_band([*one, *two], 2) == two
    # Two are enough: no third is needed, and none of another difficulty is taken in.
    assert in_a_band([*one, card("b", "r", 5)], 2) == one
    apart = [card("a", "p", 2), card("b", "q", 9)]
    assert in_a_band(apart, 2) == apart


def in_order(count: int) -> Sequence[int]:
    return range(count)


def test_each_kind_has_its_turn_in_the_order_of_the_draw() -> None:
    cards = [card("a", "p"), card("b", "q"), card("b", "r"), card("a", "s")]
    assert dealt(cards, 4, in_order) == [cards[0], cards[1], cards[3], cards[2]]
    assert dealt(cards, 1, lambda count: range(count - 1, -1, -1)) == [cards[3]]
    assert dealt([], 3, in_order) == []


def test_no_place_comes_twice_before_all_have_come() -> None:
    cards = [card("a", "p"), card("b", "p"), card("b", "q")]
    assert dealt(cards, 2, in_order) == [cards[0], cards[2]]


def test_no_fault_comes_twice_before_all_have_come_though_its_kind_be_rare() -> None:
    cards = [card("a", "p"), card("b", "q"), card("a", "r"), card("a", "s")]
    assert dealt(cards, 5, in_order)[:4] == cards
    assert dealt(cards, 5, in_order)[4] == cards[1]


def corner(rng: random.Random, parts: Parts) -> Factors:
    """All parts of each kind at one end of their tolerance, by chance."""
    ends = {
        each.name: rng.choice([getattr(parts, each.name).low, getattr(parts, each.name).high])
        for each in fields(Parts)
    }
    return Factors(**ends)


def test_at_every_corner_of_the_tolerances_a_reading_lies_in_its_span(rig: Rig) -> None:
    rng = random.Random(11)
    readings = Readings(rig.setup, rig.parts, Meter(0, 0, 0, 0), rig.probes)
    for fault in (None, *rng.sample([*rig.deck.works], 4)):
        faults = frozenset([fault] if fault and fault.wired else [])
        spans = readings.of(*faults)
        for _ in range(16):
            layout = layout_with(rig.setup.layout, corner(rng, rig.parts))
            live = Live(Wiring(layout, faults, Situation(power=True))).idle
            wiring = Wiring(layout, faults, Situation())
            for probe in rig.probes:
                if probe.unplugged:
                    continue
                a, b = wiring.node(probe.a), wiring.node(probe.b)
                value = live.between(a, b)
                if probe.instrument == OHMS:
                    value = resistance(wiring.dead, a, b)
                    value = math.inf if value > OPEN_OHM else value
                span = spans[probe]
                # A twentieth of the least error of a meter: copper alike, inputs alike.
                some = 1e-9 if probe.instrument == OHMS else 1e-3
                wide = Span(span.low - some, span.middle, span.high + some)
                assert wide.holds(value), (fault, probe, value, span)


def test_a_span_holds_its_edges_and_meets_what_touches_it() -> None:
    span = Span(1, 2, 3)
    assert span.holds(1)
    assert span.holds(3)
    assert not span.holds(math.inf)
    assert Span(1, 2, math.inf).holds(math.inf)
    assert span.meets(Span(3, 4, 5))
    assert Span(3, 4, 5).meets(span)
    assert not span.meets(Span(3.1, 4, 5))
    assert not Span(3.1, 4, 5).meets(span)


def test_less_than_nothing_is_read_with_the_same_error() -> None:
    span = Meter(volt_share=0.01, volt_more=0.1).reads(Span(-10, -10, -10), VOLTS)
    assert (span.low, span.high) == pytest.approx((-10.2, -9.8))
    # What is open reads open from a thousand ohms on, whatever the parts allow.
    span = Meter(ohm_share=0, ohm_more=0).reads(Span(5e3, 6e3, 7e3), OHMS)
    assert (span.low, span.high) == (OPEN_OHM, math.inf)


def test_a_device_without_its_plus_shows_anything_that_it_cannot_work_by() -> None:
    rig = devicenet_rig(1)
    plus = rig.setup.layout.conductors.plus_and_minus[0]
    cut = next(
        fault
        for fault in rig.deck.works
        if isinstance(fault, Broken) and (fault.connector, fault.wire) == ("drive", plus)
    )
    volts = {
        probe.where.partition(":")[0]: span
        for probe, span in rig.deck.spans(cut).items()
        if probe.instrument == VOLTS
    }
    for value in (-0.5, 0, 5, 11):
        assert volts["drive"].holds(value)
    assert not volts["drive"].holds(12)
    assert not volts["valves"].holds(11)
    assert volts["valves"].holds(23.9)


def test_a_dark_lamp_is_judged_on_a_damaged_line_too() -> None:
    deck = devicenet_rig(1).deck
    damaged = next(fault for fault in deck.works if isinstance(fault, TerminatorMissing))
    assert agrees(deck, damaged, Heard("lamps", "drive", "dark")) is False
    assert agrees(deck, damaged, Heard("lamps", "drive", "green")) is None
