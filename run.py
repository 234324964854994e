"""Run a command in labkit's own environment, which the first call makes, on a fresh machine too.

    python3 run.py labkit demo
    python3 run.py pytest -n 2

Nothing is installed into the Python that runs this (Debian's and Ubuntu's refuse that, PEP 668) and
nothing but its standard library is needed: neither pip nor venv has to be there. uv, in the release
named below, is put into the folder `.uv`; uv makes `.venv` from `uv.lock` and, where this Python is
too old for labkit, fetches a newer one.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import re
import subprocess
import sys
import tempfile
import urllib.error
import urllib.parse
import urllib.request
import venv
from pathlib import Path

UV = "0.13.9"
PIP = "26.3"
PIP_SHA256 = "f3b60b20ffaadd4415ed7957212a38ac63fa4c5fa375bd0f4a797777940fad13"
OLDEST = (3, 11)
"""The oldest Python that labkit runs on; `pyproject.toml` says the same."""

HERE = Path(__file__).resolve().parent
PROGRAM = "uv.exe" if os.name == "nt" else "uv"


class SetUpError(Exception):
    """Why the environment cannot be made, in sentences."""


def main(words: list[str]) -> int:
    """Run the command `words` and give its exit status."""
    if not words:
        print(f"Say what to run, such as: {called()} labkit demo", file=sys.stderr)
        return 2
    try:
        uv = find_uv()
    except SetUpError as error:
        print(error, file=sys.stderr)
        return 1
    command = [str(uv), "run", "--frozen", "--project", str(HERE), *python(), "--", *words]
    environment = {**os.environ, "LABKIT_CALLED": f"{called()} labkit"}
    if os.name != "nt":
        os.execve(command[0], command, environment)
    return subprocess.call(command, env=environment)


def called() -> str:
    """How this file was called, as it can be typed again."""
    script = f'"{sys.argv[0]}"' if " " in sys.argv[0] else sys.argv[0]
    return f"{Path(sys.executable).stem or 'python3'} {script}"


def python() -> list[str]:
    """The Python that was typed is the one that labkit runs on, where an environment is made."""
    there = Path(os.environ.get("UV_PROJECT_ENVIRONMENT", HERE / ".venv")).exists()
    return [] if there or sys.version_info < OLDEST else ["--python", sys.executable]


def find_uv() -> Path:
    """The program uv in the folder `.uv`, put there when it is not. Raises `SetUpError`."""
    uv = HERE / ".uv" / f"{UV}-{PROGRAM}"
    if uv.exists():
        return uv
    print("Setting up labkit's own environment; later calls start at once.", file=sys.stderr)
    try:
        uv.parent.mkdir(exist_ok=True)
        with tempfile.TemporaryDirectory(dir=uv.parent) as folder:
            fetch_uv(Path(folder)).replace(uv)
    except OSError as error:
        raise SetUpError(
            f"{uv.parent} cannot be written ({error.strerror or error}). Put labkit's folder where "
            "you may write and where there is room, then try again."
        ) from error
    return uv


def fetch_uv(folder: Path) -> Path:
    """Install uv below `folder`, by whichever pip there is. Raises `SetUpError`."""
    target = folder / "uv"
    command = [*pip(folder), "install", "--quiet", "--no-deps", "--only-binary", ":all:"]
    command += ["--target", str(target), f"uv=={UV}"]
    # A user's settings for pip may ask for places that do not go with a target.
    environment = {**os.environ, "PIP_USER": "0", "PIP_REQUIRE_VIRTUALENV": "0"}
    environment["PIP_DISABLE_PIP_VERSION_CHECK"] = "1"
    if subprocess.call(command, env=environment):
        raise SetUpError(
            f"uv {UV} could not be installed; pip says above why. The first call needs a package "
            "index (https://pypi.org, or the one that pip's settings name); later ones do not."
        )
    return next(file for file in target.rglob(PROGRAM) if file.is_file())


def pip(folder: Path) -> list[str]:
    """A command that is pip: this Python's, else one in an environment, else a downloaded one."""
    if importlib.util.find_spec("pip"):
        return [sys.executable, "-m", "pip"]
    if importlib.util.find_spec("ensurepip"):
        place = folder / "python"
        try:
            venv.create(place, with_pip=True)
        except subprocess.CalledProcessError as error:
            raise SetUpError(f"{sys.executable} cannot make an environment ({error}).") from error
        programs = place / ("Scripts" if os.name == "nt" else "bin")
        return [str(programs / "python"), "-m", "pip"]
    wheel = folder / f"pip-{PIP}-py3-none-any.whl"
    wheel.write_bytes(downloaded(wheel.name))
    return [sys.executable, str(wheel / "pip")]


def downloaded(name: str) -> bytes:
    """pip's own wheel from the package index, the very bytes that are meant.

    Raises `SetUpError`.
    """
    index = os.environ.get("PIP_INDEX_URL", "https://pypi.org/simple").rstrip("/") + "/pip/"
    try:
        with urllib.request.urlopen(index, timeout=60) as page:
            link = re.search(rf'href="([^"#]*{re.escape(name)})', page.read().decode())
        if link is None:
            raise SetUpError(f"{index} does not have {name}, which is needed for the first call.")
        with urllib.request.urlopen(urllib.parse.urljoin(index, link[1]), timeout=60) as wheel:
            data: bytes = wheel.read()
    except (urllib.error.URLError, TimeoutError, ValueError) as error:
        raise SetUpError(
            f"{index} cannot be reached ({error}). The first call needs it: connect to the "
            "internet or set PIP_INDEX_URL, then try again."
        ) from error
    if hashlib.sha256(data).hexdigest() != PIP_SHA256:
        raise SetUpError(f"{name} from {index} is not the file that was published. Try again.")
    return data


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
