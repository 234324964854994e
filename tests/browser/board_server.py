"""The board in a process of its own, for a browser."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

_SERVER: Final = """
import sys
from pathlib import Path
from labkit.board.serving import serve_board
serve_board(Path(sys.argv[1]), lambda address: print(address, flush=True), name="mira", port=0,
            browser=False)
"""


@contextmanager
def running_board(folder: Path) -> Iterator[str]:
    """A board over a folder of classes; its address, with the key, until the context ends."""
    process = subprocess.Popen(
        [sys.executable, "-c", _SERVER, str(folder)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout
        address = process.stdout.readline().strip()
        assert address, "the board did not open"
        yield address
    finally:
        process.kill()
        process.wait()
