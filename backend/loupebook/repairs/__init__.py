"""Repairs: from the hold to the scope that comes back, with custody and loaners."""
