"""Marks put right for everybody after they are out, and whose marks that changes."""
