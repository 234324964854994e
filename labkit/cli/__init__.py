"""The command `labkit`. It parses, calls and prints; what it calls is loaded only when needed."""

from __future__ import annotations

import sys

from labkit.cli import (
    authoring,
    beginning,
    board,
    certificates,
    class_day,
    printing,
    records,
    rig_cards,
    room,
    trainee,
    watching,
)
from labkit.cli.app import app
from labkit.cli.screen import take_any_letter, tell

__all__ = [
    "app",
    "authoring",
    "beginning",
    "board",
    "certificates",
    "class_day",
    "main",
    "printing",
    "records",
    "rig_cards",
    "room",
    "trainee",
    "watching",
]


def main() -> None:
    """Run the command; every error becomes a sentence."""
    take_any_letter()
    try:
        app()
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        sys.exit(130)
    except Exception as error:
        tell(error)
        sys.exit(1)
