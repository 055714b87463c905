"""Loupebook's server: takes in what tablets recorded, keeps it provable, shows it to the lead."""

__version__ = "0.1.0"
