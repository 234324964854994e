"""Reading a folder of hand-ins. A hand-in is data: it is limited in size, parsed and held against a
schema and a signature; nothing in it is ever run. What is wrong with one harms no other."""

from __future__ import annotations

import re
import stat
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Final, Literal

import orjson
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from labkit.classroom.dealing import Deal, Dealt, signing_key
from labkit.lab.formats import HAND_IN_ENDING, HAND_IN_FORMAT, HAND_IN_VERSION
from labkit.lab.signing import signed
from labkit.station.handin import signed_text

TIME_FORMAT: Final = "%Y-%m-%dT%H:%M:%SZ"
MAX_BYTES: Final = 5_000_000
MAX_ENTRIES: Final = 50_000

Reason = Literal[
    "damaged", "foreign", "tampered", "late", "older copy", "same file twice", "journal damaged"
]
Short = Annotated[str, Field(max_length=200)]


def _is_a_time(value: str) -> str:
    if value != datetime.strptime(value, TIME_FORMAT).strftime(TIME_FORMAT):
        raise ValueError("not a time as labkit writes it")
    return value


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class HandInTrainee(_Strict):
    """Whom a hand-in says it is from."""

    id: Short
    name: Short


class HandInLab(_Strict):
    """Which definition a hand-in answers."""

    id: Short
    version: Short
    digest: Short


class HandInFields(_Strict):
    """Everything that a hand-in may hold."""

    format: Literal["labkit hand-in"]
    format_version: int
    workbook: Short
    class_id: Short = Field(alias="class")
    trainee: HandInTrainee
    lab: HandInLab
    made_at: Annotated[str, AfterValidator(_is_a_time)]
    unreadable_lines: Annotated[int, Field(ge=0)]
    journal: Annotated[list[dict[str, Any]], Field(max_length=MAX_ENTRIES)]
    signature: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


_SCHEMA: Final = TypeAdapter(HandInFields)


@dataclass(frozen=True, slots=True)
class HandIn:
    """A hand-in that is whole, of this class, and signed."""

    file: str
    dealt: Dealt
    made_at: str
    journal: tuple[Mapping[str, Any], ...]
    late: bool


@dataclass(frozen=True, slots=True)
class Notice:
    """Something about one file that the instructor should know."""

    file: str
    reason: Reason
    sentence: str


@dataclass(frozen=True, slots=True)
class Received:
    """What a folder of hand-ins holds: at most one hand-in a workbook, and the notices."""

    hand_ins: tuple[HandIn, ...]
    notices: tuple[Notice, ...]


class _RefusedError(Exception):
    def __init__(self, reason: Reason, sentence: str) -> None:
        super().__init__(sentence)
        self.reason: Reason = reason
        self.sentence = sentence


def receive(
    files: Iterable[Path],
    deal: Deal,
    *,
    secret: str,
    class_id: str,
    deadline: str | None,
    refuse_late: bool = False,
) -> Received:
    """Read hand-ins in any order; the same files always give the same result.

    With `refuse_late` a hand-in made after the deadline does not count, but an earlier one of the
    same trainee does.
    """
    reader = _Reader(deal, secret, class_id, deadline, refuse_late)
    for file in sorted(files, key=lambda path: (path.name, str(path))):
        if not file.name.startswith(".") and not file.is_dir():
            reader.read(file)
    return Received(tuple(reader.best.values()), tuple(reader.notices))


class _Reader:
    def __init__(
        self, deal: Deal, secret: str, class_id: str, deadline: str | None, refuse_late: bool
    ) -> None:
        self._dealt = {item.workbook: item for item in deal.dealt}
        self._labs = deal.labs
        self._secret = secret
        self._class_id = class_id
        self._deadline = deadline
        self._refuse_late = refuse_late
        self.best: dict[str, HandIn] = {}
        self.notices: list[Notice] = []
        self._seen: dict[str, str] = {}

    def read(self, file: Path) -> None:
        try:
            hand_in, unreadable, signature = self._read(file)
        except _RefusedError as refused:
            self._note(file, refused.reason, refused.sentence)
            return
        if signature in self._seen:
            first = self._seen[signature]
            self._note(file, "same file twice", f"It is the same hand-in as {first}; one counts.")
            return
        self._seen[signature] = _shown(file)
        if unreadable:
            self._note(
                file,
                "journal damaged",
                f"{unreadable} line(s) of the answer journal could not be read at the trainee's "
                "laptop; the rest counts.",
            )
        if hand_in.late:
            self._note(
                file,
                "late",
                f"Made {_spoken(hand_in.made_at)}, after the deadline {_spoken(self._deadline)}; "
                f"{'it does not count' if self._refuse_late else 'it counts all the same'}.",
            )
            if self._refuse_late:
                return
        self._keep(hand_in)

    def _note(self, file: Path, reason: Reason, sentence: str) -> None:
        self.notices.append(Notice(_shown(file), reason, sentence))

    def _keep(self, hand_in: HandIn) -> None:
        other = self.best.get(hand_in.dealt.workbook)
        if other is None:
            self.best[hand_in.dealt.workbook] = hand_in
            return
        newer, older = sorted(
            (hand_in, other), key=lambda item: (item.made_at, len(item.journal)), reverse=True
        )
        self.best[hand_in.dealt.workbook] = newer
        sentence = f"{newer.file} was made later by the same trainee; that one counts."
        self.notices.append(Notice(older.file, "older copy", sentence))

    def _read(self, file: Path) -> tuple[HandIn, int, str]:
        content = _content(file)
        fields = _fields(content)
        if fields.class_id != self._class_id:
            raise _RefusedError("foreign", f"It belongs to another class ('{fields.class_id}').")
        dealt = self._dealt.get(fields.workbook)
        if dealt is None:
            raise _RefusedError("foreign", "Its workbook was not dealt in this class.")
        key = signing_key(self._secret, dealt.workbook)
        if not signed(key, _signed_text(content), fields.signature):
            raise _RefusedError(
                "tampered",
                "Its signature does not fit: something was changed after it was made. Ask "
                f"{dealt.name} to hand in again.",
            )
        # A trainee has the key of their own workbook: who and what must fit the deal as well.
        if (fields.trainee.id, fields.lab.id) != (dealt.trainee, dealt.lab):
            raise _RefusedError("tampered", "It names another trainee or lab than its workbook's.")
        if fields.lab.digest != self._labs[dealt.lab]["digest"]:
            raise _RefusedError("foreign", "It answers another version of the lab than was dealt.")
        late = self._deadline is not None and fields.made_at > self._deadline
        hand_in = HandIn(_shown(file), dealt, fields.made_at, tuple(fields.journal), late)
        return hand_in, fields.unreadable_lines, fields.signature


def _shown(file: Path) -> str:
    """The file's name; bytes in it that are not text become question marks."""
    return file.name.encode("utf-8", "replace").decode()


def _content(file: Path) -> dict[str, Any]:
    if not re.search(r"\.json\b", file.name, re.IGNORECASE):
        raise _RefusedError(
            "foreign", f"It was not read: a hand-in's name ends with {HAND_IN_ENDING}."
        )
    try:
        content = orjson.loads(_bytes(file))
    except OSError as error:
        raise _RefusedError("damaged", f"It cannot be read ({error.strerror}).") from error
    except ValueError as error:
        raise _RefusedError(
            "damaged", "It is cut off or not a hand-in: ask for it again."
        ) from error
    if not isinstance(content, dict):
        raise _RefusedError("damaged", "It is not a hand-in.")
    if content.get("format") != HAND_IN_FORMAT:
        raise _RefusedError("foreign", "It is another kind of file, not a hand-in.")
    # Before the fields are looked at: another version may have others.
    if content.get("format_version", HAND_IN_VERSION) != HAND_IN_VERSION:
        raise _RefusedError("foreign", "It was made by another version of labkit.")
    return content


def _bytes(file: Path) -> bytes:
    if not stat.S_ISREG(file.stat().st_mode):
        raise _RefusedError("foreign", "It was not read: it is a device or a pipe, not a file.")
    with file.open("rb") as stream:
        data = stream.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise _RefusedError("damaged", f"It is longer than a hand-in may be ({MAX_BYTES} bytes).")
    return data


def _signed_text(content: dict[str, Any]) -> bytes:
    try:
        return signed_text(content)
    except RecursionError as error:
        raise _RefusedError("damaged", "Its parts are nested too deep.") from error


def _fields(content: dict[str, Any]) -> HandInFields:
    try:
        return _SCHEMA.validate_python(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = " → ".join(str(step) for step in first["loc"])
        raise _RefusedError(
            "damaged", f"Its part '{where}' is missing or not as it should be."
        ) from error


def _spoken(time: str | None) -> str:
    if time is None:
        return ""
    return datetime.strptime(time, TIME_FORMAT).strftime("%d %B %Y %H:%M UTC")
