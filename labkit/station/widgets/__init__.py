"""The widgets of a workbook: state is in traitlets, logic in Python.

What an answer does is in `labkit.answering`, the page of a kind in its own folder, what they share
in `labkit.front_end`. Nothing is fetched from elsewhere.
"""
