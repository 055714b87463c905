"""Drawings of what a camera at the sink sees: parts, flaws, the plate with the number. Plainly drawn, nothing real."""
