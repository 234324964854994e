"""Reading a hand-in. It is data: limited in size, parsed, held against its parts and a signature;
nothing in it is ever run. What is wrong with one harms no other."""

from __future__ import annotations

import errno
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, Literal

import orjson

from labkit.classroom.dealing.seeds import signing_key
from labkit.classroom.dealt import Deal, Dealt
from labkit.classroom.unlinked import LinkError, open_unlinked
from labkit.errors import LabkitError
from labkit.exchange.formats import HAND_IN_ENDING
from labkit.exchange.hand_in import HandInContent, HandInError, read_hand_in, signed_text
from labkit.exchange.journal import ANSWER
from labkit.exchange.signing import signed

MAX_BYTES: Final = 5_000_000

Outcome = Literal["whole", "damaged", "foreign", "tampered"]
"""What one file is by itself."""
NAMED: Final = r"\.json\b"
"""What stands in the name of a hand-in, in either case: mail programs add to names."""
LINK: Final = (
    "It is a link, and labkit follows none: it may lead to a file of yours. If a hand-in is meant, "
    "put the file itself there."
)


@dataclass(frozen=True, slots=True)
class HandIn:
    """A hand-in that is whole, of this class, and signed."""

    file: str
    dealt: Dealt
    made_at: str
    journal: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class Examined:
    """What one file turned out to be. `hand_in` is there when it is whole.

    `digest` is the SHA-256 of its bytes, `answers` that of its answers alone, both in hexadecimal;
    `entries` counts the lines of its journal, `unreadable` those that were lost at the station.
    """

    file: str
    digest: str
    outcome: Outcome
    sentence: str = ""
    hand_in: HandIn | None = None
    unreadable: int = 0

    @property
    def answers(self) -> str:
        """The SHA-256 of the answers, whatever else the journal holds."""
        if self.hand_in is None:
            return ""
        answers = [
            (entry.get("exercise"), entry["answer"])
            for entry in self.hand_in.journal
            if entry.get("event") == ANSWER and "answer" in entry
        ]
        return sha256(json.dumps(answers, sort_keys=True).encode()).hexdigest()


class RefusedError(LabkitError):
    """Why a file is set aside."""

    def __init__(self, outcome: Outcome, sentence: str) -> None:
        super().__init__(sentence)
        self.outcome: Outcome = outcome
        self.sentence = sentence


class Reader:
    """Reads the hand-ins of one class."""

    def __init__(self, deal: Deal, secret: str, class_id: str) -> None:
        self._dealt = deal.dealt
        self._labs = deal.labs
        self._secret = secret
        self._class_id = class_id

    def examine(self, file: str, data: bytes) -> Examined:
        """What the file named `file` with these bytes is. Nothing that it holds is raised."""
        digest = sha256(data).hexdigest()
        try:
            hand_in, unreadable = self._read(file, data)
        except RefusedError as refused:
            return Examined(file, digest, refused.outcome, refused.sentence)
        return Examined(file, digest, "whole", "", hand_in, unreadable)

    def _read(self, file: str, data: bytes) -> tuple[HandIn, int]:
        content = _content(data)
        if content["class"] != self._class_id:
            raise RefusedError("foreign", f"It belongs to another class ('{content['class']}').")
        dealt = self._dealt.of_workbook(content["workbook"])
        if dealt is None:
            raise RefusedError("foreign", "Its workbook was not dealt in this class.")
        key = signing_key(self._secret, dealt.workbook)
        if not signed(key, _signed_text(content), content["signature"]):
            raise RefusedError(
                "tampered",
                "Its signature does not fit: something was changed after it was made. Ask "
                f"{dealt.name} to hand in again.",
            )
        # A trainee has the key of their own workbook: who and what must fit the deal as well.
        if (content["trainee"]["id"], content["lab"]["id"]) != (dealt.origin[0], dealt.lab):
            raise RefusedError("tampered", "It names another trainee or lab than its workbook's.")
        if content["lab"]["digest"] != self._labs[dealt.lab]["digest"]:
            raise RefusedError("foreign", "It answers another version of the lab than was dealt.")
        hand_in = HandIn(file, dealt, content["made_at"], tuple(content["journal"]))
        return hand_in, content["unreadable_lines"]


def shown(file: Path) -> str:
    """The file's name; bytes in it that are not text become question marks."""
    return file.name.encode("utf-8", "replace").decode()


def may_be_one(name: str) -> bool:
    """Whether a file of that name may be a hand-in."""
    return re.search(NAMED, name, re.IGNORECASE) is not None


def read_bytes(file: Path, top: Path) -> bytes:
    """The bytes of a file that may be a hand-in, at or below `top`. Raises `RefusedError`.

    No link below `top` is followed.
    """
    if not may_be_one(file.name):
        raise RefusedError(
            "foreign", f"It was not read: a hand-in's name ends with {HAND_IN_ENDING}."
        )
    try:
        with open_unlinked(file, top) as stream:
            data = stream.read(MAX_BYTES + 1)
    except LinkError as error:
        raise RefusedError("foreign", LINK) from error
    except OSError as error:
        if error.errno == errno.EINVAL:
            raise RefusedError("foreign", f"It was not read: {error.strerror}.") from error
        raise RefusedError("damaged", f"It cannot be read ({error.strerror}).") from error
    if len(data) > MAX_BYTES:
        raise RefusedError("damaged", f"It is longer than a hand-in may be ({MAX_BYTES} bytes).")
    return data


def _content(data: bytes) -> HandInContent:
    try:
        return read_hand_in(orjson.loads(data))
    except HandInError as error:
        raise RefusedError("damaged" if error.damaged else "foreign", str(error)) from error
    except ValueError as error:
        raise RefusedError(
            "damaged", "It is cut off or not a hand-in: ask for it again."
        ) from error


def _signed_text(content: HandInContent) -> bytes:
    try:
        return signed_text(content)
    except RecursionError as error:
        raise RefusedError("damaged", "Its parts are nested too deep.") from error
