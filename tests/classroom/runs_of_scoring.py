"""Scoring in processes of their own: side by side, or killed at moments that chance gives."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

SCORE = """
import sys
from pathlib import Path
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.handins import intake
from labkit.classroom.marks.scoring import score
intake.BUNDLE_FILES = 2
folder = ClassFolder.open(Path(sys.argv[1]))
print("ready", flush=True)
score(folder)
"""


def two_at_once(class_folder: Path) -> list[int]:
    """How two runs at the same time end."""
    command = [sys.executable, "-c", SCORE, str(class_folder)]
    both = [subprocess.Popen(command, stdout=subprocess.DEVNULL) for _ in range(2)]
    return [process.wait(timeout=400) for process in both]


def killed(class_folder: Path, runs: int, longest_s: float, seed: int) -> int:
    """Begin so many runs and kill each, `longest_s` after it began at the latest.

    How many of them were still running then.
    """
    chance, count = random.Random(seed), 0
    for _ in range(runs):
        process = subprocess.Popen(
            [sys.executable, "-c", SCORE, str(class_folder)], stdout=subprocess.PIPE
        )
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(chance.uniform(0, longest_s))
        process.kill()
        count += process.wait() < 0
        process.stdout.close()
    return count
