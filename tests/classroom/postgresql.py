"""A PostgreSQL server of our own: a fresh cluster in a fresh folder, on a socket there only."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any

import psycopg

OWNER = "keeper"
_NUMBERS = count(1)


@dataclass(frozen=True)
class Server:
    """A server that runs; `folder` holds its socket."""

    folder: Path

    def database(self) -> str:
        """The address of a new, empty database, as class.yaml may name it."""
        name = f"records_{next(_NUMBERS)}"
        with psycopg.connect(self._words("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}".encode())
        return self.address(name)

    def address(self, name: str) -> str:
        """The address of the database `name`, whether it is there or not."""
        return f"postgresql://{OWNER}@/{name}?host={self.folder}"

    def run(self, url: str, *statements: str) -> list[list[tuple[Any, ...]]]:
        """The rows of some statements, each a transaction of its own, as any program has them."""
        name = url.rpartition("@/")[2].partition("?")[0]
        with psycopg.connect(self._words(name), autocommit=True) as connection:
            cursors = [connection.execute(statement.encode()) for statement in statements]
            return [cursor.fetchall() if cursor.description else [] for cursor in cursors]

    def _words(self, name: str) -> str:
        return f"host={self.folder} user={OWNER} dbname={name}"


def programs() -> Path | None:
    """The folder that holds initdb and pg_ctl; None where there is no server to be had."""
    # Debian keeps a folder for each version, outside of PATH.
    debian = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    found = shutil.which("initdb")
    first = debian[-1] if debian else Path(found) if found else None
    return first.parent if first else None


@contextmanager
def running(bin_folder: Path) -> Iterator[Server]:
    """A server for as long as the context lasts."""
    folder = Path(tempfile.mkdtemp(prefix="labkit-pg-"))
    owner = _not_root()
    if owner:
        os.chown(folder, owner.pw_uid, owner.pw_gid)
    data = folder / "data"

    def call(program: str, *words: str) -> None:
        done = subprocess.run(
            [bin_folder / program, *words],
            cwd=folder,
            user=owner.pw_uid if owner else None,
            group=owner.pw_gid if owner else None,
            extra_groups=[] if owner else None,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.STDOUT,
            timeout=120,
        )
        assert done.returncode == 0, f"{program} ended with {done.returncode}; see {folder}"

    # Durability has its test in SQLite; here it would only make the tests slow.
    call("initdb", "-D", str(data), "-U", OWNER, "-A", "trust", "-E", "UTF8", "--no-sync")
    options = f"-k {folder} -c listen_addresses= -c fsync=off"
    call("pg_ctl", "start", "-w", "-D", str(data), "-l", str(folder / "log"), "-o", options)
    try:
        yield Server(folder)
    finally:
        call("pg_ctl", "stop", "-w", "-D", str(data), "-m", "immediate")
        shutil.rmtree(folder)


def _not_root() -> pwd.struct_passwd | None:
    """Whom to run the server as: PostgreSQL refuses to be run by root."""
    return pwd.getpwnam("nobody") if os.geteuid() == 0 else None
