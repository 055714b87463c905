"""Shifts: what stands open, and closing one by its name."""
