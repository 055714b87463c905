#!/usr/bin/env python3
"""The one command: prepares what Loupebook needs, then starts it.

This file must parse on Python 3.6, so that an old Python hears in words what is wrong.
"""

import sys
from typing import Optional, Sequence, Tuple

OLDEST = (3, 11)
EXIT_PYTHON = 3

TOO_OLD = """This is Python {found}. Loupebook needs Python {oldest} or later.
Nothing was installed or changed.
Start it with a newer one, for example: python{oldest} backend/start.py
"""


def main(argv: Optional[Sequence[str]] = None, version: Tuple[int, int] = sys.version_info[:2]) -> int:
    """Runs the start; its exit code. `version` is the Python that asks, given by tests."""
    if version < OLDEST:
        sys.stderr.write(TOO_OLD.format(found="{}.{}".format(*version), oldest="{}.{}".format(*OLDEST)))
        return EXIT_PYTHON
    from starting.command import start

    return start(sys.argv[1:] if argv is None else argv)


if __name__ == "__main__":
    sys.exit(main())
