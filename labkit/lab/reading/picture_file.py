"""A picture that lies beside a lab, made ready to be carried: small, and without what is hidden.

A lab may come from a stranger. So only the file itself is read, no link and nothing elsewhere; it
is decoded as PNG or JPEG only, after a look at how large it is; and it is written anew, so that
nothing of what a camera or a program wrote into it (place, time, owner) goes on.
"""

from __future__ import annotations

import base64
import io
import os
import re
import warnings
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Final

from PIL import Image, ImageOps

from labkit.errors import LabkitError
from labkit.lab.reading.own_file import NoOwnFileError, bytes_of_own, where_it_is

LONGEST_SIDE: Final = 1_600
"""Pixels of the longer side of a picture that is carried."""
MAX_FILE: Final = 20_000_000
MAX_PIXELS: Final = 60_000_000
MAX_KEPT: Final = 64
_QUALITY: Final = 80
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_ENDINGS: Final = (".png", ".jpg", ".jpeg")
_SCHEME: Final = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:|//|\\\\")


class PictureError(LabkitError):
    """A picture that cannot be carried: what is wrong, and the mend."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message, self.mend = message, mend


@dataclass(frozen=True, slots=True)
class Carried:
    """A picture: its file's name, data and SHA-256, and how it is shown, as a data URI."""

    name: str
    data: bytes = field(repr=False)
    digest: str
    uri: str = field(repr=False)

    @property
    def token(self) -> str:
        """What stands for it in a text until that is shown."""
        return f"picture:{self.digest}"


def carried(folder: Path, name: str) -> Carried:
    """The picture `name` of a lab's folder. Raises `PictureError`."""
    file = _place(folder, name)
    data = _read(file, name)
    digest = sha256(data).hexdigest()
    return Carried(name, data, digest, _uri(digest, data, name))


def _place(folder: Path, name: str) -> Path:
    if _SCHEME.match(name):
        raise PictureError(
            f"the picture '{name[:80]}' lies elsewhere, and nothing is fetched for a lab.",
            "Save it beside lab.md and write its file name.",
        )
    if "/" in name or "\\" in name or name.startswith("."):
        raise PictureError(
            f"the picture '{name[:80]}' does not lie beside lab.md.",
            "Put the file into the lab's own folder and write its name alone.",
        )
    if not _NAME.fullmatch(name):
        raise PictureError(
            f"'{name[:80]}' cannot name a picture.",
            "Name the file in letters, digits, '-' and '_', such as motor-starter.jpg.",
        )
    if not name.lower().endswith(_ENDINGS):
        raise PictureError(
            f"'{name}' is neither PNG nor JPEG.",
            "Save it as PNG (drawings) or JPEG (photos): other forms can carry programs, or show "
            "nowhere.",
        )
    return folder / name


def _read(file: Path, name: str) -> bytes:
    """The bytes of a file that is there itself, under this very name."""
    try:
        names = os.listdir(file.parent)
    except OSError:
        names = []
    if name not in names:
        raise PictureError(
            f"the picture '{name}' is not there.", where_it_is(name, file.parent, _ENDINGS)
        )
    try:
        data = bytes_of_own(file, MAX_FILE + 1)
    except NoOwnFileError:
        raise PictureError(
            f"'{name}' is no file of its own: a link leads out of the lab's folder.",
            "Put a copy of the picture there.",
        ) from None
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise PictureError(f"the picture '{name}': {reason}.", "Look at the file.") from error
    if len(data) > MAX_FILE:
        raise PictureError(
            f"the picture '{name}' has more than {MAX_FILE // 1_000_000} MB.", "Save it smaller."
        )
    return data


# By the file's digest: a class reads its labs again and again, and a photo takes a moment.
_KEPT: dict[str, str] = {}


def _uri(digest: str, data: bytes, name: str) -> str:
    if digest not in _KEPT:
        if len(_KEPT) >= MAX_KEPT:
            _KEPT.clear()
        _KEPT[digest] = _written_anew(data, name)
    return _KEPT[digest]


def _written_anew(data: bytes, name: str) -> str:
    try:
        # What is too large is told by the size that is looked at next.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
        with image:
            if image.width * image.height > MAX_PIXELS:
                raise _too_large(name)
            form = str(image.format)
            image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            shown = ImageOps.exif_transpose(image)
            shown = shown.convert(_mode(shown, form))
    except Image.DecompressionBombError as error:
        raise _too_large(name) from error
    except PictureError:
        raise
    except Exception as error:  # a decoder fails in many ways, and all mean the same here
        raise PictureError(
            f"the picture '{name}' cannot be read as PNG or JPEG.",
            "Open it in a picture program and save it anew.",
        ) from error
    shown.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    # A fresh picture has the pixels, and nothing that was written beside them.
    bare = Image.new(shown.mode, shown.size)
    bare.paste(shown)
    stream = io.BytesIO()
    bare.save(stream, form, optimize=True, **({"quality": _QUALITY} if form == "JPEG" else {}))
    kind = form.lower()
    return f"data:image/{kind};base64,{base64.b64encode(stream.getvalue()).decode()}"


def _too_large(name: str) -> PictureError:
    most = MAX_PIXELS // 1_000_000
    return PictureError(
        f"the picture '{name}' has more than {most} million pixels.", "Save it smaller."
    )


def _mode(image: Image.Image, form: str) -> str:
    """Grey stays grey, and see-through stays so where the form can hold it."""
    if form == "PNG" and ("A" in image.mode or "transparency" in image.info):
        return "RGBA"
    return "L" if image.mode in ("1", "L") else "RGB"
