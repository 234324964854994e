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
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

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
SHOTS = os.environ.get("LABKIT_SHOTS")
WAIT_MS = 90_000


@dataclass
class Station:
    """A running Jupyter server on `root`, and a browser page to look at it."""

    root: Path
    url: str
    page: Any
    left_this_machine: list[str] = field(default_factory=list)
    page_errors: list[str] = field(default_factory=list)

    def open(self, notebook: Path, *, view: str = "doc/tree", wait: bool = True) -> None:
        """Open a notebook in /doc/tree (JupyterLab), or in "lab/tree" or "notebooks"."""
        path = notebook.relative_to(self.root).as_posix()
        # Another page first, so that the same notebook is really opened again.
        self.page.goto("about:blank")
        self.page.goto(f"{self.url}/{view}/{path}", wait_until="domcontentloaded")
        if wait:
            self.wait_ready()

    def wait_ready(self) -> None:
        """Until labkit's start-up says that the questions are there."""
        self.page.wait_for_selector('[data-labkit="ready"]', timeout=WAIT_MS)
        self.page.wait_for_selector(".lk-handin", timeout=WAIT_MS)

    def exercise(self, name: str) -> Any:
        """The frame of one exercise."""
        return self.page.locator(f'[data-exercise="{name}"]')

    def wait_state(self, name: str, state: str) -> None:
        """Until an exercise's frame is "saved", "stuck", "editing" …"""
        self.page.wait_for_selector(
            f'[data-exercise="{name}"][data-state="{state}"]', timeout=WAIT_MS
        )

    def shot(self, name: str) -> None:
        """Keep a screenshot in the folder $LABKIT_SHOTS, where one is named."""
        if SHOTS:
            Path(SHOTS).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=str(Path(SHOTS) / f"{name}.png"))


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A JupyterLab server on a fresh folder."""
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
    command += ["--allow-root"] if os.name == "posix" and os.geteuid() == 0 else []
    log = (home / "server.log").open("w")
    process = subprocess.Popen(
        command, env=environment, stdout=log, stderr=subprocess.STDOUT, cwd=root
    )
    url = f"http://127.0.0.1:{port}"
    try:
        _wait_for(url + "/api", process, home / "server.log")
        yield root, url
    finally:
        process.terminate()
        process.wait(timeout=20)


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
def station(server: tuple[Path, str], browser: Any) -> Iterator[Station]:
    """The server and a new page at a laptop's size; nothing may have left the machine."""
    root, url = server
    context = browser.new_context(viewport={"width": 1280, "height": 800}, accept_downloads=True)
    found = Station(root, url, context.new_page())
    found.page.on("request", lambda request: _note(found, request.url))
    found.page.on("pageerror", lambda error: found.page_errors.append(str(error)))
    yield found
    context.close()
    assert found.left_this_machine == []
    assert found.page_errors == []


def _note(station: Station, url: str) -> None:
    local = (station.url, station.url.replace("http", "ws"), "data:", "blob:", "about:")
    if not url.startswith(local):
        station.left_this_machine.append(url)
