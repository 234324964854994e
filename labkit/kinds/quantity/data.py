"""What an exercise of the kind `quantity` is made of: a `NumberAsk` and a `NumberKey`."""

from __future__ import annotations

Answer = str
"""The number with its unit, as typed."""
