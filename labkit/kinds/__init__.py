"""Exercise kinds, a folder each; `common` is what several of them share."""
