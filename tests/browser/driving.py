"""The Jupyter server and the browser page as the tests drive them."""

from __future__ import annotations

import json
import os
import subprocess
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil
from dealt import Solution
from playwright.sync_api import TimeoutError

SHOTS = os.environ.get("LABKIT_SHOTS")
WAIT_MS = 90_000
BAR_SAID = """
window.barStates = [];
new MutationObserver((changes) => {
  for (const { target } of changes) {
    const said = target.dataset?.labkit;
    if (said && said !== window.barStates.at(-1)) window.barStates.push(said);
  }
}).observe(document, {subtree: true, childList: true, attributeFilter: ['data-labkit']});
"""
CLOSE_ALL = """() => {
  for (const each of [...jupyterapp.shell.widgets('main')]) {
    if (each.context) each.context.model.dirty = false;
    each.close();
  }
}"""
THEMES = {"light": "JupyterLab Light", "dark": "JupyterLab Dark"}


@dataclass
class Server:
    """A running Jupyter server on the folder `root`."""

    root: Path
    url: str
    process: subprocess.Popen[bytes]
    log: Path
    """What the server and its kernels write."""
    settings: Path
    """The folder of JupyterLab's settings, which a page reads when it is opened."""

    def ask(self, path: str, method: str = "GET") -> Any:
        """The server's REST interface."""
        request = urllib.request.Request(f"{self.url}/api/{path}", method=method)
        with urllib.request.urlopen(request, timeout=90) as reply:
            text = reply.read()
        return json.loads(text) if text else None

    def kernel_of(self, notebook: Path) -> str:
        """The id of the kernel that runs `notebook`."""
        path = notebook.relative_to(self.root).as_posix()
        return next(str(s["kernel"]["id"]) for s in self.ask("sessions") if s["path"] == path)

    def kernel_process(self, kernel: str) -> psutil.Process:
        """The operating system's process of a kernel."""
        children = psutil.Process(self.process.pid).children(recursive=True)
        return next(child for child in children if any(kernel in part for part in child.cmdline()))

    def stop_kernels(self) -> None:
        """End every kernel, so that none takes the next test's time."""
        for session in self.ask("sessions"):
            self.ask(f"sessions/{session['id']}", "DELETE")


@dataclass
class Station:
    """A running Jupyter server, and a browser page to look at it."""

    server: Server
    page: Any
    left_this_machine: list[str] = field(default_factory=list)
    page_errors: list[str] = field(default_factory=list)
    received: list[str] = field(default_factory=list, repr=False)
    is_put_away: bool = False
    """Whether JupyterLab stands there with no workbook open."""

    def open(self, notebook: Path, *, view: str = "doc/tree", wait: bool = True) -> None:
        """Open a notebook in /doc/tree (JupyterLab), or in "lab/tree" or "notebooks"."""
        path = notebook.relative_to(self.server.root).as_posix()
        # Another page first, so that the same notebook is really opened again.
        self.page.goto("about:blank")
        # "reset": JupyterLab remembers how wide its sidebar was left, whoever left it.
        address = f"{self.server.url}/{view}/{path}?reset"
        self.page.goto(address, wait_until="domcontentloaded")
        if wait:
            self.wait_ready()

    def open_next(self, notebook: Path, *, wait: bool = True) -> None:
        """Open a notebook in the JupyterLab where another one was put away, or in a new one."""
        if not self.is_put_away:
            self.open(notebook, wait=wait)
            return
        self.is_put_away = False
        path = notebook.relative_to(self.server.root).as_posix()
        self.page.evaluate(
            "path => void jupyterapp.commands.execute('docmanager:open', {path})", path
        )
        if wait:
            self.wait_ready()

    def put_away(self) -> None:
        """Close what is open, without a question, and let the next one begin as if reloaded."""
        self.page.evaluate(CLOSE_ALL)
        self.page.wait_for_selector(".lk-handin", state="detached")
        self.page.evaluate("window.barStates.length = 0")
        self.is_put_away = True

    def wait_bar(self, state: str) -> None:
        """Until labkit's line at the top says "ready", "dead" …"""
        self.page.wait_for_selector(f'[data-labkit="{state}"]', timeout=WAIT_MS)

    def bar_said(self) -> list[str]:
        """All that the line at the top has said since the page was opened, however shortly."""
        said: list[str] = self.page.evaluate("window.barStates")
        return said

    def wait_ready(self) -> None:
        """Until labkit's start-up says that the questions are there."""
        self.wait_bar("ready")
        self.page.wait_for_selector(".lk-handin", timeout=WAIT_MS)

    def restart_kernel(self, *, asks: bool) -> None:
        """Choose Kernel → Restart Kernel; `asks`: Jupyter asks back while a kernel is alive."""
        self.page.evaluate("void jupyterapp.commands.execute('kernelmenu:restart')")
        if asks:
            self.page.locator(".jp-Dialog .jp-mod-accept").click()

    def put_up_with_dying_engines(self) -> None:
        """Press OK whenever Jupyter says that the engine died: the dialog lies over the page.

        It may come at once, late, or twice, whatever the page does meanwhile; so it is not waited
        for, but put away when it is in the way of a click.
        """
        note = self.page.locator(".jp-Dialog").filter(has_text="appears to have died")
        self.page.add_locator_handler(
            note.first, lambda found: found.locator(".jp-mod-accept").click(), no_wait_after=True
        )

    def restart_until_saved(self, name: str) -> None:
        """Restart a kernel that is gone, as often as a trainee would, until an answer is saved.

        Whether Jupyter asks back depends on whether it has noticed yet that the kernel is gone, and
        a restart that comes before it has noticed may come to nothing.
        """
        saved = self.page.locator(f'[data-exercise="{name}"][data-state="saved"]')
        accept = self.page.locator(".jp-Dialog .jp-mod-accept")
        for _ in range(4):
            self.restart_kernel(asks=False)
            try:
                saved.or_(accept).first.wait_for(timeout=WAIT_MS / 4)
                if accept.count():
                    accept.first.click()
                saved.wait_for(timeout=WAIT_MS / 4)
            except TimeoutError:
                continue
            return
        self.wait_state(name, "saved")

    def exercise(self, name: str) -> Any:
        """The frame of one exercise."""
        return self.page.locator(f'[data-exercise="{name}"]')

    def wait_state(self, name: str, state: str) -> None:
        """Until an exercise's frame is "saved", "stuck", "editing" …"""
        self.page.wait_for_selector(
            f'[data-exercise="{name}"][data-state="{state}"]', timeout=WAIT_MS
        )

    def wait_verdict(self, name: str, verdict: str) -> None:
        """Until an exercise is told "right", "wrong" or "unreadable"."""
        self.page.wait_for_selector(
            f'[data-exercise="{name}"][data-verdict="{verdict}"]', timeout=WAIT_MS
        )

    def fill(self, solution: Solution, answer: Any) -> None:
        """Give an answer as a trainee does, without saving it yet."""
        frame = self.exercise(solution.name)
        if solution.kind == "choice":
            text = next(o["text"] for o in solution.ask["options"] if o["id"] == answer)
            frame.get_by_role("radio", name=text, exact=True).check()
        elif solution.kind == "address_plan":
            for device, address in answer.items():
                frame.get_by_label(f"Node address of {device}", exact=True).fill(address)
        else:
            frame.get_by_role("textbox").fill(answer)

    def answer(self, solution: Solution, answer: Any) -> None:
        """Give an answer and press the button, then wait until the page says that it is saved."""
        self.fill(solution, answer)
        self.press(solution)
        self.wait_state(solution.name, "saved")

    def press(self, solution: Solution) -> None:
        """Press "Check my answer" or "Save my answer"."""
        self.exercise(solution.name).get_by_role("button", name="my answer").click()

    def value(self, name: str) -> str:
        """What stands in an exercise's line."""
        return str(self.exercise(name).get_by_role("textbox").input_value())

    def theme(self, name: str) -> None:
        """Change to the "light" or "dark" theme and wait until it is there."""
        self.page.evaluate(
            "theme => jupyterapp.commands.execute('apputils:change-theme', {theme})", THEMES[name]
        )
        light = "true" if name == "light" else "false"
        self.page.wait_for_selector(f'body[data-jp-theme-light="{light}"]', state="attached")
        # JupyterLab fades a sheet over the page; a second change meanwhile makes it stumble.
        self.page.wait_for_selector("#jupyterlab-splash", state="detached")

    def shot(self, name: str, selector: str | None = None) -> None:
        """Keep a screenshot in the folder $LABKIT_SHOTS, where one is named."""
        if not SHOTS:
            return
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        target = self.page.locator(selector) if selector else self.page
        target.screenshot(path=str(Path(SHOTS) / f"{name}.png"), animations="disabled")
