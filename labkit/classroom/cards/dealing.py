"""Fault cards dealt to pairs by chance, and the record by which they are printed again.

fault-cards.json   the rig's text as it was then, who has which card, and its fault
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from labkit.bench.codec import to_json
from labkit.bench.faults import Fault
from labkit.bench.rig.deck import Card, dealt, in_a_band
from labkit.classroom.dealing.seating import dealing_order
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.classroom.roster import Trainee
from labkit.exchange.formats import NewerVersionError, reader_of
from labkit.exchange.parts import each, misfit, of
from labkit.fieldbus.errors import PlanError
from labkit.lab.reading.rig_file import rig_of
from labkit.lab.rig import Rig
from labkit.language.stream import Stream

RECORD: Final = "fault-cards.json"
FORMAT: Final = "labkit fault cards"
VERSION: Final = 1
MOST_PAIRS: Final = 500
_PARTS: Final = {
    "rig": of(str),
    "cards": each({"number": of(int), "by": of(str), "to": of(str), "fault": of(dict)}),
}


@dataclass(frozen=True, slots=True)
class DealtCard:
    """A card: who puts its fault in, who looks for it ("" for nobody but the trainer)."""

    number: int
    by: str
    to: str
    card: Card


@dataclass(frozen=True, slots=True)
class CardDeal:
    """The cards of a rig. `seed` is the word that they were drawn by, "" where it is a secret."""

    rig: Rig
    seed: str
    cards: tuple[DealtCard, ...]

    def numbered(self, number: int) -> DealtCard:
        """The card of that number. Raises `ClassError`."""
        for each_card in self.cards:
            if each_card.number == number:
                return each_card
        raise ClassError(
            f"There is no card {number}: there are cards 1 to {len(self.cards)}. Its number stands "
            "outside on the card."
        )


def pairs_of(count: int) -> list[str]:
    """So many pairs without names. Raises `ClassError`."""
    if not 1 <= count <= MOST_PAIRS:
        raise ClassError(f"Cards are dealt to 1 to {MOST_PAIRS} pairs, not to {count}.")
    return [f"Pair {number}" for number in range(1, count + 1)]


def pairs_among(trainees: Sequence[Trainee]) -> list[str]:
    """Who works together, by the roster: two at one bench, else two by two as they sit.

    Who is left over at a bench stands alone.
    """
    order = dealing_order(trainees)
    benches = groupby(order, key=lambda person: person.bench)
    pairs: list[str] = []
    for _, together in benches:
        people = list(together)
        pairs += [
            " and ".join(person.name for person in people[at : at + 2])
            for at in range(0, len(people), 2)
        ]
    if not pairs:
        raise ClassError("Nobody is in the roster yet, so there are no pairs.")
    return pairs


def deal_cards(rig: Rig, pairs: Sequence[str], seed: str, *, secret: bool = False) -> CardDeal:
    """A card for every pair: another fault for each as far as they last, equally hard.

    The same seed, rig and pairs give the same cards. Raises `ClassError` where nothing can be
    dealt.
    """
    cards = rig.deck.cards
    if not cards:
        raise ClassError(
            f"Nothing can be dealt for {rig.title}: its instruments tell no fault that a hand may "
            "put in from all others. Allow more under 'by hand', or more instruments."
        )
    stream = Stream(seed, "fault cards", rig.digest)
    chosen = dealt(in_a_band(cards, len(pairs)), len(pairs), stream.order)
    # Each is looked for by the next pair.
    others = [*pairs[1:], pairs[0]] if len(pairs) > 1 else [""]
    found = tuple(
        DealtCard(number, by, to, card)
        for number, (by, to, card) in enumerate(zip(pairs, others, chosen, strict=True), start=1)
    )
    return CardDeal(rig, "" if secret else seed, found)


USUAL_PAIRS: Final = 6
USUAL_SEED: Final = "cards"


def deal_again_or_anew(
    rig: Rig,
    folder: Path,
    pairs: Sequence[str] | None,
    seed: str | None,
    *,
    secret: bool = False,
) -> CardDeal:
    """The deal that lies in a folder already, as it was; else a new one.

    What is not said (None) is as in the deal that lies there. Raises `ClassError` where another one
    lies there: the cards that somebody has would not be those of the record any more.
    """
    there = deal_in(folder, rig)
    if there is None:
        names = pairs_of(USUAL_PAIRS) if pairs is None else pairs
        return deal_cards(rig, names, seed or USUAL_SEED, secret=secret)
    same = (
        there.rig.digest == rig.digest
        and (pairs is None or [card.by for card in there.cards] == list(pairs))
        and (seed is None or secret or there.seed == seed)
    )
    if same:
        return there
    raise ClassError(
        f"{folder / RECORD} holds other cards: the rig's file, the pairs or the seed have changed "
        "since. To print those again, say the same as then; to deal anew, name another folder with "
        "'--to', or take that file away."
    )


def require_deal_of(rig: Rig, folder: Path) -> CardDeal:
    """The deal of this rig that lies in a folder. Raises `ClassError`."""
    there = deal_in(folder, rig)
    if there is None:
        raise ClassError(
            f"No cards were dealt into {folder}: {RECORD} is not there. Name the folder that they "
            "lie in with '--to', or the class with '--class'."
        )
    if there.rig.digest != rig.digest:
        raise ClassError(
            f"The rig's file has changed since the cards in {folder} were dealt. Bring the file "
            "back as it was, or deal anew into another folder."
        )
    return there


def remember_deal(place: Place, deal: CardDeal) -> Path:
    """Write the record of a deal."""
    data = {
        "format": FORMAT,
        "version": VERSION,
        "rig": deal.rig.text,
        "seed": deal.seed,
        "cards": [
            {
                "number": card.number,
                "by": card.by,
                "to": card.to,
                "fault": to_json(card.card.work.fault),
            }
            for card in deal.cards
        ],
    }
    return place.write(json.dumps(data, ensure_ascii=False, indent=1) + "\n", RECORD)


def deal_in(folder: Path, known: Rig | None = None) -> CardDeal | None:
    """The deal whose record lies in a folder; None where there is none. Raises `ClassError`.

    A rig that is `known` is not read again where the record has the same text.
    """
    file = folder / RECORD
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, RecursionError) as error:
        raise ClassError(f"{file} cannot be read: {_DAMAGED}") from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise ClassError(f"{file} is no record of fault cards: {_DAMAGED}")
    try:
        read = reader_of({VERSION: _read}, data.get("version"))
    except NewerVersionError as error:
        raise ClassError(f"{file}: {error}") from error
    if read is None or misfit(data, _PARTS):
        raise ClassError(f"{file} is damaged: {_DAMAGED}")
    return read(data, file, known)


_DAMAGED: Final = "bring it back from a copy, or name another folder with '--to'."


def _read(data: dict[str, Any], file: Path, known: Rig | None) -> CardDeal:
    same = known is not None and known.text == data["rig"]
    rig = known if same and known else rig_of(data["rig"], f"the rig in {file.name}")
    by_fault = {card.work.fault: card for card in rig.deck.cards}
    cards = []
    for item in data["cards"]:
        fault = _fault(rig, item["fault"])
        if fault not in by_fault:
            raise ClassError(
                f"{file}: card {item['number']} was dealt by other rules than this labkit has. "
                "Deal anew into another folder with '--to'."
            )
        cards.append(DealtCard(item["number"], item["by"], item["to"], by_fault[fault]))
    return CardDeal(rig, str(data.get("seed", "")), tuple(cards))


def _fault(rig: Rig, data: dict[str, Any]) -> Fault | None:
    try:
        return rig.setup.catalogue.fault_from_json(data)
    except PlanError:
        return None
