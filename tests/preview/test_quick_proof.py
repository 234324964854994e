"""The quick proof-reading: in a process of its own, which ends with whoever began it."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path
from typing import Any

import psutil
from written_lab import SLIPPING, Author

from labkit.lab.library import lab_library
from labkit.preview.quick_proof import DRAWS, proved

sys.path.append(str(Path(__file__).parents[1] / "room"))

from by_protocol import run_apart


def test_findings_come_to_their_exercises(author: Author) -> None:
    author.write(SLIPPING)
    told: list[dict[str, Any]] = []
    author.previewed.proof_begins()
    run_apart(proved(author.file, told.append))
    for said in told:
        author.previewed.proof_told(said)
    assert [said["done"] for said in told[:-1]] == list(range(5, DRAWS + 1, 5))
    now = author.now["proof"]
    assert (now["state"], now["saved"]) == ("done", author.now["saved"])
    found = next(each for each in now["findings"] if each["exercise"] == "loop")
    assert found["severity"] == "must be mended"
    assert found["source"].strip()


def test_it_ends_with_who_began_it() -> None:
    long = lab_library() / "troubleshooting" / "lab.md"

    async def stopped() -> list[psutil.Process]:
        running = asyncio.create_task(proved(long, lambda _: None))
        while not (children := _proofs()):
            await asyncio.sleep(0.02)
        running.cancel()
        await asyncio.wait({running}, timeout=5)  # its draws take far longer
        assert running.done()
        return children

    (child,) = run_apart(stopped())
    assert not child.is_running()


def _proofs() -> list[psutil.Process]:
    children = psutil.Process().children()
    return [each for each in children if "labkit.preview.quick_proof" in " ".join(each.cmdline())]
