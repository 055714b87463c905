"""An invented day hospital, written through the real record: real keys, hashes, heads, intake. Nobody here is real."""
