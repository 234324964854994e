"""PDF from our own pages, where a Chromium is installed; a browser's print window does the same.

One browser prints all pages, in as many tabs as there are cores. What it could not print, because
the page or the browser failed, is printed by a browser of its own, as every page is on Windows.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import stat
from collections import deque
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, BinaryIO, Final

from joblib import effective_n_jobs

from labkit.classroom.errors import ClassError
from labkit.classroom.exports.chromium import (
    BrowserGoneError,
    Chromium,
    PageFailedError,
    chromium,
    running,
    scratch_folder,
)
from labkit.classroom.jobs import require_jobs
from labkit.classroom.progress import Progress
from labkit.exchange.whole_file import writing_whole

SECONDS: Final = 120
"""How long a short page may take; a long one so much more for every 100,000 bytes."""
SECONDS_EACH: Final = 10
MOST_TABS: Final = 8
"""A tab takes some 150 MB of memory."""
_TOLD: Final = 3
_PIPES: Final = os.name == "posix"
_NAMES: Final = ("chromium", "chromium-browser")
_FLAGS: Final = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def find_browser() -> str | None:
    """The path of a Chromium; None where none is installed."""
    return next((found for name in _NAMES if (found := shutil.which(name))), None)


def write_pdfs(
    browser: str, pages: Sequence[Path], progress: Progress | None = None, jobs: int = -1
) -> list[Path]:
    """Print each of `pages` into a PDF beside it, and return those, `jobs` at a time.

    −1 is one a processor core. `progress` is called with (done, all) in bytes of the pages, as
    they take their time by their length. A PDF appears whole or not at all. Raises `ClassError`
    with sentences when every page was tried and some could not be printed.
    """
    require_jobs(jobs)
    hands = min(effective_n_jobs(jobs), MOST_TABS, len(pages))
    # With many hands the longest first, so that none is left alone with it. With two, the longest
    # are as long as all others together, and nothing would be known of the speed for half the time.
    order = sorted(pages, key=_length, reverse=True) if hands > 2 else pages
    printing = _Printing(browser, order, progress)
    _ran(printing.run(hands))
    printing.tell()
    return [_pdf_of(page) for page in pages]


def _ran(work: Coroutine[Any, Any, None]) -> None:
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        asyncio.run(work)
        return
    # In a notebook this thread has a loop of its own already.
    with ThreadPoolExecutor(1) as other:
        other.submit(asyncio.run, work).result()


class _Printing:
    """The pages that are not printed yet, and those that cannot be."""

    def __init__(self, browser: str, pages: Sequence[Path], progress: Progress | None) -> None:
        self._browser = browser
        self._left = deque(pages)
        self._again: list[Path] = []
        self._failed: list[tuple[Path, Exception]] = []
        self._progress = progress
        self._done, self._all = 0, sum(map(_length, pages))

    async def run(self, hands: int) -> None:
        """Print all, so many at a time. Raises `OSError` when a page cannot be read or written."""
        if _PIPES:
            await self._by_one_browser(hands)
        await _at_once(hands, self._by_browsers_of_their_own)

    def tell(self) -> None:
        """Raise `ClassError` if some could not be printed."""
        told = [
            f"{_pdf_of(page)} could not be made ({_why(error)}). Open {page} in a browser "
            "and print it from there: it gives the same pages."
            for page, error in self._failed[:_TOLD]
        ]
        more = len(self._failed) - len(told) + len(self._left)
        if more:
            told.append(f"{more} more could not be made either: print them in the same way.")
        if told:
            raise ClassError("\n".join(told))

    async def _by_one_browser(self, hands: int) -> None:
        async def work(shared: Chromium) -> None:
            tab = None
            while self._left:
                page = self._left.popleft()
                try:
                    tab = tab or await shared.tab()
                    async with asyncio.timeout(_seconds(page)):
                        with _pdf(page) as stream:
                            await tab.print(page.read_text("utf-8"), stream)
                except BrowserGoneError:
                    self._again.append(page)
                    return
                except (PageFailedError, TimeoutError):
                    self._again.append(page)
                    if tab:
                        await tab.close()
                    tab = None
                else:
                    self._is_done(page)

        try:
            command = [self._browser, *_FLAGS, *_as_superuser()]
            async with chromium(command) as shared:
                await _at_once(hands, lambda: work(shared))
        except BrowserGoneError:
            pass
        self._left.extend(self._again)

    async def _by_browsers_of_their_own(self) -> None:
        while self._left:
            if len(self._failed) >= _TOLD and not self._done:
                return  # This browser prints nothing.
            page = self._left.popleft()
            try:
                data = await _printed_alone(self._browser, page)
            except (OSError, ValueError) as error:
                self._failed.append((page, error))
                continue
            with _pdf(page) as stream:
                stream.write(data)
            self._is_done(page)

    def _is_done(self, page: Path) -> None:
        self._done += _length(page)
        if self._progress:
            self._progress(self._done, self._all)


async def _at_once(hands: int, work: Callable[[], Awaitable[None]]) -> None:
    await asyncio.gather(*(work() for _ in range(hands)))


async def _printed_alone(browser: str, page: Path) -> bytes:
    """`page` as PDF, by a browser that ends with it. Raises `OSError` or `ValueError`."""
    with scratch_folder() as scratch:
        part = Path(scratch) / "page.pdf"
        command = [browser, *_FLAGS, *_as_superuser(), "--no-pdf-header-footer"]
        command += [f"--user-data-dir={scratch}/profile", f"--print-to-pdf={part}"]
        async with running([*command, page.resolve().as_uri()], scratch) as process:
            async with asyncio.timeout(_seconds(page)):
                code = await process.wait()
        if code:
            raise ValueError(f"ended with {code}")
        data = part.read_bytes()
    if not data.startswith(b"%PDF-"):
        raise ValueError("no PDF")
    return data


def _why(error: Exception) -> str:
    return str(error) or type(error).__name__


def _pdf(page: Path) -> AbstractContextManager[BinaryIO]:
    """The PDF beside a page, to write whole.

    As private as its page is: a mode of its own would make the names in it easier to get at.
    """
    return writing_whole(_pdf_of(page), mode=stat.S_IMODE(page.stat().st_mode))


def _pdf_of(page: Path) -> Path:
    return page.with_suffix(".pdf")


def _length(page: Path) -> int:
    return page.stat().st_size


def _seconds(page: Path) -> float:
    return SECONDS + SECONDS_EACH * _length(page) / 100_000


def _as_superuser() -> list[str]:
    # Chromium refuses its sandbox to the superuser; the page is our own and runs no script.
    return ["--no-sandbox"] if os.name == "posix" and os.geteuid() == 0 else []
