"""PDF from our own pages, where a Chromium is installed; a browser's print window does the same."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import tempfile
from pathlib import Path
from typing import Final

from labkit.classroom.errors import ClassError
from labkit.exchange.whole_file import write_whole

SECONDS: Final = 180
_NAMES: Final = ("chromium", "chromium-browser")
_FLAGS: Final = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)


def find_browser() -> str | None:
    """The path of a Chromium; None where none is installed."""
    return next((found for name in _NAMES if (found := shutil.which(name))), None)


def write_pdf(browser: str, page: Path) -> Path:
    """Print `page` into a PDF beside it, and return that. Raises `ClassError` with a sentence.

    The PDF appears whole or not at all.
    """
    target = page.with_suffix(".pdf")
    with tempfile.TemporaryDirectory(prefix="labkit-print-", ignore_cleanup_errors=True) as scratch:
        part = Path(scratch) / "page.pdf"
        command = [browser, *_FLAGS, f"--user-data-dir={scratch}/profile"]
        # Chromium refuses its sandbox to the superuser; the page is our own and runs no script.
        command += ["--no-sandbox"] if os.name == "posix" and os.geteuid() == 0 else []
        command += [f"--print-to-pdf={part}", page.resolve().as_uri()]
        try:
            subprocess.run(command, capture_output=True, timeout=SECONDS, check=True)
            data = part.read_bytes()
            if not data.startswith(b"%PDF-"):
                raise ValueError("no PDF")
        except (OSError, ValueError, subprocess.SubprocessError) as error:
            raise ClassError(
                f"{target} could not be made ({type(error).__name__}). Open {page} in a browser "
                "and print it from there: it gives the same pages."
            ) from error
    # As private as its page is: a mode of its own would make the names in it easier to get at.
    write_whole(target, data, mode=stat.S_IMODE(page.stat().st_mode))
    return target
