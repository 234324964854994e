"""A preview served to the browser of this machine alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from labkit.page.serving import HERE, first_free, listening, serve_here
from labkit.preview.app import PreviewApp
from labkit.preview.previewed import Previewed

PORT: Final = 8650


def serve_preview(
    file: Path,
    seed: str,
    said: Callable[[str], None],
    *,
    practice: bool,
    port: int | None = None,
    browser: bool = True,
) -> None:
    """Show the lab in `file` while it is written, until it is ended (Ctrl+C). Nothing is kept.

    `said` is called with the address, which holds the key. Without a `port` it is `PORT`, or the
    next one that is free. Raises `WayError` where none can be had.
    """
    port = first_free(HERE, PORT) if port is None else port
    with (
        listening(HERE, port) as made,
        TemporaryDirectory(prefix="labkit-preview-", ignore_cleanup_errors=True) as folder,
    ):
        served = PreviewApp(Previewed(file, seed, Path(folder), practice=practice))
        address = f"http://{HERE}:{made.getsockname()[1]}/{served.key}/"
        serve_here(served.app, made, address, said, browser=browser)
