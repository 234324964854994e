"""The record of a deal: what each trainee got, and by which bounds it was chosen (`deal.json`).

While a run of dealing goes on, each workbook has a line in `deal-unfinished.jsonl` before it has a
file; a run that was cut short goes on from there. Records of older deals are read as well: what
they do not hold has a default.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final

import ijson
import orjson
from pydantic import TypeAdapter

from labkit.classroom.dealt import DEALT_ITEM, Bounds, Deal, Dealt, Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place

if TYPE_CHECKING:
    from labkit.classroom.class_folder import ClassFolder

_RECORD_FORMAT: Final = "labkit deal"


_EDITIONS: Final = TypeAdapter(dict[str, dict[str, str]])
_BOUNDS: Final = TypeAdapter(dict[str, Bounds])


def read_deal(folder: ClassFolder) -> Deal:
    """The record of what was dealt; an empty one before the first deal. Raises `ClassError`."""
    try:
        with folder.deal_file.open("rb") as file:
            if _part(file, "format") != _RECORD_FORMAT:
                raise ValueError
            labs = _EDITIONS.validate_python(_part(file, "labs"))
            bounds = _BOUNDS.validate_python(_part(file, "bounds") or {})
            return Deal(labs, Roll(chain(_dealt(file, labs), unfinished(folder))), bounds)
    except FileNotFoundError:
        return Deal({}, Roll())
    except (ValueError, KeyError, ijson.JSONError) as error:
        raise ClassError(
            f"{folder.deal_file} is damaged: bring it back from a copy of the class folder."
        ) from error


def _part(file: BinaryIO, name: str) -> Any:
    """A part of the record that comes before its items; None where it is missing."""
    file.seek(0)
    return next(ijson.items(file, name, use_float=True), None)


def _dealt(file: BinaryIO, labs: Mapping[str, Mapping[str, str]]) -> Iterator[Dealt]:
    """The record's items, one after the other: there may be many."""
    file.seek(0)
    if not any(part[:2] == ("dealt", "start_array") for part in ijson.parse(file)):
        raise ValueError
    file.seek(0)
    for item in ijson.items(file, "dealt.item", use_float=True):
        dealt = DEALT_ITEM.validate_python(item)
        if "digest" not in labs[dealt.lab]:
            raise ValueError
        yield dealt


def unfinished(folder: ClassFolder) -> list[Dealt]:
    """What a run that was cut short had dealt. Its last line may be torn: nothing was written yet
    for that one."""
    lines = _whole_lines(folder)
    try:
        return [DEALT_ITEM.validate_python(orjson.loads(line)) for line in lines]
    except ValueError as error:
        raise ClassError(
            f"{folder.deal_log} is damaged: bring it back from a copy of the class folder."
        ) from error


def mend_log(folder: ClassFolder) -> None:
    """Take a torn last line off the log, so that lines can be added to it."""
    lines = _whole_lines(folder)
    _write(folder.deal_log, b"".join(line + b"\n" for line in lines))


def log_line(item: Dealt) -> bytes:
    """One workbook as a line of the log."""
    return orjson.dumps(item) + b"\n"


def write_deal(folder: ClassFolder, record: Deal) -> None:
    """Write the record whole."""
    data: dict[str, Any] = {
        "format": _RECORD_FORMAT,
        "labs": record.labs,
        "bounds": {lab: asdict(bounds) for lab, bounds in record.bounds.items()},
        "dealt": [_plain(item) for item in record.dealt],
    }
    _write(folder.deal_file, orjson.dumps(data, option=orjson.OPT_INDENT_2))


def _plain(item: Dealt) -> dict[str, Any]:
    plain = asdict(item)
    return plain if item.drawn else {name: plain[name] for name in plain if name != "drawn"}


def _write(file: Path, data: bytes) -> None:
    Place(file.parent).write(data, file.name)


def _whole_lines(folder: ClassFolder) -> list[bytes]:
    try:
        return folder.deal_log.read_bytes().split(b"\n")[:-1]
    except FileNotFoundError:
        return []
