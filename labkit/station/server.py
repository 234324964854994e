"""Serving the workbooks of one folder on this laptop: JupyterLab, on 127.0.0.1 only.

JupyterLab runs in this very process: no other program has to be started, which a laptop may forbid,
and none is left behind, however this one ends.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Sequence
from pathlib import Path
from urllib.parse import quote

from labkit.exchange.task_file import read_task, task_file_of
from labkit.exchange.whole_file import write_whole

# Both would look for news on the internet and put a pop-up over the workbook.
_QUIET = '{"fetchNews": "false", "checkForUpdates": false}'


def serve(
    notebooks: Sequence[Path], *, browser: bool, port: int, say: Callable[[str], None]
) -> None:
    """Open the notebook, or a page to choose one of several of a folder, until Ctrl+C or a signal.

    `say` takes the sentences for the terminal. Raises `TaskFileError` when the task file of the
    only workbook is missing or damaged: better said here than in the browser; `SystemExit` when
    the server cannot start.
    """
    if len(notebooks) == 1:
        read_task(task_file_of(notebooks[0]))
    os.environ["JUPYTERLAB_SETTINGS_DIR"] = str(_settings())
    from jupyterlab.labapp import LabApp

    from labkit.station.start_page import PATH, add_start_page

    folder = notebooks[0].resolve().parent
    several = len(notebooks) > 1
    first = PATH if several else f"/doc/tree/{quote(notebooks[0].name)}"
    token = secrets.token_hex(24)
    server = LabApp.initialize_server(_options(folder, first, token, browser=browser, port=port))
    if several:
        add_start_page(server, folder)
    address = f"http://127.0.0.1:{server.port}{first}?token={token}"
    what = "Your workbooks are" if several else "Your workbook is"
    way = "open in your browser. If it does not show, open this address there" if browser else "at"
    say(f"{what} {way}: {address}")
    say("Leave this window open while you work. When you are done, press Ctrl+C here.")
    server.start()


def _options(folder: Path, first: str, token: str, *, browser: bool, port: int) -> list[str]:
    """Serve the folder and open the page `first`; only errors are written to the terminal."""
    import zmq

    return [
        "--ip=127.0.0.1",
        f"--port={port}",
        f"--IdentityProvider.token={token}",
        "--Application.log_level=ERROR",
        # Where it can be had: without it each engine warns in the terminal.
        *(["--KernelManager.transport_encryption=auto"] if zmq.has("curve") else []),
        f"--ServerApp.root_dir={folder}",
        "--ServerApp.answer_yes=True",
        f"--LabApp.default_url={first}",
        *([] if browser else ["--no-browser"]),
        *(["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]


def _settings() -> Path:
    """A settings folder of our own, so that the user's own JupyterLab keeps its settings."""
    from jupyter_core.paths import jupyter_data_dir

    settings = Path(jupyter_data_dir()) / "labkit-settings"
    file = settings / "@jupyterlab" / "apputils-extension" / "notification.jupyterlab-settings"
    file.parent.mkdir(parents=True, exist_ok=True)
    write_whole(file, _QUIET.encode())
    return settings
