"""The class's records: an append-only database of what came in, how it was marked, and why.

`schema` says what is kept, `guard` keeps it from being changed, `store` opens and adds, `current`
says what holds now.
"""
