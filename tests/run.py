#!/usr/bin/env python3
"""Runs every test there is, or those of one capability. This file must parse on Python 3.6, like backend/start.py."""

import sys
from os.path import abspath, dirname, join

HERE = dirname(abspath(__file__))
sys.path[:0] = [join(dirname(HERE), "backend"), HERE]

import start

if __name__ == "__main__":
    if sys.version_info[:2] < start.OLDEST:
        sys.exit(start.main([]))
    import running

    sys.exit(running.main())
