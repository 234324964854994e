"""A class whose certificates may be issued."""

from __future__ import annotations

from pathlib import Path

import pytest
from tiny_class import Room

from labkit.classroom.certificates.issuer_key import IssuerKey, make_key


@pytest.fixture
def key(tmp_path: Path) -> IssuerKey:
    return make_key(tmp_path / "keys")


@pytest.fixture
def passed(room: Room) -> Room:
    """Ann earns 8 of 8, Ben 4, Cy hands in nothing; 50 % are needed."""
    room.write_class(
        pass_mark="50",
        date="2026-11-27",
        place="Packing hall",
        issuer="Brindlemere Workshop",
        valid_for="24 months",
        competences="['Doubles a length', 'Counts to three']",
    )
    room.hand_in("ann")
    room.hand_in("ben", {"double": room.right("ben")["double"]})
    return room
