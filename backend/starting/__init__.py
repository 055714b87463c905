"""Prepares a checkout to run: Python packages, Node, the built screens, Debian's packages. Standard library only."""
