"""The record itself: what an entry is, how it is written on a line, hashed, chained and signed. Pure."""
