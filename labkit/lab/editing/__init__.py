"""Changing a definition's text as a form asks for it: one exercise, or one field of it."""
