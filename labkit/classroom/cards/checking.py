"""What a pair measured, held against its card: what each reading says, and what still fits."""

from __future__ import annotations

from collections.abc import Iterator

from labkit.bench.faults import Fault
from labkit.bench.rig.deck import Deck
from labkit.bench.rig.judging import Judged, Measured, Verdict, judged, still_fitting
from labkit.classroom.cards.dealing import CardDeal
from labkit.classroom.cards.figures import between, shown
from labkit.classroom.cards.measured import Line, read_measured
from labkit.lab.rig import Rig

MOST_TOLD = 8
"""Faults that still fit are named up to so many."""


def held_against(deal: CardDeal, number: int, text: str, file: str) -> list[str]:
    """Sentences about the readings in `text`, which were taken with card `number` in the rig.

    Raises `ClassError` for a card that there is not, and for lines that cannot be read.
    """
    rig, fault = deal.rig, deal.numbered(number).card.work.fault
    lines = read_measured(text, file, rig)
    readings = [line.reading for line in lines]
    found = judged(rig.deck, fault, readings)
    told = [f"Card {number}: {_words(rig, fault)}."]
    told += [_told(rig.deck, fault, *pair) for pair in zip(lines, found, strict=True)]
    return [*told, *_what_fits(rig, fault, still_fitting(rig.deck, readings), found)]


def _words(rig: Rig, fault: Fault | None) -> str:
    return fault.words_on(rig.setup.layout) if fault else "the sound rig"


def _told(deck: Deck, fault: Fault, line: Line, found: Judged) -> str:
    reading, verdict = line.reading, found.verdict
    if not isinstance(reading, Measured):
        why = (
            ": what is said of a damaged line is not calculated"
            if verdict is Verdict.NOT_JUDGED
            else ""
        )
        said = f"{reading.instrument}, {reading.device}: {reading.word}"
        return f"  line {line.number}, {said}: {verdict.value}{why}."
    probe = reading.probe
    sound, faulty = deck.spans(None)[probe], deck.spans(fault)[probe]
    value = shown(probe, reading.value)
    return (
        f"  line {line.number}, {probe.instrument}, {probe.where}: {value} {verdict.value} (sound "
        f"{between(probe, sound)}; with the fault {between(probe, faulty)})."
    )


def _what_fits(
    rig: Rig, fault: Fault, fitting: list[Fault | None], found: list[Judged]
) -> Iterator[str]:
    if not fitting:
        yield (
            "Nothing that may be put into this rig by hand fits all of these readings: the rig is "
            "not as its file describes it, another fault is in it, two are, or a reading went "
            "wrong. Measure the odd ones again."
        )
        return
    if fitting == [fault]:
        yield "Only the fault of this card fits all of these readings."
        return
    if fault not in fitting:
        yield "The fault of this card does not fit all of these readings."
    named = [_words(rig, each) for each in fitting[:MOST_TOLD]]
    more = len(fitting) - len(named)
    ends = f"; and {more} more" if more else ""
    count = len(rig.deck.works)
    faults = sum(each is not None for each in fitting)
    yield f"What still fits, {faults} of {count} faults{_sound(fitting)}: {'; '.join(named)}{ends}."
    if all(each.verdict in (Verdict.BOTH, Verdict.NOT_JUDGED) for each in found):
        yield "None of these readings tells the fault from the sound rig: measure elsewhere."


def _sound(fitting: list[Fault | None]) -> str:
    return " and the sound rig" if None in fitting else ""
