"""Cards: what a tablet carries away, as rows changed since a position."""
