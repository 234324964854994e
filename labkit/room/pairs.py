"""Two at one bench: whom the trainer lets work in whose workbook."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from typing import Final

from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.room_entries import PARTED, TOGETHER
from labkit.room.log import RoomLog
from labkit.room.workbooks import Workbooks

_NO_PAIR: Final = "These two do not work together."


class Pairs:
    """Who is the guest of whom, a lab each. A guest's own workbook rests meanwhile."""

    def __init__(self, workbooks: Workbooks, log: RoomLog) -> None:
        self._workbooks, self._log = workbooks, log

    @property
    def _hosts(self) -> Mapping[str, str]:
        return self._log.state.together

    def rests(self, item: Dealt) -> bool:
        """Whether a workbook rests, because its owner works in another's."""
        return item.workbook in self._hosts

    def works_in(self, item: Dealt) -> Dealt:
        """The workbook in which the owner of one works.

        That of a host who was dealt a retake since is shown no more: the guest's own one is.
        """
        host = self._workbooks.dealt.get(self._hosts.get(item.workbook, ""))
        return host if host and self._workbooks.is_last(host) else item

    def partner(self, item: Dealt) -> Dealt | None:
        """The workbook of whoever works together with the owner of one."""
        host = self.works_in(item)
        return self._guest_of(item) if host is item else host

    def _guest_of(self, item: Dealt) -> Dealt | None:
        guests = [number for number, host in list(self._hosts.items()) if host == item.workbook]
        return self._workbooks.dealt.get(guests[0]) if guests else None

    def of_lab(self, lab: str) -> list[tuple[Dealt, Dealt]]:
        """Guests and hosts of a lab."""
        dealt = self._workbooks.dealt
        found = [(dealt.get(guest), dealt.get(host)) for guest, host in list(self._hosts.items())]
        return [
            (guest, host)
            for guest, host in found
            if guest and host and guest.lab == lab and self._workbooks.is_last(guest)
        ]

    def join(self, guest: Dealt, host: Dealt, by: str) -> None:
        """Let the owner of `guest` work in `host`. Raises `ClassError`."""
        if guest.trainee == host.trainee:
            raise ClassError("Choose two different people.")
        for item in (guest, host):
            if self.rests(item) or self.partner(item):
                raise ClassError(f"{item.name} works together with somebody already: part them.")
        self._note(TOGETHER, guest, host, by)

    def part(self, guest: Dealt, by: str) -> None:
        """Let the owner of `guest` work in their own workbook again. Raises `ClassError`."""
        if not self.rests(guest):
            raise ClassError(_NO_PAIR)
        host = self._workbooks.dealt[self._hosts[guest.workbook]]
        self._note(PARTED, guest, host, by, hand=self._workbooks.has_hand(host, guest.workbook))

    def _note(self, event: str, guest: Dealt, host: Dealt, by: str, **more: bool) -> None:
        self._log.add(
            event,
            by,
            entry=secrets.token_hex(8),
            lab=guest.lab,
            trainee=guest.trainee,
            host=host.trainee,
            workbook=guest.workbook,
            host_workbook=host.workbook,
            **more,
        )
