"""One Jupyter server and one headless Chromium for all browser tests.

The server runs with every folder of its own (HOME, config, data, settings), so that nothing of the
developer's own Jupyter is seen or changed. Every request that leaves this machine is written down:
a workbook must not make any.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from dealt import DealtClass
from driving import WAIT_MS, Server, Station

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A JupyterLab server on a fresh folder; it serves Notebook 7's pages too."""
    home = tmp_path_factory.mktemp("home")
    root = tmp_path_factory.mktemp("station")
    settings = home / "settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True)
    (settings / "notification.jupyterlab-settings").write_text('{"fetchNews": "false"}')
    environment = {
        **os.environ,
        "HOME": str(home),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
        "IPYTHONDIR": str(home / "ipython"),
    }
    port = _free_port()
    command = [sys.executable, "-m", "jupyter", "lab", "--no-browser", "--ip=127.0.0.1"]
    command += [f"--port={port}", "--ServerApp.port_retries=0", "--IdentityProvider.token="]
    command += [f"--ServerApp.root_dir={root}", "--LabApp.expose_app_in_browser=True"]
    command += ["--ServerApp.disable_check_xsrf=True"]
    command += ["--allow-root"] if os.name == "posix" and os.geteuid() == 0 else []
    log = (home / "server.log").open("w")
    process = subprocess.Popen(
        command, env=environment, stdout=log, stderr=subprocess.STDOUT, cwd=root
    )
    url = f"http://127.0.0.1:{port}"
    try:
        _wait_for(url + "/api", process, home / "server.log")
        yield Server(root, url, process, home / "server.log")
    finally:
        process.terminate()
        process.wait(timeout=20)
        log.close()


def _wait_for(url: str, process: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(240):
        if process.poll() is not None:
            pytest.fail(f"the Jupyter server stopped:\n{log.read_text()[-2000:]}")
        try:
            with urllib.request.urlopen(url, timeout=2):
                return
        except OSError:
            time.sleep(0.25)
    pytest.fail(f"the Jupyter server did not answer:\n{log.read_text()[-2000:]}")


@pytest.fixture(scope="session")
def practice(server: Server) -> DealtClass:
    """The demo class, dealt for practice, where the server finds it."""
    return DealtClass.make(server.root / "practice-class", "practice")


@pytest.fixture(scope="session")
def assessed(server: Server) -> DealtClass:
    """The demo class, dealt for assessment, where the server finds it."""
    return DealtClass.make(server.root / "assessed-class", "assessed")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A headless Chromium. Without one these tests are skipped, or fail where CI demands them."""
    if CHROMIUM is None:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            pytest.fail("no Chromium found, and LABKIT_REQUIRE_ALL asks for every test")
        pytest.skip("no Chromium found: install the package 'chromium' to run the browser tests")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()


@pytest.fixture
def station(server: Server, browser: Any) -> Iterator[Station]:
    """The server and a new page at a laptop's size; nothing may have left the machine."""
    context = browser.new_context(viewport={"width": 1280, "height": 720}, accept_downloads=True)
    context.set_default_timeout(WAIT_MS)
    found = Station(server, context.new_page())
    found.page.on("request", lambda request: _note(found, request.url))
    found.page.on("websocket", lambda socket: _listen(found, socket))
    found.page.on("pageerror", lambda error: _note_error(found, error))
    yield found
    context.close()
    server.stop_kernels()
    assert found.left_this_machine == []
    assert found.page_errors == []


def _note_error(station: Station, error: Any) -> None:
    """Keep an error of ours. JupyterLab makes some of its own, now and then, with any notebook.

    Ours run from the widgets' modules (blob: addresses) or from the start-up extension.
    """
    stack = error.stack or ""
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
