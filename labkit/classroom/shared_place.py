"""Whether others could read a class folder: it holds the class's secret, names, answers and marks.

This tells what a computer tells of itself. A folder that is copied elsewhere behind its back looks
like any other.
"""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path
from typing import Final

_MOUNTS: Final = Path("/proc/self/mounts")
# Names of file systems that other computers reach too: protocols, not products.
_NETWORK: Final = re.compile(
    r"(nfs\d?|cifs|smb\d?|smbfs|smb3|afs|9p|afpfs|webdav|davfs\d?|fuse\.(?!lxcfs|portal|gvfsd-fuse)\S+"
    r"|ceph|glusterfs|vboxsf|virtiofs|prl_fs|vmhgfs)"
)
# Folders that programs which copy files to other computers are commonly given (common practice, no
# source).
_TELLING: Final = re.compile(
    r"(cloud|sync|synced|shared?|shares|public|www|htdocs|public_html|webdav)", re.IGNORECASE
)
_KNOWS_MODES: Final = os.name == "posix"
_WORDS: Final = re.compile(r"[^\W_]+")


def warnings_about(folder: Path) -> list[str]:
    """A sentence for each sign that others may read the class folder."""
    path = folder.resolve()
    found = [_open_to_others(path), _on_the_network(path), _in_a_telling_place(path)]
    return [f"{sentence} {_WHY}" for sentence in found if sentence]


_WHY: Final = "It holds the class's secret, names and marks: keep it where only you can read."


def _open_to_others(path: Path) -> str:
    if not _KNOWS_MODES:
        return _outside_the_users_own(path, Path.home())
    others = _reach(path, stat.S_IROTH, stat.S_IXOTH)
    group = _reach(path, stat.S_IRGRP, stat.S_IXGRP)
    if not others and not group:
        return ""
    who = "everybody" if others else "the group"
    return (
        f"{path} can be read by {who} on this computer; 'chmod go-rwx' with the folder's name "
        "mends that."
    )


def _outside_the_users_own(path: Path, home: Path) -> str:
    """Windows gives each user a folder that only they and administrators read (from memory)."""
    if path.is_relative_to(home):
        return ""
    return (
        f"{path} may be read by everybody on this computer, and labkit cannot close it there: keep "
        f"the class below {home}."
    )


def _reach(path: Path, read: int, enter: int) -> bool:
    """Whether these rights lead into the folder: it and all folders above it must let them."""
    try:
        if not path.stat().st_mode & read:
            return False
        return all(place.stat().st_mode & enter for place in (path, *path.parents))
    except OSError:
        return False


def _on_the_network(path: Path) -> str:
    if str(path).startswith(("\\\\", "//")):
        return f"{path} lies on another computer's share."
    try:
        lines = _MOUNTS.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    mounts = [line.split(" ") for line in lines]
    holding = [
        (len(_unescaped(mount[1])), mount[2])
        for mount in mounts
        if len(mount) > 2 and path.is_relative_to(_unescaped(mount[1]))
    ]
    kind = max(holding, default=(0, ""))[1]
    if not _NETWORK.fullmatch(kind):
        return ""
    return f"{path} lies on a file system that other computers can reach ({kind})."


def _unescaped(place: str) -> str:
    """A path in the list of mounts: spaces stand there as \\040."""
    return re.sub(r"\\([0-7]{3})", lambda match: chr(int(match[1], 8)), place)


def _in_a_telling_place(path: Path) -> str:
    for part in (path.name, *(parent.name for parent in path.parents)):
        if any(_TELLING.fullmatch(word) for word in _WORDS.findall(part)):
            return f"{path} may be copied to other computers: it lies in '{part}'."
    return ""
