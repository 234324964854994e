"""Serving the workbooks of one folder on this laptop: JupyterLab, on 127.0.0.1 only.

JupyterLab runs in this very process: no other program has to be started, which a laptop may forbid,
and none is left behind, however this one ends.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import quote

from labkit.exchange.task_file import read_task, task_file_of
from labkit.exchange.whole_file import write_whole
from labkit.station.start_page import page_of

if TYPE_CHECKING:
    from jupyter_server.serverapp import ServerApp

_MENUS: Final = ("file", "edit", "view", "run", "kernel", "tabs", "settings", "help")
_TOOLS: Final = (
    *("save", "insert", "cut", "copy", "paste", "run", "interrupt", "restart", "restart-and-run"),
    *("cellType", "kernelName", "executionProgress"),
)
START_PAGE: Final = "/labkit"
SETTINGS: Final[dict[str, dict[str, Any]]] = {
    # Both would look for news on the internet and put a pop-up over the workbook.
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    # A workbook starts by itself and is not edited: menus and bars are in its trainee's way.
    "mainmenu-extension/plugin": {
        "menus": [{"id": f"jp-mainmenu-{name}", "disabled": True} for name in _MENUS]
    },
    "notebook-extension/panel": {"toolbar": [{"name": name, "disabled": True} for name in _TOOLS]},
    "statusbar-extension/plugin": {"visible": False},
}
"""What is set otherwise than JupyterLab comes, by the names of its settings."""
_OUT_OF_SIGHT: Final = (
    "@jupyterlab/running-extension",
    "@jupyterlab/toc-extension",
    "@jupyterlab/extensionmanager-extension",
    "@jupyterlab/application-extension:property-inspector",
    "@jupyterlab/debugger-extension",
    "@jupyter-notebook/lab-extension:interface-switcher",
    "@jupyter-notebook/lab-extension:launch-tree",
)
"""Plugins of JupyterLab that only put something beside the workbook, or into its bars."""


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
    _set_up_jupyterlab()
    from jupyterlab.labapp import LabApp

    folder = notebooks[0].resolve().parent
    several = len(notebooks) > 1
    first = START_PAGE if several else f"/doc/tree/{quote(notebooks[0].name)}"
    token = secrets.token_hex(24)
    server = LabApp.initialize_server(_options(folder, first, token, browser=browser, port=port))
    if several:
        _add_start_page(server, folder)

    def tell() -> None:
        address = f"http://127.0.0.1:{server.port}{first}?token={token}"
        what = "Your workbooks are" if several else "Your workbook is"
        way = "open in your browser. If it does not show, open this address there"
        say(f"{what} {way if browser else 'at'}: {address}")
        say("Leave this window open while you work. When you are done, press Ctrl+C here.")

    # The server listens only once its loop runs, by a callback that stands before this one; its
    # port may be another then.
    server.io_loop.add_callback(tell)
    server.start()


def _add_start_page(server: ServerApp, folder: Path) -> None:
    """Serve the page to choose a workbook; each workbook shows a way back to it."""
    from jupyter_server.base.handlers import JupyterHandler
    from tornado.web import authenticated

    class StartPage(JupyterHandler):
        """The page, made anew each time: how far each lab is stands on it."""

        @authenticated
        def get(self) -> None:
            self.set_header("Cache-Control", "no-store")  # not the one that the browser kept
            self.finish(page_of(folder, self.base_url))

    address = server.base_url.rstrip("/") + START_PAGE
    server.web_app.add_handlers(".*$", [(address, StartPage)])  # type: ignore[no-untyped-call]
    server.web_app.settings.setdefault("page_config_data", {})["labkitStart"] = address


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


def _set_up_jupyterlab() -> None:
    """Settings and configuration folders of our own: the user's own JupyterLab keeps its own."""
    from jupyter_core.paths import jupyter_data_dir

    settings = Path(jupyter_data_dir()) / "labkit-settings"
    for name, values in SETTINGS.items():
        _write(settings / "@jupyterlab" / f"{name}.jupyterlab-settings", values)
    os.environ["JUPYTERLAB_SETTINGS_DIR"] = str(settings)
    config = Path(jupyter_data_dir()) / "labkit-config"
    disabled = dict.fromkeys(_OUT_OF_SIGHT, True)
    _write(config / "labconfig" / "page_config.json", {"disabledExtensions": disabled})
    others = os.environ.get("JUPYTER_CONFIG_PATH")
    os.environ["JUPYTER_CONFIG_PATH"] = os.pathsep.join(
        [str(config), *([others] if others else [])]
    )


def _write(file: Path, values: dict[str, Any]) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    write_whole(file, json.dumps(values).encode())
