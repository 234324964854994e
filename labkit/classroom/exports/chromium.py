"""One Chromium for many pages, driven through pipes by its DevTools protocol.

The browser reads commands from its file descriptor 3 and answers on 4, each JSON with a zero byte
behind it: nobody else on the machine can drive it, as through a port. It has a process group and a
scratch folder of its own; when the context ends, however it ends, neither is there any more. POSIX
only: Windows hands pipes to a program in another way.

The protocol: https://chromedevtools.github.io/devtools-protocol/ (Browser, IO, Page, Target).
"""

from __future__ import annotations

import asyncio
import base64
import fcntl
import json
import os
import signal
import tempfile
from collections.abc import AsyncIterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from itertools import count
from typing import Any, BinaryIO, Final

_FLAGS: Final = ("--remote-debugging-pipe", "--no-startup-window")
_CHUNK: Final = 1 << 20
_LONGEST_ANSWER: Final = 1 << 24
_SECONDS_TO_ANSWER: Final = 60
_SECONDS_TO_END: Final = 5
_LOADED: Final = """
new Promise(go => document.readyState == "complete" ? go() : addEventListener("load", go))
"""


class BrowserGoneError(Exception):
    """The browser did not start, died, or answers no more."""


class PageFailedError(Exception):
    """The browser says that it cannot do this with this page."""


class Chromium:
    """A running browser, and the questions that it has not answered yet."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.WriteTransport) -> None:
        self._reader, self._writer = reader, writer
        self._numbers = count(1)
        self._open: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self._gone = False

    async def tab(self) -> Tab:
        """A new empty tab. Raises `BrowserGoneError`."""
        try:
            async with asyncio.timeout(_SECONDS_TO_ANSWER):
                made = await self.ask("Target.createTarget", url="about:blank")
                tab = {"targetId": made["targetId"]}
                held = await self.ask("Target.attachToTarget", **tab, flatten=True)
        except (PageFailedError, TimeoutError) as error:
            raise BrowserGoneError from error
        return Tab(self, made["targetId"], held["sessionId"])

    async def ask(self, method: str, session: str = "", **values: Any) -> dict[str, Any]:
        """The answer to a command of the protocol. Raises `PageFailedError`, `BrowserGoneError`."""
        if self._gone:
            raise BrowserGoneError
        number = next(self._numbers)
        command = {"id": number, "method": method, "params": values}
        if session:
            command["sessionId"] = session
        answer: asyncio.Future[dict[str, Any]] = asyncio.get_running_loop().create_future()
        self._open[number] = answer
        self._writer.write(json.dumps(command).encode() + b"\0")
        try:
            return await answer
        finally:
            del self._open[number]

    async def listen(self) -> None:
        """Hand each answer to who waits for it, until the browser is gone."""
        try:
            while True:
                told = json.loads((await self._reader.readuntil(b"\0"))[:-1])
                answer = self._open.get(told.get("id", 0))
                if answer is None or answer.done():
                    continue
                if "error" in told:
                    answer.set_exception(PageFailedError(told["error"].get("message", "")))
                else:
                    answer.set_result(told["result"])
        except (OSError, ValueError, EOFError, asyncio.LimitOverrunError):
            self._gone = True
            for answer in self._open.values():
                if not answer.done():
                    answer.set_exception(BrowserGoneError())


class Tab:
    """A tab, in which one page is printed after another."""

    def __init__(self, browser: Chromium, target: str, session: str) -> None:
        self._browser, self._target, self._session = browser, target, session

    async def print(self, page: str, stream: BinaryIO) -> None:
        """Write `page`, which is HTML and fetches nothing, as PDF on the paper of its `@page`.

        Raises `PageFailedError`, `BrowserGoneError`, and `OSError` of the stream.
        """
        frame = (await self._ask("Page.getFrameTree"))["frameTree"]["frame"]["id"]
        # A third cheaper than to open its file, which a packaged browser may not be allowed to see.
        await self._ask("Page.setDocumentContent", frameId=frame, html=page)
        await self._ask("Runtime.evaluate", expression=_LOADED, awaitPromise=True)
        paper = {"printBackground": True, "preferCSSPageSize": True}
        pdf = await self._ask("Page.printToPDF", **paper, transferMode="ReturnAsStream")
        whole = False
        while not whole:
            part = await self._ask("IO.read", handle=pdf["stream"], size=_CHUNK)
            stream.write(base64.b64decode(part["data"]))
            whole = part["eof"]
        await self._ask("IO.close", handle=pdf["stream"])

    async def close(self) -> None:
        """Close the tab, whatever runs in it."""
        with suppress(BrowserGoneError, PageFailedError, TimeoutError):
            async with asyncio.timeout(_SECONDS_TO_END):
                await self._browser.ask("Target.closeTarget", targetId=self._target)

    async def _ask(self, method: str, **values: Any) -> dict[str, Any]:
        return await self._browser.ask(method, self._session, **values)


@asynccontextmanager
async def chromium(command: Sequence[str]) -> AsyncIterator[Chromium]:
    """The browser that `command` starts. Raises `BrowserGoneError` when there is none."""
    with tempfile.TemporaryDirectory(prefix="labkit-print-", ignore_cleanup_errors=True) as scratch:
        command = [*command, *_FLAGS, f"--user-data-dir={scratch}/profile"]
        try:
            pid, reads, writes = _start(command, scratch)
        except OSError as error:
            raise BrowserGoneError from error
        async with AsyncExitStack() as closing:
            closing.callback(_end, pid)
            loop = asyncio.get_running_loop()
            reader = asyncio.StreamReader(_LONGEST_ANSWER)
            heard, _ = await loop.connect_read_pipe(
                lambda: asyncio.StreamReaderProtocol(reader), reads
            )
            closing.callback(heard.close)
            writer, _ = await loop.connect_write_pipe(asyncio.BaseProtocol, writes)
            closing.callback(writer.close)
            browser = Chromium(reader, writer)
            listening = asyncio.create_task(browser.listen())
            closing.callback(listening.cancel)
            yield browser
            await _ended(browser, pid)


def _start(command: Sequence[str], scratch: str) -> tuple[int, BinaryIO, BinaryIO]:
    """Its process, what it says, and what it hears. Raises `OSError`."""
    hears, ours = os.pipe()
    mine, says = os.pipe()
    try:
        return _spawned(command, scratch, hears, says), open(mine, "rb", 0), open(ours, "wb", 0)
    except OSError:
        os.close(ours)
        os.close(mine)
        raise
    finally:
        os.close(hears)
        os.close(says)


def _spawned(command: Sequence[str], scratch: str, hears: int, says: int) -> int:
    # Above 9, so that neither is overwritten while 3 and 4 are put in place.
    high = [fcntl.fcntl(end, fcntl.F_DUPFD_CLOEXEC, 10) for end in (hears, says)]
    nothing = [(os.POSIX_SPAWN_OPEN, end, os.devnull, os.O_RDWR, 0) for end in (0, 1, 2)]
    pipes = [(os.POSIX_SPAWN_DUP2, end, at) for end, at in zip(high, (3, 4), strict=True)]
    try:
        return os.posix_spawn(
            command[0],
            list(command),
            {**os.environ, "TMPDIR": scratch},
            file_actions=[*nothing, *pipes],
            setpgroup=0,
        )
    finally:
        for end in high:
            os.close(end)


async def _ended(browser: Chromium, pid: int) -> None:
    """Ask it to end, and wait a while until it has."""
    with suppress(BrowserGoneError, PageFailedError, TimeoutError):
        async with asyncio.timeout(_SECONDS_TO_END):
            await browser.ask("Browser.close")
            while os.waitid(os.P_PID, pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None:
                await asyncio.sleep(0.02)


def _end(pid: int) -> None:
    """End all that is left of its process group, at once."""
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
