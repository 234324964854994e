"""PDF by one browser for all pages: what goes wrong with a page or the browser loses no other page.

Most of these have a stand-in for the browser, which speaks enough of its protocol and does what the
page says: it hangs, refuses, dies. The last have a real one.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import signal
import subprocess
import sys
import textwrap
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from labkit.classroom.errors import ClassError
from labkit.classroom.exports import pdf
from labkit.classroom.exports.pdf import find_browser, write_pdfs

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the stand-in for a browser is a script")

STAND_IN = f"""\
#!{sys.executable}
import base64, json, os, sys, time
from pathlib import Path

def log(*words):
    with open(os.path.join(os.path.dirname(__file__), "log"), "a") as stream:
        print(os.getpid(), *words, file=stream)

def does(what, page):
    if what + " always" in page:
        return True
    return what + " together" in page and together

together = "--remote-debugging-pipe" in sys.argv
log("together" if together else "alone")
if not together:
    page = Path(sys.argv[-1].removeprefix("file://")).read_text()
    if does("dies", page):
        sys.exit(3)
    out = next(word for word in sys.argv if word.startswith("--print-to-pdf=")).split("=")[1]
    Path(out).write_text("%PDF-alone " + page)
    sys.exit(0)

def messages():
    held = b""
    while data := os.read(3, 65536):
        *whole, held = (held + data).split(b"\\0")
        yield from map(json.loads, whole)

pages = {{}}
for asked in messages():
    method, values, tab = asked["method"], asked["params"], asked.get("sessionId")
    answer = {{"id": asked["id"], "result": {{}}}}
    if method == "Browser.close":
        break
    if method == "Target.createTarget":
        answer["result"] = {{"targetId": f"t{{asked['id']}}"}}
    elif method == "Target.attachToTarget":
        answer["result"] = {{"sessionId": "s" + values["targetId"]}}
    elif method == "Page.getFrameTree":
        answer["result"] = {{"frameTree": {{"frame": {{"id": "f"}}}}}}
    elif method == "Page.setDocumentContent":
        pages[tab] = values["html"]
    elif method == "Page.printToPDF":
        if does("dies", pages[tab]):
            os._exit(1)
        if does("hangs", pages[tab]):
            log("hangs")
            continue
        if does("fails", pages[tab]):
            answer = {{"id": asked["id"], "error": {{"message": "Printing failed"}}}}
        else:
            answer["result"] = {{"stream": tab}}
    elif method == "IO.read":
        data = base64.b64encode(b"%PDF-together " + pages[tab].encode()).decode()
        answer["result"] = {{"data": data, "eof": True, "base64Encoded": True}}
    os.write(4, json.dumps(answer).encode() + b"\\0")
"""


@pytest.fixture
def browser(tmp_path: Path) -> Path:
    file = tmp_path / "bin" / "browser"
    file.parent.mkdir()
    file.write_text(STAND_IN)
    file.chmod(0o755)
    return file


def written(folder: Path, *texts: str) -> list[Path]:
    pages = [folder / f"{number}.html" for number in range(1, len(texts) + 1)]
    for page, text in zip(pages, texts, strict=True):
        page.write_text(text)
    return pages


def how(pages: list[Path]) -> list[str]:
    """How each page was printed, if it was."""
    made = [page.with_suffix(".pdf") for page in pages]
    return [file.read_text().split()[0][5:] if file.exists() else "" for file in made]


def started(browser: Path) -> list[str]:
    """How each browser was started; none of them runs any more, and nothing half lies about."""
    lines = [line.split() for line in browser.with_name("log").read_text().splitlines()]
    for number in {int(pid) for pid, _ in lines}:
        with pytest.raises(ProcessLookupError):
            os.kill(number, 0)
    assert not list(browser.parents[1].rglob("*.part"))
    return sorted(word for _, word in lines if word != "hangs")


def test_one_browser_prints_all_and_tells_how_far_it_is_by_length(
    browser: Path, tmp_path: Path
) -> None:
    pages = written(tmp_path, "a" * 10, "b" * 30, "c" * 60, "d" * 100)
    told: list[tuple[int, int]] = []
    made = write_pdfs(str(browser), pages, lambda *step: told.append(step), jobs=1)
    assert made == [page.with_suffix(".pdf") for page in pages]
    assert told == [(10, 200), (40, 200), (100, 200), (200, 200)]
    assert started(browser) == ["together"]
    assert [file.read_text() for file in made] == [
        "%PDF-together " + page.read_text() for page in pages
    ]


def test_with_many_hands_the_longest_begins(browser: Path, tmp_path: Path) -> None:
    pages = written(tmp_path, "a", "b" * 30, "c" * 60, "d" * 100)
    told: list[tuple[int, int]] = []
    write_pdfs(str(browser), pages, lambda *step: told.append(step), jobs=3)
    assert how(pages) == ["together"] * 4
    # The shortest cannot be done before one of the other three is.
    assert told[0] != (1, 191)
    assert told[-1] == (191, 191)


@pytest.mark.parametrize("what", ["fails", "hangs"])
@pytest.mark.parametrize("jobs", [1, 2])
def test_a_page_that_the_shared_browser_cannot_print_is_printed_by_one_of_its_own(
    browser: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str, jobs: int
) -> None:
    if what == "hangs":
        monkeypatch.setattr(pdf, "SECONDS", 2)
    pages = written(tmp_path, "one", f"{what} together", "three", "four")
    write_pdfs(str(browser), pages, jobs=jobs)
    assert how(pages) == ["together", "alone", "together", "together"]
    assert started(browser) == ["alone", "together"]


@pytest.mark.parametrize("jobs", [1, 2])
def test_when_the_shared_browser_dies_the_rest_is_printed_one_by_one(
    browser: Path, tmp_path: Path, jobs: int
) -> None:
    pages = written(tmp_path, "one", "two", "dies together", "four", "five")
    write_pdfs(str(browser), pages, jobs=jobs)
    assert how(pages)[2] == "alone"
    assert "" not in how(pages)
    assert started(browser).count("together") == 1


def test_of_a_page_that_cannot_be_printed_at_all_a_sentence_tells_and_the_others_are_there(
    browser: Path, tmp_path: Path
) -> None:
    pages = written(tmp_path, "one", "dies always", "three")
    pages[1].with_suffix(".pdf").write_text("%PDF-older")
    with pytest.raises(ClassError) as told:
        write_pdfs(str(browser), pages, jobs=1)
    [sentence] = str(told.value).splitlines()
    assert sentence.startswith(f"{pages[1].with_suffix('.pdf')} could not be made (ended with 3).")
    assert f"Open {pages[1]} in a browser and print it from there" in sentence
    assert how(pages) == ["together", "older", "alone"]
    started(browser)


def test_without_pipes_every_page_has_a_browser_of_its_own(
    browser: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pdf, "_PIPES", False)
    pages = written(tmp_path, "one", "two", "three")
    write_pdfs(str(browser), pages, jobs=2)
    assert how(pages) == ["alone"] * 3
    assert started(browser) == ["alone"] * 3


@pytest.mark.parametrize(
    "body",
    [
        "exit 3",
        "exit 0",
        'for a; do case "$a" in --print-to-pdf=*) echo %PDF-half > "${a#*=}";; esac; done; exit 3',
        'for a; do case "$a" in --print-to-pdf=*) echo nonsense > "${a#*=}";; esac; done; exit 0',
        None,
    ],
    ids=["fails", "writes nothing", "fails half way", "writes nonsense", "is not there"],
)
def test_a_browser_that_prints_nothing_is_given_up_soon_in_sentences(
    tmp_path: Path, body: str | None
) -> None:
    browser = tmp_path / "browser"
    if body:
        browser.write_text(f"#!/bin/sh\necho >> {tmp_path / 'log'}\n{body}\n")
        browser.chmod(0o755)
    pages = written(tmp_path, *["<p>x</p>"] * 9)
    with pytest.raises(ClassError, match="print it from there") as told:
        write_pdfs(str(browser), pages, jobs=1)
    sentences = str(told.value).splitlines()
    assert len(sentences) == 4
    assert sentences[-1].startswith("6 more could not be made either")
    assert not list(tmp_path.glob("*.pdf*"))
    if body:
        # Once for all, then for three by themselves.
        assert len((tmp_path / "log").read_text().splitlines()) == 4


def test_it_prints_where_a_loop_runs_already(browser: Path, tmp_path: Path) -> None:
    pages = written(tmp_path, "one", "two")

    async def as_in_a_notebook() -> list[Path]:
        return write_pdfs(str(browser), pages)

    # In a thread of its own: a browser test before this one may have left a loop in ours.
    with ThreadPoolExecutor(1) as other:
        made = other.submit(asyncio.run, as_in_a_notebook()).result()
    assert all(pdf.exists() for pdf in made)


def test_ctrl_c_leaves_whole_files_and_no_browser(browser: Path, tmp_path: Path) -> None:
    pages = written(tmp_path, "one", "two", "hangs always")
    code = f"""
        import signal
        from pathlib import Path
        from labkit.classroom.exports.pdf import write_pdfs
        # Tests that run in the background may have been told to ignore it.
        signal.signal(signal.SIGINT, signal.default_int_handler)
        write_pdfs({str(browser)!r}, [Path(name) for name in {[*map(str, pages)]!r}], jobs=1)
    """
    scratch = tmp_path / "tmp"
    scratch.mkdir()
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(code)],
        stderr=subprocess.PIPE,
        env={**os.environ, "TMPDIR": str(scratch)},
    )
    log = browser.with_name("log")
    while not (log.exists() and "hangs" in log.read_text()):
        assert process.poll() is None
    process.send_signal(signal.SIGINT)
    _, told = process.communicate()
    assert told.decode().rstrip().endswith("KeyboardInterrupt")
    assert how(pages) == ["together", "together", ""]
    assert started(browser) == ["together"]
    assert not list(scratch.iterdir())


@pytest.mark.browser
def test_all_at_once_or_each_alone_the_pages_are_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found, reader = find_browser(), shutil.which("pdftotext")
    if found is None or reader is None:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            pytest.fail("no Chromium or pdftotext, and LABKIT_REQUIRE_ALL asks for every test")
        pytest.skip("no Chromium or pdftotext found: install 'chromium' and 'poppler-utils'")
    style = (
        "<style>@page { size: A5; @bottom-left { content: 'Foot ' counter(page); } }"
        " h1 { break-before: page }</style>"
    )
    texts = [
        f"<!doctype html>{style}<title>{n}</title><p>é – {n}<h1>{n}</h1>{'<p>x' * 99}"
        for n in range(3)
    ]
    pages = written(tmp_path, *texts)

    def read() -> list[bytes]:
        made = [page.with_suffix(".pdf") for page in pages]
        done = [
            subprocess.run([reader, "-layout", file, "-"], capture_output=True) for file in made
        ]
        return [each.stdout for each in done]

    write_pdfs(found, pages, jobs=2)
    together = read()
    assert b"Foot 3" in together[0]
    monkeypatch.setattr(pdf, "_PIPES", False)
    write_pdfs(found, pages, jobs=2)
    assert read() == together
