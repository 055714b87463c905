"""Migrations: how an older database becomes this version's."""
