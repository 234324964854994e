"""Opening a class at the desk; where there is none, an invented one to try things with."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import DealResult, deal
from labkit.classroom.handins import demo
from labkit.classroom.progress import Progress
from labkit.lab.library import lab_library

_DEMO_ID: Final = "demo-class"


def class_or_demo(path: Path) -> ClassFolder:
    """The class at `path`; where nothing is, or an empty folder, a demo class is made there.

    Raises `ClassError` or `DefinitionError` with sentences.
    """
    if not path.exists() or (path.is_dir() and not any(path.iterdir())):
        return demo.make_class(path, mode="practice")
    return ClassFolder.open(path)


def is_demo(folder: ClassFolder) -> bool:
    """Whether a class is the invented one: its trainees may be played."""
    return folder.fields.id == _DEMO_ID


def deal_and_play(folder: ClassFolder, progress: Progress) -> tuple[DealResult, bool]:
    """Deal a class, and play the trainees of a demo class that has handed in nothing yet.

    Returns what was dealt, and whether trainees were played.
    """
    result = deal(folder, lab_library(), progress)
    folder.open_for_hand_ins()
    play = is_demo(folder) and not any(folder.hand_ins.iterdir())
    if play:
        demo.play(folder, folder.lab(demo.LAB), result.deal, progress)
    return result, play
