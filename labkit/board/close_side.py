"""The page on which a class is closed: what is open yet, certificates, exports, backup, erasure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from labkit.board.asked import NOT_SIGNED_IN, Asked
from labkit.classroom.certificates.issuer_key import (
    IssuerKey,
    issuers_key,
    keys_folder,
    make_key,
)
from labkit.classroom.certificates.issuing import Decided, decided
from labkit.classroom.certificates.paper import certificates_page, issue_and_write
from labkit.classroom.certificates.register import Register, withdraw
from labkit.classroom.class_folder import CLASS_FILE, ClassFolder
from labkit.classroom.class_lines import Value, change_class_file, class_file_seen
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.exporting import export
from labkit.classroom.keeping import retention_remark
from labkit.classroom.marks.scoring import score, scored_before
from labkit.classroom.marks.still_open import still_open
from labkit.classroom.marks.verifying import verify
from labkit.classroom.people.personal import held_of
from labkit.classroom.people.summary import digest_of, erase_seen, held_in_words
from labkit.classroom.progress import Progress
from labkit.classroom.records.acts import last_acts, note
from labkit.classroom.records.backup import back_up
from labkit.classroom.records.store import Records
from labkit.errors import LabkitError, sentences
from labkit.exchange.clock import CLOCK
from labkit.room.asking import no, word, words

_PAPER = {"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"}
"""A certificate has its own style in it, and nothing else."""


class CloseSide:
    """What the page for closing a class asks for."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        at = "/class/{name}/close"
        asks = {
            "now": self._now,
            "open": self._open,
            "people": self._people,
            "held": self._held,
        }
        acts = {
            "issue": self._issue,
            "withdraw": self._withdraw,
            "words": self._words,
            "key": self._key,
            "export": self._export,
            "backup": self._backup,
            "verify": self._verify,
            "erase": self._erase,
            "keep": self._keep,
        }
        self.routes = [
            Route(at, self.front),
            Route(f"{at}/certificates", self.paper),
            *(Route(f"{at}/{part}", self._telling(tells)) for part, tells in asks.items()),
            *(
                Route(f"{at}/{part}", self._doing(does), methods=["POST"])
                for part, does in acts.items()
            ),
        ]

    def _telling(self, tells: Any) -> Any:
        async def told(request: Request) -> Response:
            return await self._asked.told(request, tells)

        return told

    def _doing(self, does: Any) -> Any:
        async def done(request: Request) -> Response:
            return await self._asked.done(request, does)

        return done

    async def front(self, _: Request) -> Response:
        return self._asked.page("close", "close.css")

    async def paper(self, request: Request) -> Response:
        """The certificates that hold, to print: all, or the one with a serial number."""
        if self._asked.by(request) is None:
            return no(NOT_SIGNED_IN)
        name, serial = request.path_params["name"], request.query_params.get("serial", "")
        try:
            folder = self._asked.classes.open(name)
            page = await run_in_threadpool(_paper, folder, serial)
        except (LabkitError, OSError) as error:
            return no("\n".join(sentences(error)), 409)
        return HTMLResponse(page, headers=_PAPER)

    def _now(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        fields = folder.fields
        key, wrong = _key_here()
        return {
            "title": fields.title,
            "folder": str(folder.path),
            "dealt": folder.deal_file.exists(),
            "pass_mark": fields.pass_mark,
            "issuer": fields.issuer,
            "valid_for": fields.valid_for or "",
            "competences": fields.competences,
            "keep_until": fields.keep_until or "",
            "over": retention_remark(folder),
            "seen": class_file_seen(folder),
            "key": key.public.fingerprint if key else "",
            "key_wrong": wrong,
            "keys_folder": str(keys_folder()),
            "today": CLOCK.moment().astimezone(fields.zone).date().isoformat(),
            "work": self._asked.works.last(folder.path.name),
        }

    def _open(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        points = [{"sentence": one.sentence, "command": one.command} for one in still_open(folder)]
        return {"open": points, "acts": list(last_acts(folder, Records.of(folder)))}

    def _people(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        people = [_shown(one) for one in decided(folder, scored_before(folder))]
        register = Register.of(Records.of(folder))
        earlier = [
            {
                "serial": one.serial,
                "name": one.statement.name if one.statement else "",
                "successor": one.end.successor,
                "reason": one.end.reason,
                "by": one.end.by,
                "since": folder.fields.spoken(one.end.since),
            }
            for one in register.issued
            if one.end
        ]
        return {"people": people, "earlier": earlier}

    def _issue(self, folder: ClassFolder, _: dict[str, Any], by: str) -> dict[str, Any]:
        def work(progress: Progress) -> dict[str, Any]:
            key, wrong = _key_here()
            if wrong:
                raise ClassError(wrong)
            done = issue_and_write(folder, score(folder, progress), folder.path, by, key)
            told = [*done.sentences, f"Their pages are in {folder.path / 'certificates'} too."]
            return {"told": told}

        return self._begun(folder, "Issuing certificates", by, work)

    def _withdraw(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        found = withdraw(folder, word(said, "serial"), reason=word(said, "reason"), by=by)
        return {"told": [f"Withdrawn: {found.serial}. Ask for the paper back."]}

    def _words(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        """What certificates say beside results, as `class.yaml` has it."""
        told = [line.strip() for line in words(said, "competences") if line.strip()]
        plain = {name: word(said, name).strip() for name in ("issuer", "valid_for")}
        _change(folder, {**plain, "competences": told}, _seen(said), by)
        return {"told": ["Written into class.yaml. Certificates say it once they are issued anew."]}

    def _key(self, _: ClassFolder, __: dict[str, Any], ___: str) -> dict[str, Any]:
        made = make_key(keys_folder())
        return {"told": [f"The key {made.public.fingerprint} is in {keys_folder()}."]}

    def _export(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        to = _named(said, "Name a folder for the export, such as one on a stick.")

        def work(progress: Progress) -> dict[str, Any]:
            key, wrong = _key_here()
            if wrong:
                raise ClassError(wrong)
            done = export(folder, score(folder), to, progress, by=by, key=key)
            told = f"{done.transcripts} transcripts and {done.certificates} certificates,"
            return {
                "told": [
                    f"{told} tables (oneroster) and statements.jsonl are in {done.folder}.",
                    *done.issuing.sentences,
                ]
            }

        return self._begun(folder, "Exporting", by, work)

    def _backup(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        to = _named(said, "Name a folder for the backup, such as one on a stick.")
        if not to.is_dir():
            raise ClassError(f"{to} is not there. Is the stick or the share connected?")
        moment = CLOCK.now().replace(":", "").replace("-", "")
        file = to / f"{folder.fields.id}-{moment}.zip"

        def work(_: Progress) -> dict[str, Any]:
            done = back_up(folder, file)
            told = [f"{done.files} files of the class are in {file}, read again and whole."]
            if done.code:
                told.append(f"State of the records in it: {done.code}")
            if done.left_out:
                told.append(f"Links were left out: {', '.join(done.left_out)}.")
            return {"told": told}

        return self._begun(folder, "Writing a backup", by, work)

    def _verify(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        printed = word(said, "printed").strip()

        def work(progress: Progress) -> dict[str, Any]:
            remarks = verify(folder, printed, progress)
            differs = sum(one.differs for one in remarks)
            end = f"{differs} of it differ." if differs else "Nothing differs."
            marks = ("✓", "✗")
            told = [f"{marks[one.differs]} {one.sentence}" for one in remarks]
            return {"told": [*told, end]}

        return self._begun(folder, "Verifying the records", by, work)

    def _held(self, folder: ClassFolder, asked: Mapping[str, str]) -> dict[str, Any]:
        found = held_of(folder, asked.get("id", ""))
        return {"held": list(held_in_words(folder, found)), "seen": digest_of(found)}

    def _erase(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        trainee = word(said, "id")
        if not trainee or word(said, "typed").strip() != trainee:
            raise ClassError("Nothing was erased: type the id of the person as it is shown.")
        if not word(said, "reason").strip():
            raise ClassError("Nothing was erased: say why.")
        done = erase_seen(
            folder,
            trainee,
            seen=_seen(said),
            reason=f"{word(said, 'reason').strip()} ({by})",
            keep_marks=said.get("remove_marks") is not True,
        )
        kept = "kept without a name" if done.marks_kept else "removed"
        first = f"Erased as {done.tombstone}: {done.files} files deleted, marks {kept}."
        return {"told": [first, *done.left_to_do]}

    def _keep(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        until = word(said, "until").strip()
        if until:
            try:
                date.fromisoformat(until)
            except ValueError:
                raise ClassError(f"'{until}' is not a day; write for example 2027-11-30.") from None
        _change(folder, {"keep_until": until}, _seen(said), by)
        return {"told": [f"To be kept until {until}." if until else "No day is set."]}

    def _begun(self, folder: ClassFolder, what: str, by: str, work: Any) -> dict[str, Any]:
        self._asked.works.begin(folder.path.name, what, by, work)
        return {"begun": True}


def _change(folder: ClassFolder, changes: Mapping[str, Value], seen: str, by: str) -> None:
    """Write lines of `class.yaml`, and who did."""
    change_class_file(folder, changes, seen)
    note(folder, f"Changed in {CLASS_FILE}: {', '.join(changes)}.", by)


def _paper(folder: ClassFolder, serial: str) -> str:
    key, _ = _key_here()
    register = Register.of(Records.of(folder))
    found = [
        one for one in register.issued if one.holds and one.statement and serial in ("", one.serial)
    ]
    if not found:
        raise ClassError("There is no such certificate that holds: look at the page once more.")
    return certificates_page(found, key)


def _shown(one: Decided) -> dict[str, Any]:
    holds = one.before is not None and one.before.holds
    statement = one.statement
    return {
        "id": one.trainee,
        "name": one.name,
        "what": one.what,
        "why": one.why,
        "serial": one.before.serial if one.before and holds else "",
        "result": statement.passed_with if statement else "",
    }


def _key_here() -> tuple[IssuerKey | None, str]:
    """The issuer's key on this machine, or what is wrong with it."""
    try:
        return issuers_key(keys_folder()), ""
    except ClassError as error:
        return None, str(error)


def _named(said: Mapping[str, Any], otherwise: str) -> Path:
    """The folder that a trainer named. Raises `ClassError`."""
    name = word(dict(said), "to").strip()
    if not name or "\x00" in name:
        raise ClassError(otherwise)
    place = Path(name).expanduser()
    if not place.is_absolute():
        raise ClassError(f"{name} is no whole path. Write it from its beginning on.")
    return place


def _seen(said: Mapping[str, Any]) -> str:
    """What the page has seen. Raises `ClassError` where it says nothing of it."""
    seen = word(dict(said), "seen")
    if not seen:
        raise ClassError("This page is not as it should be: load it once more.")
    return seen
