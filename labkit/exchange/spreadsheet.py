"""What an XLSX file is known by, and what reading a damaged one may raise."""

from __future__ import annotations

import zipfile
from typing import Final
from xml.etree.ElementTree import ParseError

DAMAGED: Final = (
    *(zipfile.BadZipFile, ParseError, KeyError, ValueError, OSError, TypeError, AttributeError),
    *(IndexError, EOFError, NotImplementedError, RuntimeError),
)


def is_sheet(data: bytes) -> bool:
    """Whether these are the bytes of an XLSX file, whatever it is called."""
    return data.startswith(b"PK\x03\x04")
