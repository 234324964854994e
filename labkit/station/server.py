"""Serving one workbook on this laptop: JupyterLab's single-document page, on 127.0.0.1 only.

JupyterLab runs in this very process: no other program has to be started, which a laptop may forbid,
and none is left behind, however this one ends.
"""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import quote

from labkit.exchange.task_file import read_task, task_file_of
from labkit.exchange.whole_file import write_whole

# Both would look for news on the internet and put a pop-up over the workbook.
_QUIET = '{"fetchNews": "false", "checkForUpdates": false}'


def serve(notebook: Path, *, browser: bool, port: int) -> None:
    """Open `notebook` and serve it until Ctrl+C or a signal ends it.

    Raises `TaskFileError` when the workbook's task file is missing or damaged: better said here
    than in the browser; `SystemExit` when the server cannot start.
    """
    read_task(task_file_of(notebook))
    os.environ["JUPYTERLAB_SETTINGS_DIR"] = str(_settings())
    from jupyterlab.labapp import LabApp

    LabApp.launch_instance(_options(notebook, browser=browser, port=port))


def _options(notebook: Path, *, browser: bool, port: int) -> list[str]:
    """Serve `notebook`'s folder and open the notebook."""
    folder = notebook.resolve().parent
    return [
        "--ip=127.0.0.1",
        f"--port={port}",
        f"--ServerApp.root_dir={folder}",
        "--ServerApp.answer_yes=True",
        f"--LabApp.default_url=/doc/tree/{quote(notebook.name)}",
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
