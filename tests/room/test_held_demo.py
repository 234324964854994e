"""The demo class held on this machine: its invented trainees come, answer, and the room ends."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from time import sleep

import pytest

from labkit.exchange.journal import Journal, records


@pytest.mark.skipif(os.name != "posix", reason="Ctrl+C is sent as a signal")
def test_the_demo_class_is_at_work_until_it_is_ended(tmp_path: Path) -> None:
    place = tmp_path / "demo"
    command = [sys.executable, "-m", "labkit", "demo", str(place), "--host", "--port", "0"]
    held = subprocess.Popen(
        [*command, "--no-browser"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert held.stdout
        shown = ""
        while "Join yourself" not in shown:
            line = held.stdout.readline()
            assert line, shown
            shown += line
        assert re.search(r"Your own page +http://127\.0\.0\.1:\d+/trainer#\S{20,}", shown)
        for _ in range(600):
            journals = [Journal(file) for file in place.glob("room/journals/*/*.jsonl")]
            answered = [one for one in journals if records(one.read().entries)]
            if len(answered) >= 2:
                break
            sleep(0.1)
        assert len(answered) >= 2
        # One seat stays free.
        assert not (place / "room" / "journals" / "t12").exists()
        held.send_signal(signal.SIGINT)
        _, trouble = held.communicate(timeout=120)
    finally:
        held.kill()
    assert "Traceback" not in trouble
