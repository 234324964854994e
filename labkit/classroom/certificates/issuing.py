"""Who gets a certificate, and issuing: each is an entry in the register before it is on paper.

What is unchanged stays the same certificate, however often it is written. What has changed (a mark,
a name, the class's file) is a new one, and the earlier one is replaced.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Literal

from sqlalchemy import Connection

from labkit.classroom.certificates.register import (
    NOT_PASSED,
    Issued,
    Register,
    code_of,
    end_of,
    tag_of,
    told_end,
)
from labkit.classroom.certificates.statement import LabDone, Statement
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.standing import Standing, standings
from labkit.classroom.records.schema import certificates, ended
from labkit.classroom.records.store import Records, SaidMeanwhileError
from labkit.classroom.share import spoken_percent
from labkit.classroom.validity import valid_until
from labkit.exchange.clock import CLOCK

What = Literal["same", "new", "changed", "ends", "none"]
"""What issuing does for somebody: leave their certificate as it is, give the first one, one instead
of another, withdraw theirs, or nothing."""


@dataclass(frozen=True, slots=True)
class Decided:
    """What issuing would do for one person, and why; `statement` is what would be certified.

    Of a new one the serial number is not known before it is issued.
    """

    trainee: str
    name: str
    what: What
    why: str
    workbooks: tuple[str, ...]
    tag: str
    before: Issued | None = None
    statement: Statement | None = None


@dataclass(frozen=True, slots=True)
class Issuing:
    """What was done: who has which certificate now, and for how many what was done."""

    holding: dict[str, Issued]
    done: Counter[str]
    people: tuple[str, ...]

    @property
    def sentences(self) -> Iterator[str]:
        """What was done, in words."""
        done = self.done
        yield (
            f"{len(self.holding)} certificates hold: {done['new']} new, {done['changed']} instead "
            f"of one that has changed, {done['same']} as before."
        )
        if done["ends"]:
            yield f"{done['ends']} withdrawn: the pass mark is not reached any more."


def decided(folder: ClassFolder, scoring: Scoring) -> Iterator[Decided]:
    """What issuing would do for everybody, in the order of the deal. Raises `ClassError`."""
    secret, register = folder.secret(), Register.of(Records.of(folder))
    today = CLOCK.moment().astimezone(folder.fields.zone).date()
    for standing in standings(folder, scoring.results):
        theirs = scoring.results.dealt_to(standing.trainee)
        workbooks = tuple(one.workbook for one in theirs)
        first = theirs[0].origin[0]
        before = register.last_of(workbooks)
        one = Decided(
            *(standing.trainee, standing.name, "none", ""),
            workbooks,
            before.tag if before else tag_of(secret, folder.fields.id, first),
            before,
        )
        yield _decided(one, folder, scoring, standing, today)


def _decided(
    one: Decided, folder: ClassFolder, scoring: Scoring, standing: Standing, today: date
) -> Decided:
    before, holds = one.before, one.before is not None and one.before.holds
    if not standing.passed:
        if standing.passed is False and holds:
            return replace(one, what="ends", why=NOT_PASSED)
        kept = f" {before.serial} was issued, and holds." if before and holds else ""
        return replace(one, why=_why_not(standing) + kept)
    if before and before.statement:
        was = before.statement
        now = drawn_up(folder, scoring, standing, was.serial, date.fromisoformat(was.issued))
        if now == was and holds:
            return replace(one, what="same", statement=was)
        if now == was and before.end and before.end.reason != NOT_PASSED:
            return replace(one, why=f"{before.serial}: {told_end(before.end)}")
    made = drawn_up(folder, scoring, standing, "", today)
    return replace(one, what="changed" if holds else "new", statement=made)


def _why_not(standing: Standing) -> str:
    """Why somebody gets none, as a sentence."""
    if standing.pass_mark is None:
        return "The class has no pass mark: write 'pass_mark: 60' in class.yaml."
    if not standing.handed_in:
        missing = [one.dealt.lab for one in standing.results if not one.counts]
        return f"Not handed in: {', '.join(missing)}."
    if standing.passed is None:
        return f"Not decided yet: {standing.waits}."
    return "The pass mark is not reached."


def drawn_up(
    folder: ClassFolder, scoring: Scoring, standing: Standing, serial: str, issued: date
) -> Statement:
    """What is certified of somebody. Raises `ClassError` for who has not passed."""
    who = f"{standing.name} ({standing.trainee})"
    if standing.passed is None and standing.waits:
        raise ClassError(f"Whether {who} has passed is not decided yet: {standing.waits}.")
    if not standing.passed or standing.pass_mark is None:
        raise ClassError(f"{who} has not passed: no certificate.")
    fields, waits = folder.fields, standing.waits
    share = standing.share.least if waits else standing.percent
    day = date.fromisoformat(fields.date) if fields.date else issued
    labs = [(scoring.labs[one.dealt.lab], bool(one.together)) for one in standing.results]
    return Statement(
        serial=serial,
        name=standing.name,
        title=fields.title,
        place=fields.place,
        issuer=fields.issuer,
        day=day.isoformat(),
        issued=issued.isoformat(),
        until=_until(fields.valid_for, day),
        percent=spoken_percent(share, pass_mark=standing.pass_mark),
        at_least=bool(waits),
        waits=waits,
        pass_mark=f"{standing.pass_mark:.10g}",
        labs=tuple(LabDone(lab.title, lab.version, together) for lab, together in labs),
        competences=tuple(fields.competences),
    )


def _until(valid_for: str | None, day: date) -> str:
    if valid_for is None:
        return ""
    try:
        return valid_until(valid_for, day).isoformat()
    except OverflowError:
        raise ClassError(
            f"'valid_for: {valid_for}' in class.yaml ends after the last day of the calendar. "
            "Write fewer years, or leave the line out."
        ) from None


def issue(folder: ClassFolder, scoring: Scoring, by: str) -> Issuing:
    """Issue what is to be issued, replaced and withdrawn, all of it or nothing.

    Raises `ClassError`, also where somebody else issued meanwhile.
    """
    plan = list(decided(folder, scoring))
    records, secret = Records.of(folder), folder.secret()
    if any(one.what not in ("same", "none") for one in plan):
        with records.writing() as connection:
            _issued(plan, records, connection, secret, by)
    register = Register.of(records)
    last = {one.trainee: register.last_of(one.workbooks) for one in plan}
    passed = {one.trainee for one in plan if one.what in ("same", "new", "changed")}
    holding = {who: one for who, one in last.items() if one and one.holds and who in passed}
    return Issuing(holding, Counter(one.what for one in plan), tuple(one.trainee for one in plan))


def _issued(
    plan: list[Decided], records: Records, connection: Connection, secret: str, by: str
) -> None:
    register = Register.read(connection)
    new: list[dict[str, Any]] = []
    ends: list[dict[str, Any]] = []
    given: Counter[str] = Counter()
    for one in plan:
        if register.last_of(one.workbooks) != one.before:
            raise SaidMeanwhileError
        serial = ""
        if one.statement and one.what in ("new", "changed"):
            # Two people may come out at one tag, once in 26¹⁰ pairs.
            serial = f"{one.tag}-{register.next_number(one.tag) + given[one.tag]}"
            given[one.tag] += 1
            new.append(_entry(one, serial, secret, by))
        if one.before and one.what in ("changed", "ends"):
            reason = NOT_PASSED if one.what == "ends" else "What it says has changed."
            ends.append(end_of(one.before.serial, reason=reason, by=by, successor=serial))
    records.add(certificates, new, connection)
    records.add(ended, ends, connection)


def _entry(one: Decided, serial: str, secret: str, by: str) -> dict[str, Any]:
    assert one.statement is not None
    statement = replace(one.statement, serial=serial)
    return {
        "serial": serial,
        "workbook": one.workbooks[0],
        "statement": statement.text,
        "code": code_of(secret, statement),
        "by": by,
        "issued_at": CLOCK.now(),
    }
