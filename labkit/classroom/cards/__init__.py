"""Fault cards for a real training rig: dealt to pairs, printed, held against what was read."""
