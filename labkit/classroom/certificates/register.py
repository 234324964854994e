"""The register of a class's certificates: which hold, which were replaced or withdrawn.

A serial number is that of the class and the person, which follows from the class's secret and the
id that they were dealt to first, and how many certificates with it there have been: none is given
twice. The short code is an HMAC of the statement under the class's secret, so nobody else can
make one up.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, Self

from sqlalchemy import Connection, select

from labkit.classroom.certificates.statement import Statement
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.join_codes import ALPHABET
from labkit.classroom.records.schema import certificates, ended
from labkit.classroom.records.store import Records
from labkit.exchange.clock import CLOCK
from labkit.exchange.signing import sign

NOT_PASSED: Final = "The pass mark is not reached any more."
"""The reason for which a certificate is withdrawn without anybody's saying so."""
_TAG: Final = 10
_CODE: Final = 12
_SERIAL: Final = re.compile(rf"([{ALPHABET}]{{5}})-?([{ALPHABET}]{{5}})-?([1-9]\d{{0,5}})")
_LOOK_ALIKE: Final = str.maketrans("OQDILZSBGU", "000112586V")


@dataclass(frozen=True, slots=True)
class End:
    """Why a certificate holds no more, and the one that took its place, if any."""

    successor: str
    reason: str
    by: str
    since: str


@dataclass(frozen=True, slots=True)
class Issued:
    """A certificate that was issued; of somebody who was erased there is no statement."""

    serial: str
    workbook: str
    statement: Statement | None
    code: str
    by: str
    issued_at: str
    end: End | None = None

    @property
    def tag(self) -> str:
        """The part of the serial number that is the class's and the person's."""
        return self.serial.rpartition("-")[0]

    @property
    def holds(self) -> bool:
        """Whether it was neither replaced nor withdrawn."""
        return self.end is None


class Register:
    """All certificates that a class has issued, in their order."""

    def __init__(self, issued: Iterable[Issued]) -> None:
        self.issued = tuple(issued)
        self._last = {one.workbook: place for place, one in enumerate(self.issued)}

    @classmethod
    def of(cls, records: Records) -> Self:
        """The register as it is now."""
        with records.reading() as connection:
            return cls.read(connection)

    @classmethod
    def read(cls, connection: Connection) -> Self:
        """The register as a transaction sees it."""
        ends = {
            row["serial"]: End(row["successor"], row["reason"], row["by"], row["since"])
            for row in connection.execute(select(ended)).mappings()
        }
        rows = connection.execute(select(certificates).order_by(certificates.c.id)).mappings()
        return cls(_issued(dict(row), ends.get(row["serial"])) for row in rows)

    def last_of(self, workbooks: Iterable[str]) -> Issued | None:
        """The last certificate of the person whose workbooks these are."""
        found = [self._last[one] for one in workbooks if one in self._last]
        return self.issued[max(found)] if found else None

    def find(self, typed: str) -> Issued | None:
        """The certificate with a serial number or a short code, as somebody typed it."""
        serial, code = read_serial(typed), read_code(typed)
        for one in self.issued:
            if one.serial == serial or (code and one.code == code):
                return one
        return None

    def next_number(self, tag: str) -> int:
        """The number that the next certificate with the serial number `tag` gets."""
        return 1 + sum(one.tag == tag for one in self.issued)


def withdraw(folder: ClassFolder, typed: str, *, reason: str, by: str) -> Issued:
    """Withdraw a certificate, found by serial number or short code. Raises `ClassError`."""
    if not reason.strip():
        raise ClassError(
            "Say why it is withdrawn: --reason, for example 'printed in a wrong name'."
        )
    records = Records.of(folder)
    with records.writing() as connection:
        found = Register.read(connection).find(typed)
        if found is None:
            raise ClassError(
                f"'{typed}' is no certificate of this class: give the serial number as it is "
                "printed, such as 7KMN4-XWACT-1."
            )
        if found.end:
            raise ClassError(f"The certificate {found.serial} holds no more: {told_end(found.end)}")
        records.add(ended, [end_of(found.serial, reason=reason.strip(), by=by)], connection)
    return found


def end_of(serial: str, *, reason: str, by: str, successor: str = "") -> dict[str, Any]:
    """The entry that a certificate holds no more."""
    return {
        "serial": serial,
        "successor": successor,
        "reason": reason,
        "by": by,
        "since": CLOCK.now(),
    }


def told_end(end: End) -> str:
    """That a certificate holds no more, as a sentence."""
    if end.successor:
        return f"it was replaced by {end.successor}."
    return f"it was withdrawn. {end.reason}"


def tag_of(secret: str, class_id: str, trainee: str) -> str:
    """The part of a serial number that is the class's and the person's."""
    found = _letters(sign(secret, "\x1f".join(["certificate", class_id, trainee]).encode()), _TAG)
    return f"{found[:5]}-{found[5:]}"


def code_of(secret: str, statement: Statement) -> str:
    """The short code of a statement, as it is kept."""
    return _letters(sign(secret, b"certificate\x1f" + statement.text.encode()), _CODE)


def spoken_code(code: str) -> str:
    """A short code as it is printed, in groups of four."""
    return "-".join(code[place : place + 4] for place in range(0, len(code), 4))


def read_code(typed: str) -> str:
    """The short code that somebody typed; "" for what cannot be one."""
    bare = _bare(typed).replace("-", "")
    return bare if len(bare) == _CODE and set(bare) <= set(ALPHABET) else ""


def read_serial(typed: str) -> str:
    """The serial number that somebody typed; "" for what cannot be one."""
    match = _SERIAL.fullmatch(_bare(typed))
    return "-".join(match.groups()) if match else ""


def _bare(typed: str) -> str:
    """Case, spaces and kinds of dashes do not matter, nor which of two look-alikes it is."""
    plain = unicodedata.normalize("NFKC", typed).upper()
    dashed = ("-" if unicodedata.category(sign_) == "Pd" else sign_ for sign_ in plain)
    return "".join("".join(dashed).split()).translate(_LOOK_ALIKE)


def _letters(digits: str, length: int) -> str:
    number, found = int(digits, 16), ""
    for _ in range(length):
        number, place = divmod(number, len(ALPHABET))
        found += ALPHABET[place]
    return found


def _issued(row: dict[str, Any], end: End | None) -> Issued:
    statement = Statement.read(row["statement"])
    who = (row["serial"], row["workbook"], statement, row["code"], row["by"], row["issued_at"])
    return Issued(*who, end=end)
