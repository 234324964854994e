"""What a pair read at the rig, line by line: instrument, place, value."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from labkit.bench.rig.judging import Heard, Measured
from labkit.bench.rig.probes import Probe
from labkit.classroom.errors import ClassError
from labkit.lab.rig import Rig
from labkit.language.near import near
from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, read_quantity

HEADS: Final = ("instrument", "place", "value")
MOST_BYTES: Final = 200_000
_OPEN: Final = frozenset({"ol", "open", "o.l", "o.l.", "0l", "∞", "inf"})
_SEPARATORS: Final = (";", "\t", ",")


@dataclass(frozen=True, slots=True)
class Line:
    """A reading, and the line that it stands in."""

    number: int
    reading: Measured | Heard


def read_measured(text: str, file: str, rig: Rig) -> list[Line]:
    """The readings in a text; lines without a value are left out.

    A comma, a semicolon or a tab parts the fields; what holds a comma itself stands in quotation
    marks. In place of the place its number on the measuring sheet will do. Raises `ClassError`:
    every line that cannot be read, with what mends it.
    """
    if len(text) > MOST_BYTES:
        raise ClassError(
            f"{file} is longer than {MOST_BYTES} characters: give one card's readings."
        )
    lines, wrong = list[Line](), list[str]()
    for number, row in _rows(text):
        try:
            reading = _read(row, rig)
        except ClassError as error:
            wrong.append(f"{file}, line {number}: {error}")
            continue
        if reading is not None:
            lines.append(Line(number, reading))
    if wrong:
        raise ClassError("\n".join(wrong))
    if not lines:
        raise ClassError(f"{file}: no reading has a value yet. Write them behind their places.")
    return lines


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    lines = text.removeprefix("\ufeff").splitlines()
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        # By the line: a decimal comma may stand in one with semicolons.
        separator = next((mark for mark in _SEPARATORS if mark in line), ",")
        cells = next(csv.reader(io.StringIO(line), delimiter=separator, skipinitialspace=True))
        row = [" ".join(cell.split()) for cell in cells]
        if [cell.lower() for cell in row[:3]] != list(HEADS):
            yield number, row


def _read(row: list[str], rig: Rig) -> Measured | Heard | None:
    while len(row) > len(HEADS) and not row[-1]:
        row.pop()
    if len(row) != len(HEADS):
        raise ClassError(
            "write three things in a line: instrument, place and value. A place or a value that "
            "holds a comma stands in quotation marks, or part the three with semicolons."
        )
    instrument, place, value = row
    if not value:
        return None
    name = instrument.lower()
    if name in rig.words:
        return _heard(name, place, value, rig)
    if name not in {probe.instrument for probe in rig.probes}:
        known = (*dict.fromkeys(probe.instrument for probe in rig.probes), *rig.words)
        raise ClassError(f"'{instrument}' is none of this rig's instruments: {', '.join(known)}.")
    probe = _probe(name, place, rig)
    return Measured(probe, _value(value, probe))


def _heard(name: str, place: str, value: str, rig: Rig) -> Heard:
    devices = list(rig.setup.layout.devices)
    device = next((each for each in devices if _same(each) == _same(place)), None)
    if device is None:
        raise ClassError(f"there is no device '{place}' on this rig. {_meant(place, devices)}")
    words = rig.words[name]
    word = next((each for each in words if _same(each) == _same(value)), None)
    if word is None:
        raise ClassError(f"'{value}' is none of the words for '{name}': {', '.join(words)}.")
    return Heard(name, device, word)


def _probe(name: str, place: str, rig: Rig) -> Probe:
    if re.fullmatch(r"\d{1,4}", place):
        number = int(place)
        if not 1 <= number <= len(rig.probes):
            raise ClassError(f"the measuring sheet has places 1 to {len(rig.probes)}, not {place}.")
        probe = rig.probes[number - 1]
        if probe.instrument != name:
            raise ClassError(f"place {place} is measured in {probe.instrument}, not in {name}.")
        return probe
    here = {probe.where: probe for probe in rig.probes if probe.instrument == name}
    for where, probe in here.items():
        if _same(where) == _same(place):
            return probe
    raise ClassError(f"'{place}' is no place of the measuring sheet. {_meant(place, list(here))}")


def _meant(written: str, known: list[str]) -> str:
    close = near(written, known)
    return f"Did you mean '{close}'?" if close else f"The first is '{known[0]}'."


def _value(text: str, probe: Probe) -> float:
    if probe.unit == "Ω" and text.lower().replace(" ", "") in _OPEN:
        return math.inf
    try:
        return read_quantity(text, UNITS[probe.unit], unit_beside=True).to(UNITS[probe.unit])
    except QuantityError as error:
        raise ClassError(f"'{text}' is no reading in {probe.unit}: {error}") from error


def _same(text: str) -> str:
    return re.sub(r"\s*([:,])\s*", r"\1", " ".join(text.replace("−", "-").split())).lower()


def to_fill_in(rig: Rig) -> str:
    """A table of all readings, the values to be written behind them."""
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow(HEADS)
    writer.writerows([probe.instrument, probe.where, ""] for probe in rig.probes)
    for instrument in rig.words:
        writer.writerows([instrument, name, ""] for name in _devices_of(rig, instrument))
    return target.getvalue()


def _devices_of(rig: Rig, instrument: str) -> list[str]:
    said = [at for by, at in rig.deck.said(None) if by == instrument]
    return said or list(rig.setup.layout.devices)
