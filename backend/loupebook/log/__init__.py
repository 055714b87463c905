"""The log: one writer that appends entries, keeps verdicts, and hands each counted entry to the folds."""
