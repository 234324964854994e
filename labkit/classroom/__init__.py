"""The instructor's side: classes, dealing, receiving hand-ins, scoring, reports."""
