"""A class whose certificates are issued, and what is asked of it."""

from __future__ import annotations

from pathlib import Path

from tiny_class import Room

from labkit.classroom.certificates.checking import check
from labkit.classroom.certificates.issuer_key import IssuerKey
from labkit.classroom.certificates.issuing import Issuing
from labkit.classroom.certificates.paper import issue_and_write
from labkit.classroom.certificates.register import Issued, Register
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.store import Records


def issued(room: Room, key: IssuerKey | None = None) -> Issuing:
    return issue_and_write(room.folder, score(room.folder), room.path, "R. Ops", key)


def register(room: Room) -> dict[str, Issued]:
    return {one.serial: one for one in Register.of(Records.of(room.folder)).issued}


def page_of(room: Room, trainee: str) -> Path:
    return room.path / "certificates" / f"{trainee}.html"


def told(said: str, key: IssuerKey, room: Room | None = None) -> tuple[bool, str]:
    """Whether nothing speaks against a certificate, and all that is said of it."""
    remarks = list(check(said, [key.public], room.folder if room else None))
    return not any(one.differs for one in remarks), "\n".join(one.sentence for one in remarks)
