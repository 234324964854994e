"""The widgets of a workbook: a Python class, a plain ES module and a style sheet each.

State is in traitlets, logic in Python. The modules come from this package; nothing is fetched.
`labkit/station/page_modules.py` says what a module may import, and puts them together.
"""
