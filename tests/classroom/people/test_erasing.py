"""After an erasure nothing that labkit wrote into a class names the person, however spelt."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import unicodedata
import zipfile
import zlib
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from urllib.parse import quote

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.certificates.paper import issue_and_write
from labkit.classroom.certificates.register import Register
from labkit.classroom.dealing.deal import deal_again
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.cards import print_cards
from labkit.classroom.exports.exporting import export
from labkit.classroom.exports.pdf import find_browser, write_pdfs
from labkit.classroom.exports.printing import print_class
from labkit.classroom.exports.roster_bundle import PERSONAL
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.pages.reports import write_pages
from labkit.classroom.people import erasing
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.records.store import Records

ID = "zq7-é"
NAMES = (
    "Zoë Quill'feather & Søn",
    "=Zelda Quillfeather",
    'Zelda "Zee" <Quill>',
    "Żełda Ωmega",
)


def spellings(text: str) -> set[bytes]:
    found: set[bytes] = set()
    for form in ("NFC", "NFD"):
        plain = unicodedata.normalize(form, text)
        quoted = plain.replace('"', '""')
        for escaped in (plain, html.escape(plain), html.escape(plain, quote=False), quoted):
            found |= {escaped.encode(), escaped.replace("&#x27;", "&#39;").encode()}
            found.add(escaped.replace("&quot;", "&#34;").replace("&#x27;", "&#39;").encode())
        found |= {json.dumps(plain)[1:-1].encode(), quote(plain).encode()}
        found |= {plain.encode("utf-16-le"), plain.encode("utf-16-be")}
    return found


def inside(data: bytes) -> Iterator[bytes]:
    """The bytes, those packed in them, and those of a PDF's streams."""
    yield data
    if data.startswith(b"PK"):
        with zipfile.ZipFile(BytesIO(data)) as packed:
            for name in packed.namelist():
                yield name.encode()
                yield from inside(packed.read(name))
    if data.startswith(b"%PDF"):
        for stream in re.findall(rb"stream\r?\n(.*?)endstream", data, re.DOTALL):
            try:
                yield zlib.decompress(stream.rstrip(b"\r\n"))
            except zlib.error:
                yield stream


def traces(room: Room, *words: str) -> list[str]:
    """Every file and folder below the class that names one of the words, in any spelling."""
    wanted = set().union(*map(spellings, words))
    found = []
    for file in room.path.rglob("*"):
        place = str(file.relative_to(room.path))
        parts = [os.fsencode(place)]
        if file.is_file() and not file.is_symlink():
            parts += inside(file.read_bytes())
        if any(word in part for word in wanted for part in parts):
            found.append(place)
    return sorted(found)


@pytest.fixture(params=NAMES)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def full(make_room: MakeRoom, tmp_path: Path, name: str) -> Room:
    """A class in which everything was done that writes, and much of it twice."""
    cell = name.replace('"', '""')
    made = make_room(f'{ID},"{cell}"', "bo,Bo Tarn", "cy,Cy Morland", pass_mark="10")
    made.deal()
    made.hand_in(ID, {"double": name})
    made.hand_in("bo")
    stick = tmp_path / "stick"
    stick.mkdir()
    theirs = next((made.path / "hand-ins").glob(f"*{ID}*")).read_bytes()
    # Cut off: neither its name nor its place says whose it is.
    (stick / "mail (1).handin.json").write_bytes(theirs[:400])
    (stick / "other.handin.json").write_bytes(theirs.replace(b'"double"', b'"treble"'))
    (stick / "whole.handin.json").write_bytes(theirs.replace(b'"format"', b' "format"'))
    (stick / unicodedata.normalize("NFD", f"tiny--{ID}.handin.json")).write_bytes(b"{ cut")
    deal_again(made.folder, made.library, [ID])
    collect(made.folder)
    collect(made.folder, [stick])
    scoring = score(made.folder)
    write_pages(made.folder, scoring)
    write_analysis(made.folder, scoring)
    write_sheets(scoring, made.folder.scores)
    # Names stand there only of alike hand-ins, which three people do not make.
    analysis = made.path / "scores" / "analysis.html"
    analysis.write_text(analysis.read_text("utf-8") + html.escape(name), encoding="utf-8")
    # So with who owes a hand-in; the page of a gain names nobody, and their result is in it.
    data = json.dumps({"people": [name]}, ensure_ascii=False)
    (made.path / "scores" / "debrief.json").write_text(data, encoding="utf-8")
    (made.path / "scores" / "gain.html").write_text("before 41 %", encoding="utf-8")
    give(made.folder, ID, "tiny", "double", ["1"], by="R. Ops", note=f"{name} told me")
    print_class(made.folder)
    export(made.folder, score(made.folder), made.path / "out" / "november")
    print_class(made.folder, made.path / "paper")
    print_cards(made.folder, to=made.path / "paper")
    return made


def without_roster_line(room: Room) -> None:
    room.write_roster("bo,Bo Tarn", "cy,Cy Morland")


def test_nothing_that_labkit_wrote_names_them(full: Room, name: str) -> None:
    before = traces(full, name, ID)
    tables = [f"out/november/oneroster/{name}.csv" for name in PERSONAL]
    pages = ("scores/analysis.html", "scores/debrief.json", "print/all-handouts.html")
    for needed in (*pages, "paper/cards.html", *tables):
        assert needed in before, needed
    assert len(before) > 20
    others = {
        place: place.read_bytes()
        for place in full.path.rglob("*")
        if re.search(r"\b(bo|cy)\b", str(place.relative_to(full.path))) and place.is_file()
    }
    assert len(others) > 12
    erase(full.folder, ID, reason="asked for it")
    without_roster_line(full)
    assert traces(full, name, ID) == []
    assert not (full.path / "scores" / "gain.html").exists()
    assert {place: place.read_bytes() for place in others} == others
    scoring = score(full.folder)
    write_pages(full.folder, scoring)
    write_analysis(full.folder, scoring)
    write_sheets(scoring, full.folder.scores)
    export(full.folder, scoring, full.path / "out" / "november")
    print_class(full.folder)
    assert traces(full, name, ID) == []


def test_a_certificate_that_was_issued_names_nobody_afterwards(
    make_room: MakeRoom, name: str
) -> None:
    cell = name.replace('"', '""')
    made = make_room(f'{ID},"{cell}"', "bo,Bo Tarn", pass_mark="0", issuer="A workshop")
    made.deal()
    made.hand_in(ID)
    made.hand_in("bo")
    issue_and_write(made.folder, score(made.folder), made.path, "R. Ops", None)
    assert {"records.sqlite", "certificates/all-certificates.html"} <= set(traces(made, name))
    erase(made.folder, ID, reason="asked for it")
    made.write_roster("bo,Bo Tarn")
    assert traces(made, name, ID) == []
    assert (made.path / "certificates" / "bo.html").exists()
    left = [one.statement is not None for one in Register.of(Records.of(made.folder)).issued]
    assert sorted(left) == [False, True]


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
@pytest.mark.parametrize("step", ["unlink", "rmtree", "write_deal", "_take_out", "compact"])
def test_an_erasure_that_was_killed_goes_on_when_repeated(
    full: Room, name: str, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = 0

    def pulled(*_: object, **__: object) -> None:
        nonlocal calls
        calls += 1
        if step != "unlink" or calls > 2:
            raise KeyboardInterrupt

    holder = {
        "unlink": Path,
        "rmtree": shutil,
        "compact": Records,
    }.get(step, erasing)
    monkeypatch.setattr(holder, step, pulled)
    with pytest.raises(KeyboardInterrupt):
        erase(full.folder, ID, reason="asked")
    monkeypatch.undo()
    without_roster_line(full)
    if step == "compact":
        with pytest.raises(ClassError, match="erased already"):
            erase(full.folder, ID, reason="asked")
    else:
        erase(full.folder, ID, reason="asked")
    assert traces(full, name, ID) == []


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
def test_who_was_only_dealt_is_erased_after_a_kill_too(
    make_room: MakeRoom, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_room(f"{ID},{name}", "bo,Bo Tarn")
    made.deal()

    def pulled(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(erasing, "_take_out", pulled)
    with pytest.raises(KeyboardInterrupt):
        erase(made.folder, ID, reason="asked")
    monkeypatch.undo()
    erase(made.folder, ID, reason="asked")
    made.write_roster("bo,Bo Tarn")
    assert traces(made, name, ID) == []


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
def test_what_is_the_trainer_s_is_listed_with_what_to_do(
    full: Room, name: str, tmp_path: Path
) -> None:
    export(full.folder, score(full.folder), tmp_path / "stick" / "out")
    print_class(full.folder, tmp_path / "stick" / "paper")
    held = held_of(full.folder, ID)
    assert {item["what"] for item in held["handed_on"]} == {"export", "print"}
    shutil.copy(full.path / "scores" / "score-sheet.xlsx", full.path / "sheet for the boss.xlsx")
    (full.path / "notes.txt").write_text(f"{unicodedata.normalize('NFD', name)} came late")
    (full.path / "mine.html").write_text(html.escape(name))
    (full.path / "photo of Bo.txt").write_text("Bo")
    done = erase(full.folder, ID, reason="asked")
    told = "\n".join(done.left_to_do)
    for words in ("roster.csv", "sheet for the boss.xlsx", "notes.txt", "mine.html"):
        assert words in told
    assert "photo of Bo" not in told
    assert str(tmp_path / "stick" / "out") in told
    assert str(tmp_path / "stick" / "paper") in told
    assert "sticks" in told
    assert (full.path / "notes.txt").exists()


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
def test_words_in_the_records_that_name_them_are_told(full: Room, name: str) -> None:
    from labkit.classroom.corrections.correcting import void

    void(full.folder, "tiny", "parity", reason=f"{name} found a misprint", by="R. Ops")
    done = erase(full.folder, ID, reason="asked")
    assert any("1 entry" in line and "voids" in line for line in done.left_to_do)


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
@pytest.mark.parametrize("words", ["{name} asked", "asked by {id}"])
def test_a_reason_that_names_them_would_stay_for_ever(full: Room, name: str, words: str) -> None:
    with pytest.raises(ClassError, match="without naming"):
        erase(full.folder, ID, reason=words.format(name=name, id=ID))
    assert held_of(full.folder, ID)["deal"]


def test_a_person_of_the_same_name_keeps_what_is_theirs(make_room: MakeRoom) -> None:
    made = make_room(f"{ID},Ann Orrel", "bo,Ann Orrel")
    made.deal()
    for trainee in (ID, "bo"):
        file = made.hand_in(trainee)
        data = file.read_bytes()
        file.write_bytes(data[: len(data) - 40])
        file.rename(file.with_name(f"{len(trainee)}.handin.json"))
    collect(made.folder)
    erase(made.folder, ID, reason="asked")
    assert [file.name for file in (made.path / "hand-ins").iterdir()] == ["2.handin.json"]


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
def test_leftovers_of_killed_runs_go(full: Room, name: str) -> None:
    for place in (
        "scores/.overview.html.4711.part",
        "deal.json.part",
        "hand-ins/received/.0a.handin.json.4711.part",
        "out/november/oneroster/.results.csv.part",
    ):
        (full.path / place).write_text(name)
    (full.path / "labs" / "engine.part").write_text("a drawing of the trainer's own")
    erase(full.folder, ID, reason="asked")
    without_roster_line(full)
    assert traces(full, name, ID) == []
    assert (full.path / "labs" / "engine.part").exists()


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
@pytest.mark.skipif(os.name != "posix", reason="making a link needs rights elsewhere")
def test_a_link_that_is_called_after_them_goes_and_not_what_it_leads_to(
    full: Room, name: str, tmp_path: Path
) -> None:
    (tmp_path / "mine").write_text(name)
    (full.path / "hand-ins" / f"tiny--{ID}.handin.json.lnk").symlink_to(tmp_path / "mine")
    (full.home(ID) / "link").symlink_to(tmp_path)
    erase(full.folder, ID, reason="asked")
    without_roster_line(full)
    assert traces(full, name, ID) == []
    assert (tmp_path / "mine").read_text() == name


@pytest.mark.parametrize("name", NAMES[:1], indirect=True)
def test_pdf_files_go_with_their_pages(full: Room, name: str) -> None:
    browser, pages = find_browser(), list((full.path / "print").rglob("*.html"))
    if browser:
        write_pdfs(browser, pages)
    for page in pages if browser is None else []:
        page.with_suffix(".pdf").write_bytes(b"%PDF-1.4 " + name.encode())
    erase(full.folder, ID, reason="asked")
    left = {file.name for file in (full.path / "print").rglob("*.pdf")}
    assert left == {"bo.pdf", "cy.pdf"}
