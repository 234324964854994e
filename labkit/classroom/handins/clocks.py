"""What the clock of a trainee's laptop says, and what of it cannot be.

Every time in a hand-in is a claim of the laptop that made it: its clock may be wrong, and whoever
sits there can set it. When a hand-in came in is a fact. Only what is certain not to fit is named.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any, Final, Self

from labkit.exchange.clock import read_moment
from labkit.exchange.journal import ANSWER

SLACK_S: Final = 60
"""By so many seconds clocks may differ, or be put right, without a word (chosen, no source)."""
TOO_MANY_AT_ONCE: Final = 6
"""So many different exercises nobody answers by hand within a second (chosen, no source)."""
_LINK: Final = 16
"""Hexadecimal digits of a chain for each entry of a journal."""
_MOST_S: Final = 2**31 - 1
"""Every database holds the number: 68 years."""

Spoken = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class JournalFacts:
    """What is kept of an answer journal (see `records.schema.journals`).

    `chain` has a link for each entry, which stands for all entries up to it; `first_at` and
    `last_at` are what the first and the last entry say of their time ("": nothing readable);
    `set_back` is how far its times run back, in s; `at_once` is how many different exercises were
    answered within a second.
    """

    chain: str
    first_at: str
    last_at: str
    set_back: int
    at_once: int

    @classmethod
    def of(cls, journal: Iterable[Mapping[str, Any]]) -> Self:
        """The facts of a journal, whatever its entries hold."""
        links: list[str] = []
        times: list[str] = []
        answers: list[tuple[datetime, str]] = []
        so_far = b""
        latest: datetime | None = None
        back = timedelta()
        for entry in journal:
            so_far = sha256(so_far + json.dumps(entry, sort_keys=True).encode()).digest()
            links.append(so_far.hex()[:_LINK])
            at = read_moment(entry.get("at"))
            if at is None:
                continue
            times.append(entry["at"])
            latest = max(at, latest or at)
            back = max(back, latest - at)
            exercise = entry.get("exercise")
            if entry.get("event") == ANSWER and isinstance(exercise, str):
                answers.append((at, exercise))
        return cls(
            "".join(links),
            times[0] if times else "",
            times[-1] if times else "",
            min(int(back.total_seconds()), _MOST_S),
            _most_at_once(answers),
        )

    @property
    def last_link(self) -> str:
        """What stands for the whole journal."""
        return self.chain[-_LINK:]

    def continues(self, other: JournalFacts) -> bool:
        """Whether this journal begins with all entries of the other, and goes on."""
        shared = len(other.chain)
        return len(self.chain) > shared and (
            self.chain[max(shared - _LINK, 0) : shared] == other.last_link
        )


def _most_at_once(answers: list[tuple[datetime, str]]) -> int:
    """The most different exercises whose answers are no more than a second apart."""
    most, start = 0, 0
    within: Counter[str] = Counter()
    answers.sort()
    for at, exercise in answers:
        within[exercise] += 1
        while at - answers[start][0] > timedelta(seconds=1):
            gone = answers[start][1]
            within[gone] -= 1
            if not within[gone]:
                del within[gone]
            start += 1
        most = max(most, len(within))
    return most


def remarks_on_making(
    made_at: str, received_at: str, dealt_at: str | None, spoken: Spoken
) -> Iterator[str]:
    """A sentence where a hand-in cannot have been made when it says so."""
    if _seconds(received_at, made_at) > SLACK_S:
        yield (
            f"By its laptop's clock it was made {spoken(made_at)}, after it had come in "
            f"({spoken(received_at)}): that clock is ahead."
        )
    if dealt_at and _seconds(made_at, dealt_at) > SLACK_S:
        yield (
            f"By its laptop's clock it was made {spoken(made_at)}, before its workbook was dealt "
            f"({spoken(dealt_at)}): that clock is behind."
        )


def remarks_on_journal(
    facts: JournalFacts, made_at: str, dealt_at: str | None, spoken: Spoken
) -> Iterator[str]:
    """A sentence for each thing in a journal's times that does not fit."""
    if dealt_at and made_at >= dealt_at and _seconds(facts.first_at, dealt_at) > SLACK_S:
        yield (
            f"By its laptop's clock the workbook was opened {spoken(facts.first_at)}, before it "
            f"was dealt ({spoken(dealt_at)}): that clock was behind."
        )
    if facts.set_back > SLACK_S:
        yield (
            f"The times in its journal run back by {_span(facts.set_back)}: the laptop's clock was "
            "put back in between."
        )
    if facts.last_at > made_at:
        yield (
            f"Its last entry says {spoken(facts.last_at)}, the hand-in itself was made "
            f"{spoken(made_at)}: both are by the same laptop, and one of them cannot be."
        )


def remark_on_pace(facts: JournalFacts) -> str:
    """A sentence where more exercises were answered at once than a person answers; else ""."""
    if facts.at_once < TOO_MANY_AT_ONCE:
        return ""
    return (
        f"{facts.at_once} exercises were answered within one second by its laptop's clock: by a "
        "program, or answers that could not be saved before went in together."
    )


def _seconds(start: str, end: str) -> float:
    before, after = read_moment(start), read_moment(end)
    return (after - before).total_seconds() if before and after else 0.0


def _span(seconds: int) -> str:
    for size, word in ((365 * 86400, "years"), (86400, "days"), (3600, "hours")):
        if seconds >= 2 * size:
            return f"{seconds // size} {word}"
    return f"{seconds // 60} min"
