"""What a class's marks say of the lab and of the class: pure functions on a table of marks.

Arrays have trainees in rows and exercises in columns; shares are 0 to 1, marks are marks, times are
seconds. A figure that cannot be worked out from the marks that are there is None, never a guess.
"""
