"""Serving one workbook on this laptop: JupyterLab's single-document page, on 127.0.0.1 only."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from urllib.parse import quote

from jupyter_core.paths import jupyter_data_dir

from labkit.station.handin import task_file_of
from labkit.station.task_file import read_task

# Both would look for news on the internet and put a pop-up over the workbook.
_QUIET = '{"fetchNews": "false", "checkForUpdates": false}'


def serve(notebook: Path, *, browser: bool, port: int) -> int:
    """Open `notebook` and wait until the server ends; returns the server's exit code.

    Raises `StationError` when the workbook's task file is missing or damaged: better said here
    than in the browser.
    """
    read_task(task_file_of(notebook))
    return subprocess.call(command(notebook, browser=browser, port=port), env=_environment())


def command(notebook: Path, *, browser: bool, port: int) -> list[str]:
    """The command that serves `notebook`'s folder and opens the notebook."""
    folder = notebook.resolve().parent
    return [
        sys.executable,
        "-m",
        "jupyter",
        "lab",
        "--ip=127.0.0.1",
        f"--port={port}",
        f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/doc/tree/{quote(notebook.name)}",
        *([] if browser else ["--no-browser"]),
        *(["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]


def _environment() -> dict[str, str]:
    """A settings folder of our own, so that the user's own JupyterLab keeps its settings."""
    settings = Path(jupyter_data_dir()) / "labkit-settings"
    file = settings / "@jupyterlab" / "apputils-extension" / "notification.jupyterlab-settings"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(_QUIET, encoding="utf-8")
    return {**os.environ, "JUPYTERLAB_SETTINGS_DIR": str(settings)}
