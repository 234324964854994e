"""Somebody who writes at a small lab."""

from __future__ import annotations

from pathlib import Path

import pytest
from written_lab import Author, author_at


@pytest.fixture
def author(tmp_path: Path) -> Author:
    """The preview of a lab that can be read."""
    return author_at(tmp_path)
