"""Scopes: what is registered, received, processed, hung and taken."""
