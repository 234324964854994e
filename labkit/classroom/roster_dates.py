"""Whether a cell holds a date, as office programs make one of a seat such as "3-4" or "3/4".

Which day it becomes depends on the language of the program (3 April or 4 March), and a table keeps
only the day: the seat cannot be had back, so it is only told. The forms are those in which such
programs show and save dates by common practice; there is no published list.
"""

from __future__ import annotations

import re
from typing import Final

_MONTHS: Final = frozenset(
    word
    for words in (
        # English, German, French, Spanish, Italian, Portuguese, Dutch, the Nordic languages.
        "jan feb mar apr may jun jul aug sep sept oct nov dec",
        "mär mrz mai okt dez janv févr mars avr juin juil août déc ene abr ago dic",
        "gen mag giu lug set ott fev out mrt mei maj des",
        "january february march april june july august september october november december",
        "januar februar märz juni juli oktober dezember",
    )
    for word in words.split()
)
_WITH_A_WORD: Final = re.compile(
    r"(?:\d{1,2}[\s./-]+(?P<after>[^\W\d_]+)|(?P<before>[^\W\d_]+)[\s./-]+\d{1,2})"
    r"\.?,?(?:[\s./-]*\d{2,4})?"
)
_IN_FIGURES: Final = re.compile(
    r"(?:\d{4}-\d{1,2}-\d{1,2}|\d{1,2}([./-])\d{1,2}\1(?:\d{4}|\d{2}))(?:[\sT]\d{1,2}:\d{2}(?::\d{2})?)?"
)


def is_a_date(text: str) -> bool:
    """Whether a seat's text is a date: "2026-04-03 00:00:00", "03. Apr", "4-Mar", "03.04.2026"."""
    text = text.strip()
    if _IN_FIGURES.fullmatch(text):
        return True
    if found := _WITH_A_WORD.fullmatch(text):
        return (found["after"] or found["before"]).casefold() in _MONTHS
    return False
