"""Fault cards on paper, and the two sheets that go with them.

fault-cards.html             a page a card, to be folded: outside its number, inside its fault
fault-cards-trainer.html     what every card should read, sound and with its fault: it tells all
fault-cards-measuring.html   where a pair measures, with fields: it tells nothing
fault-cards-readings.csv     the same as a table, to be filled in and checked
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final

from markupsafe import Markup

from labkit.bench.rig.by_hand import WIRED
from labkit.bench.rig.deck import Deck
from labkit.bench.rig.judging import DARK, LAMPS
from labkit.bench.rig.parts import NO_SOURCE, Between, Parts
from labkit.bench.rig.probes import OHMS, Probe
from labkit.bench.rig.spans import Span
from labkit.classroom.cards.dealing import CardDeal, DealtCard, remember_deal
from labkit.classroom.cards.figures import between, shown
from labkit.classroom.cards.measured import to_fill_in
from labkit.classroom.filling import filled
from labkit.classroom.private_place import Place
from labkit.lab.rig import Rig
from labkit.language.markdown import to_html
from labkit.workbook.handout import PageSize

CARDS: Final = "fault-cards.html"
TRAINER: Final = "fault-cards-trainer.html"
MEASURING: Final = "fault-cards-measuring.html"
READINGS: Final = "fault-cards-readings.csv"
_PART_WORDS: Final = {
    "terminators": "terminators",
    "cable": "cable, a conductor's resistance",
    "contacts": "contacts",
    "inputs": "receivers' inputs",
    "supplies": "voltage of supplies",
    "loads": "current of devices",
    "bias": "resistors of the bias",
}


@dataclass(frozen=True, slots=True)
class PrintedCards:
    """The files that were written."""

    cards: Path
    trainer: Path
    measuring: Path
    readings: Path
    record: Path

    @property
    def pages(self) -> tuple[Path, ...]:
        """Those to be printed."""
        return self.cards, self.trainer, self.measuring


def print_deal(deal: CardDeal, place: Place, size: PageSize = PageSize.a4) -> PrintedCards:
    """Write the cards, both sheets, the table to be filled in, and the record of the deal."""
    rig = deal.rig
    numbers = {probe: number for number, probe in enumerate(rig.probes, start=1)}
    common = {"title": rig.title, "size": size.value, "rules": Markup(to_html(rig.rules))}
    cards = filled("fault_cards.html", **common, cards=[_card(rig, card) for card in deal.cards])
    trainer = filled(
        "fault_cards_trainer.html",
        **common,
        seed=deal.seed,
        bands=[Markup(svg) for svg in rig.recipe.draw_for_paper(rig.network)],
        facts=rig.recipe.facts(rig.network),
        parts=_parts(rig),
        meter=_meter(rig),
        sound=[_sound(numbers, probe, span) for probe, span in rig.deck.spans(None).items()],
        sound_said=_said(rig.deck, None),
        cards=[_on_sheet(rig.deck, numbers, card) for card in deal.cards],
        in_the_running=len(rig.deck.works),
    )
    measuring = filled("fault_cards_measuring.html", **common, parts=_places(rig, numbers))
    return PrintedCards(
        place.write(cards, CARDS),
        place.write(trainer, TRAINER),
        place.write(measuring, MEASURING),
        place.write(to_fill_in(rig), READINGS),
        remember_deal(place, deal),
    )


def _card(rig: Rig, card: DealtCard) -> dict[str, Any]:
    power = rig.setup.layout.conductors.power
    work = card.card.work
    return {
        "number": card.number,
        "by": card.by,
        "to": card.to,
        "put_in": work.put_in,
        "put_back": work.put_back,
        "wired": work.kind in WIRED,
        "power": " and ".join(wire.words for wire in power) if power else "",
    }


def _on_sheet(deck: Deck, numbers: dict[Probe, int], card: DealtCard) -> dict[str, Any]:
    work = card.card.work
    spans, sound = deck.spans(work.fault), deck.spans(None)
    return {
        "number": card.number,
        "by": card.by,
        "to": card.to,
        "kind": work.kind,
        "put_in": work.put_in,
        "put_back": work.put_back,
        "readings": card.card.readings,
        "rows": [
            {
                "number": numbers[probe],
                "where": probe.where,
                "calculated": shown(probe, spans[probe].middle),
                "between": between(probe, spans[probe]),
                "sound": between(probe, sound[probe]),
            }
            for probe in deck.telling(work.fault, None)
        ],
        "said": _said(deck, work.fault),
    }


def _sound(numbers: dict[Probe, int], probe: Probe, span: Span) -> dict[str, Any]:
    return {
        "number": numbers[probe],
        "instrument": probe.instrument,
        "where": probe.where,
        "calculated": shown(probe, span.middle),
        "between": between(probe, span),
    }


def _said(deck: Deck, fault: Any) -> list[dict[str, str]]:
    """What differs from the sound rig, told of settings; of wiring only who is dark."""
    dark = [{"by": LAMPS, "device": name, "word": DARK} for name in sorted(deck.dark(fault))]
    if fault is not None and fault.wired:
        return dark
    sound, here = deck.said(None), deck.said(fault)
    told = here.items() if fault is None else here.items() - sound.items()
    order = list(here)
    rows = sorted(told, key=lambda item: order.index(item[0]))
    return dark + [{"by": by, "device": at, "word": word} for (by, at), word in rows]


def _parts(rig: Rig) -> list[dict[str, str]]:
    layout = rig.setup.layout
    idle = {
        "bias": layout.bias is None,
        "supplies": layout.conductors.power is None and layout.bias is None,
        "loads": layout.conductors.power is None,
    }
    return [
        {"what": _PART_WORDS[item.name], **_edges(getattr(rig.parts, item.name))}
        for item in fields(Parts)
        if not idle.get(item.name)
    ]


def _edges(part: Between) -> dict[str, str]:
    if abs(part.low + part.high - 2) < 1e-9:
        return {"edges": f"± {_per_cent(part.high - 1)}", "source": part.source}
    edges = f"{_per_cent(part.low)} to {_per_cent(part.high)} of the planned value"
    return {"edges": edges, "source": part.source}


def _per_cent(share: float) -> str:
    """To a tenth of a per cent, without an exponent: "33.3 %", "1000 %"."""
    return f"{round(100 * share, 1):g} %"


def _meter(rig: Rig) -> list[dict[str, str]]:
    meter = rig.meter
    ohms = f"± ({_per_cent(meter.ohm_share)} + {meter.ohm_more:g} Ω with its leads)"
    volts = f"± ({_per_cent(meter.volt_share)} + {meter.volt_more:g} V)"
    return [
        {"what": "meter, ohms", "edges": ohms, "source": NO_SOURCE},
        {"what": "meter, volts", "edges": volts, "source": NO_SOURCE},
    ]


def _places(rig: Rig, numbers: dict[Probe, int]) -> list[dict[str, Any]]:
    """The places of a measuring sheet: power off, power on, and what is looked at."""
    titles = {True: "Ohms: power off, proved dead", False: "Volts: power on, nobody sending"}
    parts: list[dict[str, Any]] = []
    for ohms, title in titles.items():
        here = [probe for probe in rig.probes if (probe.instrument == OHMS) is ohms]
        if here:
            rows = [
                {"number": numbers[probe], "where": probe.where, "unit": probe.unit}
                for probe in here
            ]
            parts.append({"title": title, "rows": rows, "words": ""})
    for name, words in rig.words.items():
        devices = [at for by, at in rig.deck.said(None) if by == name]
        rows = [
            {"number": "", "where": at, "unit": ""}
            for at in devices or list(rig.setup.layout.devices)
        ]
        parts.append({"title": name.capitalize(), "rows": rows, "words": ", ".join(words)})
    return parts
