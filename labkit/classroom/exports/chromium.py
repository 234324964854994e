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
import json
import os
import signal
import tempfile
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from itertools import count
from typing import Any, BinaryIO, Final

_FLAGS: Final = ("--remote-debugging-pipe", "--no-startup-window")
# Whatever else it would say goes nowhere: its first three ends are nobody's.
_WITH_PIPES: Final = 'exec "$0" "$@" 3<&0 4>&1 0</dev/null 1>/dev/null'
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

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        assert process.stdin
        assert process.stdout
        self._reader, self._writer = process.stdout, process.stdin
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
    """The browser that `command` starts. Raises `BrowserGoneError` when it is there no more."""
    with scratch_folder() as scratch:
        profile = f"--user-data-dir={scratch}/profile"
        words = ["/bin/sh", "-c", _WITH_PIPES, *command, *_FLAGS, profile]
        async with running(words, scratch, asyncio.subprocess.PIPE) as process:
            browser = Chromium(process)
            listening = asyncio.create_task(browser.listen())
            try:
                yield browser
                with suppress(BrowserGoneError, PageFailedError, TimeoutError):
                    async with asyncio.timeout(_SECONDS_TO_END):
                        await browser.ask("Browser.close")
                        await process.wait()
            finally:
                listening.cancel()


def scratch_folder() -> tempfile.TemporaryDirectory[str]:
    """A folder that is not there any more when its context ends."""
    return tempfile.TemporaryDirectory(prefix="labkit-print-", ignore_cleanup_errors=True)


@asynccontextmanager
async def running(
    command: Sequence[str], scratch: str, ends: int = asyncio.subprocess.DEVNULL
) -> AsyncIterator[asyncio.subprocess.Process]:
    """A process that keeps its own files in `scratch`, with `ends` as what it reads and writes.

    When the context ends, however it ends, none of its process group is left. Raises `OSError`
    when it cannot be started.
    """
    own_group = os.name == "posix"
    process = await asyncio.create_subprocess_exec(
        *command,
        stdin=ends,
        stdout=ends,
        stderr=asyncio.subprocess.DEVNULL,
        limit=_LONGEST_ANSWER,
        env={**os.environ, "TMPDIR": scratch},
        process_group=0 if own_group else None,
    )
    try:
        yield process
    finally:
        with suppress(ProcessLookupError, PermissionError):
            if own_group:
                os.killpg(process.pid, signal.SIGKILL)
            else:
                process.kill()
        await process.wait()
