"""labkit: lab definitions in, an individual workbook for every trainee out, scored by calculation."""

__version__ = "0.1.0"
