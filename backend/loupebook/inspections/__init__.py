"""Inspections: what was looked at, found, read and concluded."""
