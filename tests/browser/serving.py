"""A Jupyter server of the tests' own, and how their browsers are found and started.

The server runs with every folder of its own (HOME, config, data, settings), so that nothing of the
developer's own Jupyter is seen or changed.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psutil
from driving import Server

WHOLE = ("chromium", "chromium-browser")
"""What trainees and trainers have, for JupyterLab, downloads, printing and a class day."""
FOR_PAGES = ("chromium-headless-shell", *WHOLE)
"""The same engine, of the same Debian source, without windows: pages take half the time."""
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def installed(names: Sequence[str]) -> str | None:
    """The first of these programs that this machine has."""
    return next((path for name in names if (path := shutil.which(name))), None)


def is_whole(browser: Any) -> bool:
    """Whether a running browser is a whole one; one without windows calls itself otherwise."""
    product = browser.new_browser_cdp_session().send("Browser.getVersion")["product"]
    return str(product).startswith("Chrome/")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running_server(home: Path, root: Path) -> Iterator[Server]:
    """A JupyterLab server on the folder `root`; it serves Notebook 7's pages too.

    Raises `RuntimeError` with the server's last words when it does not come up.
    """
    settings = home / "settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True)
    (settings / "notification.jupyterlab-settings").write_text('{"fetchNews": "false"}')
    # Whether JupyterLab should be built anew is asked of node each time a page of it is opened.
    page = home / "config" / "labconfig"
    page.mkdir(parents=True)
    (page / "page_config.json").write_text('{"buildAvailable": false, "buildCheck": false}')
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
        yield Server(root, url, process, home / "server.log", settings.parent)
    finally:
        process.terminate()
        try:
            process.wait(timeout=20)
        except subprocess.TimeoutExpired:  # on a busy machine its engines take longer to end
            for each in [*psutil.Process(process.pid).children(recursive=True), process]:
                each.kill()
            process.wait()
        log.close()


def _wait_for(url: str, process: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(480):
        if process.poll() is not None:
            raise RuntimeError(f"the Jupyter server stopped:\n{log.read_text()[-2000:]}")
        try:
            with urllib.request.urlopen(url, timeout=2):
                return
        except OSError:
            time.sleep(0.25)
    raise RuntimeError(f"the Jupyter server did not answer:\n{log.read_text()[-2000:]}")
