"""The board served to the browser of this machine alone."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Final

from labkit.board.app import board_app
from labkit.board.asked import Asked
from labkit.board.classes import Classes
from labkit.board.held_rooms import HeldRooms
from labkit.classroom.class_folder import CLASS_FILE
from labkit.page.serving import HERE, first_free, listening, serve_here
from labkit.room.trainers import Trainers

PORT: Final = 8640


def serve_board(
    path: Path,
    said: Callable[[str], None],
    *,
    name: str = "",
    port: int | None = None,
    browser: bool = True,
) -> None:
    """Show the classes in a folder, or one class, until it is ended (Ctrl+C).

    `said` is called with the address, which holds the key, once it answers; `name` is proposed to
    who signs in. Without a `port` it is `PORT`, or the next one that is free. Raises `WayError`
    where none can be had.
    """
    port = first_free(HERE, PORT) if port is None else port
    path = path.resolve()
    one = path.name if (path / CLASS_FILE).is_file() else ""
    with listening(HERE, port) as made, closing(HeldRooms()) as rooms:
        here, trainers = made.getsockname()[1], Trainers()
        asked = Asked(Classes(path.parent if one else path), trainers, f"labkit-board-{here}")
        place = f"class/{one}/" if one else ""
        address = f"http://{HERE}:{here}/{place}#{trainers.key}"
        app = board_app(asked, rooms, name)
        serve_here(app, made, address, said, browser=browser)
