"""What commands print goes through any pipe, and can be pasted again, on Windows too."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from labkit.cli.app import app
from labkit.cli.screen import own_name, typed

# Every word list is run as a command in one process: only the first has to load everything.
RUN_ALL = """
import json, sys
from labkit.cli import main
for words in json.loads(sys.argv[1]):
    sys.argv = ['labkit', *words]
    try:
        main()
    except SystemExit as end:
        print('ENDED', end.code or 0)
    else:
        print('ENDED 0')
"""


def _through_a_pipe(encoding: str, commands: list[list[str]], cwd: Path) -> tuple[str, str]:
    done = subprocess.run(
        [sys.executable, "-c", RUN_ALL, json.dumps(commands)],
        cwd=cwd,
        capture_output=True,
        timeout=240,
        env={**os.environ, "PYTHONIOENCODING": encoding},
    )
    return done.stdout.decode(encoding), done.stderr.decode(encoding)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_narrow_encoding_breaks_no_command(encoding: str, tmp_path: Path) -> None:
    names = [command.name or "" for command in app.registered_commands]
    names += [getattr(c.callback, "__name__", "") for c in app.registered_commands if not c.name]
    helps = [[name, "--help"] for name in names if name]
    assert len(helps) == 26
    real = [["labs"]]
    if encoding == "ascii":  # in which nothing goes through that cp1252 stops
        real += [["demo", "Übung"], ["explain", "Übung", "t03"], ["records", "Übung"]]
    out, err = _through_a_pipe(encoding, [["--help"], *helps, *real], tmp_path)
    assert err == ""
    assert out.count("ENDED 0") == 1 + len(helps) + len(real), out
    assert all(f"Usage: labkit {name} " in out for name, _ in helps), out
    out, err = _through_a_pipe(encoding, [["labs", "nirgendwø…"]], tmp_path)
    assert out.strip() == "ENDED 1"
    assert err.startswith("? There is no lab in ")


def test_json_is_whole_in_a_narrow_encoding() -> None:
    program = "from labkit.cli.screen import print_json; print_json({'name': 'Jörg'}, 1)"
    for encoding, shown in (("ascii", r"J\u00f6rg"), ("utf-8", "Jörg")):
        done = subprocess.run(
            [sys.executable, "-c", program],
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONIOENCODING": encoding},
        )
        assert shown in done.stdout.decode(encoding)
        assert json.loads(done.stdout.decode(encoding)) == {"name": "Jörg"}


@pytest.mark.parametrize(
    ("word", "posix", "windows"),
    [
        ("class", "class", "class"),
        (r"C:\Classes\hall", r"'C:\Classes\hall'", r"C:\Classes\hall"),
        ("my class", "'my class'", '"my class"'),
        ("a&b (c), d", "'a&b (c), d'", '"a&b (c), d"'),
    ],
)
def test_a_path_can_be_pasted(word: str, posix: str, windows: str) -> None:
    assert typed(word, windows=False) == posix
    assert typed(word, windows=True) == windows


def test_the_command_is_named_as_it_was_called(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("LABKIT_CALLED", "UV_RUN_RECURSION_DEPTH"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "argv", ["/x/labkit/__main__.py"])
    assert own_name() == f"{Path(sys.executable).stem} -m labkit"
