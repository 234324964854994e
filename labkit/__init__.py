"""labkit: lab definitions become individual workbooks, scored by engineering calculation."""

__version__ = "0.1.0"
