"""The board: where everybody is in their workbooks, and who needs the trainer.

It stores nothing. What it tells follows from the journals of the workbooks that are open in the
room, the room's log, and whose pages are open.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import UTC, datetime, timedelta
from typing import Final, TypedDict

from labkit.classroom.dealt import Dealt
from labkit.exchange.clock import CLOCK, written
from labkit.room.presence import Presence
from labkit.room.room import Room
from labkit.room.stuck import in_minutes, times, why_stuck
from labkit.room.workbooks import Workbook

_NEVER: Final = datetime.min.replace(tzinfo=UTC)
_AWAY_IS_SAID: Final = timedelta(minutes=1)


class At(TypedDict):
    """Where somebody is in the workbook of one lab."""

    exercise: str
    """Its number and title; "" before anything happened."""
    last: str
    tries: int
    right: float | None
    """The share that is right of what was answered."""
    away: str
    """For how long no page is open."""


class HandUp(TypedDict):
    """Since when a hand is up, and what was typed with it."""

    at: str
    words: str


class Needs(TypedDict):
    """Somebody who needs the trainer, and why."""

    trainee: str
    hand: HandUp | None
    lab: str
    why: list[str]


class Now(TypedDict):
    """What the trainer's page shows of the board."""

    needs: list[Needs]
    """Hands, first come first; then who is stuck, who waited longest first."""
    at_lab: dict[str, str]
    """The lab at which each person is."""
    people: dict[str, dict[str, At]]
    """By person and lab."""


class Board:
    """What is told of a room's class. One task sees and keeps up; any may ask for `now`."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._presence = Presence()
        self._takes: dict[str, Mapping[str, timedelta]] = {}
        self._guests: Mapping[str, str] = {}

    def sees(self, here: Collection[tuple[str, str]]) -> None:
        """Take in whose pages are open: the numbers of workbooks, and persons."""
        self._presence.sees(here, CLOCK.moment())

    def keep_up(self) -> None:
        """Run the checks on what was answered since, and learn how long exercises take here."""
        of_lab: defaultdict[str, list[Workbook]] = defaultdict(list)
        for workbook in self._room.workbooks.all_known:
            workbook.trail.keep_up()
            of_lab[workbook.item.lab].append(workbook)
        now = CLOCK.moment()
        for lab, workbooks in of_lab.items():
            first = workbooks[0].trail
            progresses = [each.trail.progress for each in workbooks]
            self._takes[lab] = times(first.progress.exercises, first.minutes, progresses, now)

    def shown(self) -> Now:
        """The board as it is now. It waits for nothing."""
        now = CLOCK.moment()
        works = self._works()
        at_lab = {trainee: self._at_lab(trainee, labs, now) for trainee, labs in works.items()}
        stuck = {
            trainee: why
            for trainee, lab in at_lab.items()
            if (why := self._why_stuck(works[trainee], trainee, lab, now))
        }
        return {
            "needs": self._needs(stuck, at_lab, works),
            "at_lab": at_lab,
            "people": {
                trainee: {lab: self._at(workbook, trainee, now) for lab, workbook in labs.items()}
                for trainee, labs in works.items()
            },
        }

    def _works(self) -> dict[str, dict[str, Workbook]]:
        """The open workbooks in which each person works, by person and lab."""
        works: defaultdict[str, dict[str, Workbook]] = defaultdict(dict)
        for workbook in self._room.workbooks.all_known:
            for own in self._who_works_in(workbook.item):
                if own.trainee in self._room.people:
                    works[own.trainee][own.lab] = workbook
        return works

    def _who_works_in(self, item: Dealt) -> list[Dealt]:
        """Its owner, unless it rests, and their guest."""
        pairs, workbooks = self._room.pairs, self._room.workbooks
        if not workbooks.is_last(item) or pairs.works_in(item) is not item:
            return []
        partner = pairs.partner(item)
        return [item, *([partner] if partner else [])]

    def _at_lab(self, trainee: str, labs: Mapping[str, Workbook], now: datetime) -> str:
        """The lab whose page is open; of several, or without any, where something happened last."""

        def of(lab: str) -> tuple[bool, datetime]:
            here = self._presence.here_since(labs[lab].item.workbook, trainee, now)
            return here is not None, labs[lab].trail.progress.last or _NEVER

        return max(labs, key=of)

    def _at(self, workbook: Workbook, trainee: str, now: datetime) -> At:
        progress = workbook.trail.progress
        at, number = progress.at, workbook.item.workbook
        gone = self._presence.away_since(number, trainee)
        away = gone and now - gone > _AWAY_IS_SAID
        return {
            "exercise": f"{at.number}. {at.title}" if at else "",
            "last": written(progress.last) if at and progress.last else "",
            "tries": progress.of(at).tries if at else 0,
            "right": progress.share_right,
            "away": in_minutes(now - gone) if gone and away else "",
        }

    def _why_stuck(
        self, works: Mapping[str, Workbook], trainee: str, lab: str, now: datetime
    ) -> list[str]:
        """Only of the lab at which they are: another one's page may be open all the same."""
        workbook = works[lab]
        since = self._presence.here_since(workbook.item.workbook, trainee, now)
        stands = self._room.shut(workbook.item) or self._room.pause_of(lab)
        if since is None or lab not in self._takes or stands:
            return []
        since = max(since, self._room.began_anew(lab) or since)
        return why_stuck(workbook.trail.progress, now, since, self._takes[lab])

    def _needs(
        self,
        stuck: Mapping[str, list[str]],
        at_lab: Mapping[str, str],
        works: Mapping[str, Mapping[str, Workbook]],
    ) -> list[Needs]:
        hands = [hand for hand in self._room.hands.up() if hand.trainee in self._room.people]
        needs: list[Needs] = [
            {
                "trainee": hand.trainee,
                "hand": {"at": hand.at, "words": hand.words},
                "lab": hand.lab,
                "why": stuck.get(hand.trainee, []),
            }
            for hand in hands
        ]
        up = {hand.trainee for hand in hands}

        def waits_since(trainee: str) -> datetime:
            return works[trainee][at_lab[trainee]].trail.progress.last or _NEVER

        for trainee in sorted(stuck, key=waits_since):
            lab = at_lab[trainee]
            if trainee not in up and not self._is_guest(trainee, lab):
                needs.append({"trainee": trainee, "hand": None, "lab": lab, "why": stuck[trainee]})
        return needs

    def _is_guest(self, trainee: str, lab: str) -> bool:
        """Of two at one bench the host is named."""
        own = self._room.workbooks.items.get((trainee, lab))
        return own is not None and self._room.pairs.rests(own)
