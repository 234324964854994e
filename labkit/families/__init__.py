"""Network families, a folder each."""
