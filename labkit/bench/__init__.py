"""The virtual bench: a network as built, the faults in it, and instruments that look at it.

Nothing shown is scripted: readings, indicators and frames are computed by `labkit.fieldbus` from
the network as it is wired. Standard library only.
"""
