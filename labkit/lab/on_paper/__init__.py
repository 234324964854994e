"""Drawings and forms of the exercise kinds for paper: black on white, to be filled in by hand."""
