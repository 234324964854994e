"""Runs Debian's ngspice on a deck and reads its numbers back; shared by the reference tests."""

import re
import shutil
import subprocess
from pathlib import Path

MISSING = shutil.which("ngspice") is None
TIGHT = ".options reltol=1e-12 vntol=1e-15 abstol=1e-16 gmin=1e-18 itl1=1000"
_LINE = re.compile(r"^(\S+) = (\S+)$")


def run_deck(lines: list[str], folder: Path) -> str:
    """Run one deck in batch mode inside `folder` and return what it printed."""
    deck = folder / "deck.cir"
    deck.write_text("\n".join(["* random network", *lines, ".end", ""]))
    done = subprocess.run(
        ["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False, cwd=folder
    )
    assert "Error" not in done.stderr, done.stderr + "\n".join(lines)
    return done.stdout


def operating_point(lines: list[str], wanted: list[str], folder: Path) -> dict[str, float]:
    """The DC values of `wanted`, such as v(n1) or i(v1)."""
    control = [".control", "set numdgt=16", "op", "print " + " ".join(wanted), "quit", ".endc"]
    output = run_deck([TIGHT, *lines, *control], folder)
    values = {m[1]: float(m[2]) for line in output.splitlines() if (m := _LINE.match(line))}
    assert set(values) >= set(wanted), output
    return values
