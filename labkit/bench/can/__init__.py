"""CAN on the bench: who gets a frame right, what is on the wire, and its log.

The rules of ISO 11898-1 for frames as wholes, whatever protocol sends them.
"""
