"""`python3 backend/start.py`: its options, its verbs, and handing over to the product."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from starting.prepare import prepare
from starting.shell import RealShell, Stopped

ROOT = Path(__file__).resolve().parents[2]
LOG = ROOT / ".start" / "start.log"

EXIT_CODES = """exit codes:
  0  stopped as asked
  2  an option or a setting cannot be
  3  this Python is too old
  4  something Loupebook needs could not be made ready
  5  the data folder was refused
  6  no port could be had

Every option can be an environment variable instead; README.md lists them.
The start writes a log: .start/start.log in the checkout.
"""


BUILDING = (
    ("--name", "NAME", "the server's name for tablets (default: the one they know, at first this machine's)"),
    ("--certificate", "FILE", "the hospital's certificate, PEM (default: an authority of its own)"),
    ("--key", "FILE", "the key of that certificate, PEM"),
    ("--addresses", "LIST", "addresses to serve tablets at, with commas (default: all this machine has)"),
    ("--lan-port", "N", "https port for tablets (default: the one they know, at first 8643)"),
    ("--help-port", "N", "port of the plain page that sets a tablet up (default 8680; taken: the next free one)"),
    ("--moved-from", "OLDNAME", "answer under the old name too, until every tablet has sent what it holds"),
)
"""Options handed on as they are: the server looks at them, because it can say more."""


VERBS = (
    "backup", "bring-back", "drill", "export", "verify", "rebuild", "way-back", "schema", "settings",
    "version",
)  # fmt: skip
"""Handed on as they are, with all that follows: `start.py backup NEW_FOLDER`."""


def options() -> argparse.ArgumentParser:
    """The options of the start."""
    parser = argparse.ArgumentParser(
        prog="start.py",
        usage="%(prog)s [options]\n       %(prog)s VERB ...",
        description="Prepares what Loupebook needs, then runs it at one address on this machine; with a verb, does "
        f"that instead: {', '.join(VERBS)} (VERB --help says more).",
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--port", type=int, metavar="N", help="port (default 8600; taken: the next free one)")
    parser.add_argument("--data", metavar="FOLDER", help="folder of the record (default: your own data folder)")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--demo", action="store_true", help="the invented day hospital, in a folder of its own")
    kind.add_argument("--empty", action="store_true", help="a real record, empty at first (the default)")
    parser.add_argument("--no-browser", action="store_true", help="open no browser")
    lan = parser.add_argument_group("tablets in the building (README.md says more)")
    lan.add_argument("--lan", action="store_true", help="serve tablets over https, and a page that sets them up")
    for option, metavar, words in BUILDING:
        lan.add_argument(option, metavar=metavar, help=words)
    return parser


def start(argv: Sequence[str]) -> int:
    """Prepares, then becomes the server, or what a verb asks for; the exit code."""
    words = words_of(argv)
    shell = RealShell(LOG)
    try:
        ready = prepare(shell, ROOT)
    except Stopped as stopped:
        return tell(shell, stopped)
    except KeyboardInterrupt:
        shell.say("\nStopped while preparing. What is done stays done; the next start goes on from here.")
        return 4
    return _become([str(ready.venv.python), "-m", "loupebook", *words], shell.environ)


def words_of(argv: Sequence[str]) -> list[str]:
    """What the product is called with: a verb as it was given, else `serve` and its options."""
    if argv and argv[0] in VERBS:
        return list(argv)
    return ["serve", *_passed_on(options().parse_args(argv))]


def tell(shell: RealShell, stopped: Stopped) -> int:
    """Says why the start stopped, with the end of the log; the exit code."""
    end = shell.last_lines(15)
    shell.say(f"\nThe last lines of the log ({shell.log}):\n{end}\n\n{stopped}")
    return stopped.code


def _passed_on(given: argparse.Namespace) -> list[str]:
    words: list[str] = []
    if given.port is not None:
        words += ["--port", str(given.port)]
    if given.data is not None:
        words += ["--data", given.data]
    words += [f"--{name}" for name in ("demo", "empty", "lan") if getattr(given, name)]
    for option, _, _ in BUILDING:
        value = getattr(given, option.removeprefix("--").replace("-", "_"))
        words += [] if value is None else [option, value]
    return words + (["--no-browser"] if given.no_browser else [])


def _become(command: list[str], environ: dict[str, str]) -> int:
    """Hands this process over to the server, so that signals reach it; on Windows, waits for it."""
    path = os.pathsep.join(part for part in (str(ROOT / "backend"), environ.get("PYTHONPATH", "")) if part)
    env = {**environ, "PYTHONPATH": path}
    sys.stdout.flush()
    if os.name == "posix":
        os.execve(command[0], command, env)
    return subprocess.call(command, env=env)
