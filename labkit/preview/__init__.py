"""A lab seen while it is written: drawn again on each save, with what is wrong beside it."""
