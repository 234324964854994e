"""The six characters by which a trainee joins the room: on their card, and typed on any keyboard.

A code follows from the class's secret and the trainee's id alone. So cards can be printed before
the room is opened, nothing is stored, and no change of the roster changes anybody's code.

Two ids may come out at one code: once in 26⁶ = 309 million pairs, or in one of 400,000 classes of
forty. Then it lets nobody in, and both type their names and wait for the trainer's tap. To give one
of them another code is worse: which one would depend on who is in the roster, so a printed card
could come to open somebody else's work.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from operator import attrgetter
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.exchange.signing import sign

ALPHABET: Final = "0123456789ACEFHJKMNPRTVWXY"
"""Of characters that look alike or are spoken alike one each."""
LENGTH: Final = 6
_TAKEN_FOR: Final = str.maketrans("OQDILZSBGU", "000112586V")


def join_code(secret: str, class_id: str, trainee: str) -> str:
    """The code of one trainee's id, which nobody without the secret can tell beforehand."""
    number = int(sign(secret, "\x1f".join(["join", class_id, trainee]).encode()), 16)
    code = ""
    for _ in range(LENGTH):
        number, place = divmod(number, len(ALPHABET))
        code += ALPHABET[place]
    return code


def read_code(typed: str) -> str | None:
    """The code that somebody typed; None for what cannot be one.

    Case, spaces and dashes do not matter, nor which of two look-alikes it is.
    """
    letters = "".join(
        letter
        for letter in unicodedata.normalize("NFKC", typed).upper()
        if unicodedata.category(letter)[0] not in "ZC" and unicodedata.category(letter) != "Pd"
    )
    code = letters.translate(_TAKEN_FOR)
    return code if len(code) == LENGTH and set(code) <= set(ALPHABET) else None


def codes_of(folder: ClassFolder, dealt: Iterable[Dealt]) -> dict[str, str]:
    """Whom each code lets in: the ids of everybody in the roster by code.

    Whose id was corrected comes in by the code of either id, since a card of the old one may be in
    their hand: `dealt`, all that the class was dealt, says which ids that was to (`Dealt.origin`).
    Raises `ClassError` without a secret or a roster.
    """
    owners = _owners(folder, dealt)
    return {code: next(iter(ids)) for code, ids in owners.items() if len(ids) == 1}


def codes_on_cards(folder: ClassFolder, dealt: Iterable[Dealt]) -> dict[str, str]:
    """The code that is printed for each id of the roster, "" where another has the same.

    Of a corrected id it is the code of the id that was dealt first: a card that is printed again
    says what the lost one said. Raises `ClassError` without a secret or a roster.
    """
    cards = dict.fromkeys((person.id for person in folder.trainees), "")
    for code, trainee in codes_of(folder, dealt).items():
        cards[trainee] = cards[trainee] or code
    return cards


def _owners(folder: ClassFolder, dealt: Iterable[Dealt]) -> dict[str, set[str]]:
    """The ids that each code belongs to; of one id the code that is on its card comes first."""
    ids: dict[str, list[str]] = {person.id: [] for person in folder.trainees}
    # A corrected id's attempts stand in the deal as they were dealt, not in their order.
    for item in sorted(dealt, key=attrgetter("attempt")):
        if item.trainee in ids:
            ids[item.trainee].append(item.origin[0])
    secret, owners = folder.secret(), dict[str, set[str]]()
    for trainee, known_as in ids.items():
        for one in dict.fromkeys((*known_as, trainee)):
            code = join_code(secret, folder.fields.id, one)
            owners.setdefault(code, set()).add(trainee)
    return owners
