"""A trainer's machine and a second device, joined by two cables, each in a network namespace.

Nothing of it touches the network of the machine that runs the tests, and no right is needed but
that to make a user namespace (Linux; some systems do not allow it).
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

TRAINER: Final = "192.168.1.5"
DEVICE: Final = "192.168.1.23"
OTHER_TRAINER: Final = "10.20.0.1"
OTHER_DEVICE: Final = "10.20.0.9"
_CABLES: Final = (
    ("room0", f"{TRAINER}/24", "dev0", f"{DEVICE}/24"),
    ("bench0", f"{OTHER_TRAINER}/24", "dev1", f"{OTHER_DEVICE}/24"),
)


class Machine:
    """One network namespace, held by a process that sleeps."""

    def __init__(self, *before: str) -> None:
        holding = [*before, "sh", "-c", "echo there; exec sleep 600"]
        self._holder = subprocess.Popen(holding, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        assert self._holder.stdout is not None
        assert self._holder.stderr is not None
        if not self._holder.stdout.readline():
            raise OSError(self._holder.stderr.read().decode().strip())

    @property
    def inside(self) -> tuple[str, ...]:
        """The words before a command that run it on this machine."""
        return ("nsenter", "-t", str(self._holder.pid), "-U", "-n", "--preserve-credentials")

    @property
    def number(self) -> str:
        return str(self._holder.pid)

    def run(self, *words: str) -> str:
        """What a command says on this machine. Raises `OSError` when it fails."""
        done = subprocess.run([*self.inside, *words], capture_output=True, text=True, timeout=120)
        if done.returncode:
            raise OSError(f"{' '.join(words)}: {done.stderr.strip()}")
        return done.stdout

    def python(self, program: str) -> subprocess.Popen[str]:
        """A program of Python that runs on this machine."""
        command = [*self.inside, sys.executable, "-u", "-c", program]
        return subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )

    def end(self) -> None:
        self._holder.kill()
        self._holder.communicate()


class World:
    """Both machines."""

    def __init__(self, trainer: Machine, device: Machine) -> None:
        self.trainer, self.device = trainer, device
        for here, at, there, opposite in _CABLES:
            trainer.run("ip", "link", "add", here, "type", "veth", "peer", "name", there)
            trainer.run("ip", "link", "set", there, "netns", device.number)
            trainer.run("ip", "addr", "add", at, "dev", here)
            trainer.run("ip", "link", "set", here, "up")
            device.run("ip", "addr", "add", opposite, "dev", there)
            device.run("ip", "link", "set", there, "up")
        trainer.run("ip", "link", "set", "lo", "up")
        trainer.run("ip", "route", "add", "default", "via", DEVICE)

    def block(self, port: int) -> None:
        """Let the trainer's machine drop what comes in for a port, as a firewall does."""
        self.trainer.run("ip", "rule", "add", "pref", "100", "lookup", "local")
        self.trainer.run("ip", "rule", "del", "pref", "0")
        rule = ("pref", "10", "ipproto", "tcp", "dport", str(port), "blackhole")
        self.trainer.run("ip", "rule", "add", *rule)

    def opens(self, address: str) -> str:
        """What the second device sees at an address; "" when nothing answers."""
        program = (
            "import urllib.request as web\n"
            "open = web.build_opener(web.ProxyHandler({})).open\n"
            f"print(open({address!r}, timeout=2).read().decode())\n"
        )
        shown = self.device.python(program)
        text, _ = shown.communicate(timeout=120)
        return text if shown.returncode == 0 else ""


@contextmanager
def two_machines() -> Iterator[World]:
    """Both machines, until the context ends. Raises `OSError` with the reason where none are."""
    missing = [name for name in ("unshare", "nsenter", "ip") if shutil.which(name) is None]
    if missing:
        raise OSError(f"{missing[0]} is not installed")
    trainer = Machine("unshare", "-r", "-n")
    try:
        device = Machine(*trainer.inside, "unshare", "-n")
        try:
            yield World(trainer, device)
        finally:
            device.end()
    finally:
        trainer.end()
