"""Reading lab definitions: the half of `lab` that needs a file and heavier packages."""

from labkit.lab.reading.lab_file import read_in_part, read_lab, read_lab_text

__all__ = ["read_in_part", "read_lab", "read_lab_text"]
