"""Hypothesis takes the same examples each time where every test is asked for, else new ones."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).with_name("conftest.py")


@pytest.mark.parametrize(
    ("set_here", "same"), [("LABKIT_REQUIRE_ALL", "True"), ("CI", "True"), ("", "False")]
)
def test_ci_takes_the_same_examples_each_time(set_here: str, same: str) -> None:
    program = (
        "import runpy, sys\n"
        "from hypothesis import settings\n"
        "runpy.run_path(sys.argv[1])\n"
        "test = settings(max_examples=7)\n"
        "assert test.deadline is None\n"
        "print(test.derandomize)\n"
    )
    environment = {**os.environ, "LABKIT_REQUIRE_ALL": "", "CI": ""}
    if set_here:
        environment[set_here] = "1"
    done = subprocess.run(
        [sys.executable, "-c", program, str(CONFTEST)],
        # What it imports lies beside it.
        cwd=CONFTEST.parent,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.stdout.strip() == same, done.stderr
