"""One Jupyter server for all browser tests, and a headless Chromium or two.

Every request that leaves this machine is written down: a workbook must not make any.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from bare_page import PlainFolder, served
from dealt import DealtClass
from driving import BAR_SAID, WAIT_MS, Server, Station
from page_host import LocalHost, running_host
from playwright.sync_api import expect, sync_playwright
from serving import FLAGS, FOR_PAGES, WHOLE, installed, running_server


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A JupyterLab server on a fresh folder; it serves Notebook 7's pages too."""
    home = tmp_path_factory.mktemp("home")
    root = tmp_path_factory.mktemp("station")
    with running_server(home, root) as running:
        yield running


@pytest.fixture(scope="session")
def practice(server: Server) -> DealtClass:
    """The demo class, dealt for practice, where the server finds it."""
    return DealtClass.make(server.root / "practice-class", "practice")


@pytest.fixture(scope="session")
def assessed(server: Server) -> DealtClass:
    """The demo class, dealt for assessment, where the server finds it."""
    return DealtClass.make(server.root / "assessed-class", "assessed")


@pytest.fixture(scope="session")
def started() -> Iterator[Callable[[Sequence[str]], Any]]:
    """Starts the first of some browsers, headless, each but once.

    Without one the tests are skipped, or fail where CI demands them.
    """
    expect.set_options(timeout=WAIT_MS)
    with sync_playwright() as playwright, ExitStack() as running:

        @cache
        def start(path: str) -> Any:
            browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
            running.callback(browser.close)
            return browser

        def first(names: Sequence[str]) -> Any:
            path = installed(names)
            if path is None and os.environ.get("LABKIT_REQUIRE_ALL"):
                pytest.fail("no Chromium found, and LABKIT_REQUIRE_ALL asks for every test")
            if path is None:
                pytest.skip("no Chromium found: the browser tests need the package 'chromium'")
            return start(path)

        yield first


@pytest.fixture(scope="session")
def browser(started: Callable[[Sequence[str]], Any]) -> Any:
    """The engine for plain pages. A file whose tests need more of a browser has its own."""
    return started(FOR_PAGES)


@pytest.fixture(scope="session")
def whole_browser(started: Callable[[Sequence[str]], Any]) -> Any:
    """A browser as trainees and trainers have it."""
    return started(WHOLE)


@pytest.fixture
def devices(browser: Any) -> Iterator[Callable[..., Any]]:
    """Opens a page at a device of its own; nothing goes wrong there, nothing leaves `here`."""
    contexts, wrong = [], []

    def opened(width: int = 1366, height: int = 768, *, here: str = "", **more: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": height}, **more)
        context.set_default_timeout(WAIT_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        known = (here, "data:")
        page.on("request", lambda r: None if r.url.startswith(known) else wrong.append(r.url))
        return page

    yield opened
    for context in contexts:
        context.close()
    assert wrong == []


@pytest.fixture(scope="module")
def host() -> Iterator[LocalHost]:
    """A web host of pages, on which a test opens workbooks."""
    with running_host() as running:
        yield running


@pytest.fixture
def page_folder(tmp_path: Path) -> Iterator[PlainFolder]:
    """For bare pages, page modules as they are, from a server that is strict about styles.

    Put together, as a notebook takes them, they are on all other bare pages.
    """
    (tmp_path / "page").mkdir()
    with served(tmp_path / "page") as folder:
        yield folder


@pytest.fixture
def station(server: Server, whole_browser: Any) -> Iterator[Station]:
    """The server and a new page at a laptop's size; nothing may have left the machine."""
    found = _sit_down(server, whole_browser)
    yield found
    found.page.context.close()
    server.stop_kernels()
    _nothing_went_wrong(found)


@pytest.fixture(scope="session")
def kept_jupyterlab(server: Server, whole_browser: Any) -> Iterator[Station]:
    """A page that is kept: to load JupyterLab takes longer than most of what is done in it."""
    found = _sit_down(server, whole_browser)
    yield found
    found.page.context.close()


@pytest.fixture
def kept(kept_jupyterlab: Station, server: Server) -> Iterator[Station]:
    """A station where workbooks are opened one after the other in the same JupyterLab.

    Not for what a page may not receive: what comes late from the workbook before is received too.
    """
    yield kept_jupyterlab
    server.stop_kernels()
    _nothing_went_wrong(kept_jupyterlab)


def _sit_down(server: Server, browser: Any) -> Station:
    context = browser.new_context(viewport={"width": 1280, "height": 720}, accept_downloads=True)
    context.set_default_timeout(WAIT_MS)
    context.add_init_script(BAR_SAID)
    found = Station(server, context.new_page())
    found.page.on("request", lambda request: _note(found, request.url))
    found.page.on("websocket", lambda socket: _listen(found, socket))
    found.page.on("pageerror", lambda error: _note_error(found, error))
    return found


def _nothing_went_wrong(station: Station) -> None:
    left, errors = station.left_this_machine[:], station.page_errors[:]
    station.left_this_machine.clear()
    station.page_errors.clear()
    station.received.clear()
    assert left == []
    assert errors == []


def _note_error(station: Station, error: Any) -> None:
    """Keep an error of ours. JupyterLab makes some of its own, now and then, with any notebook.

    Ours run from the widgets' modules (blob: addresses) or from the start-up extension. What has no
    stack may be ours, but for what JupyterLab says of its own requests when an engine dies.
    """
    stack = error.stack or ""
    if "Canceled future for create_subshell_request" in error.message:
        return
    if "blob:" in stack or "labkit" in stack or not stack:
        station.page_errors.append(f"{error.message}\n{stack}")


def _note(station: Station, url: str) -> None:
    local = (f"{station.server.url}/", "data:", "blob:", "about:")
    if not url.startswith(local):
        station.left_this_machine.append(url)


def _listen(station: Station, socket: Any) -> None:
    if not socket.url.startswith(station.server.url.replace("http", "ws", 1) + "/"):
        station.left_this_machine.append(socket.url)

    def received(frame: Any) -> None:
        text = frame if isinstance(frame, str) else frame.decode("utf-8", "replace")
        station.received.append(text)

    socket.on("framereceived", received)
