"""`labkit preview` in a process of its own."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def preview_of(file: Path) -> Iterator[str]:
    """Where the lab in `file` is shown, with the seed "one"."""
    options = ["--no-browser", "--port", "0", "--seed", "one"]
    command = [sys.executable, "-m", "labkit", "preview", str(file), *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout
            told = (re.search(r"http://\S+", line) for line in process.stdout)
            yield next(found[0] for found in told if found)
        finally:
            process.terminate()
