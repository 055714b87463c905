"""`loupebook VERB`: every verb is one row of VERBS."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from loupebook import __version__
from loupebook.settings import SettingRefused, Settings, read_settings, table

EXIT_SETTING = 2

Add = Callable[[argparse.ArgumentParser], None]
Run = Callable[[argparse.Namespace], int]


@dataclass(frozen=True, slots=True)
class Verb:
    """One verb: its name, one line of help, its options, and what it does (returns the exit code)."""

    name: str
    help: str
    add: Add
    run: Run


def settings_options(parser: argparse.ArgumentParser) -> None:
    """The options that choose the folder; verbs that touch the record take them."""
    parser.add_argument("--data", type=Path, metavar="FOLDER", help="folder of the record")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--demo", action="store_const", const=True, help="the invented day hospital, in its own folder")
    kind.add_argument("--empty", dest="demo", action="store_const", const=False, help="a real record (the default)")


def settings_of(args: argparse.Namespace) -> Settings:
    """The settings a verb runs with. Raises SettingRefused."""
    return read_settings(vars(args))


def _serve_options(parser: argparse.ArgumentParser) -> None:
    settings_options(parser)
    parser.add_argument("--port", type=int, metavar="N", help="port (default 8600; taken: the next free one)")
    parser.add_argument("--no-browser", dest="browser", action="store_const", const=False, help="open no browser")


def _serve(args: argparse.Namespace) -> int:
    from loupebook.serve import serve

    return serve(settings_of(args))


def _settings(args: argparse.Namespace) -> int:
    for name, default, meaning in table():
        print(f"{name:20} {default:10} {meaning}")
    return 0


def _version(args: argparse.Namespace) -> int:
    print(__version__)
    return 0


def _no_options(parser: argparse.ArgumentParser) -> None:
    return None


VERBS: tuple[Verb, ...] = (
    Verb("serve", "run the server until it is stopped", _serve_options, _serve),
    Verb("settings", "list every setting, its default and its meaning", _no_options, _settings),
    Verb("version", "print the version", _no_options, _version),
)


def parser() -> argparse.ArgumentParser:
    """The command line, made from VERBS."""
    top = argparse.ArgumentParser(prog="loupebook", description="Records inspections of flexible endoscopes.")
    verbs = top.add_subparsers(dest="verb", required=True, metavar="VERB")
    for verb in VERBS:
        one = verbs.add_parser(verb.name, help=verb.help, description=verb.help)
        verb.add(one)
        one.set_defaults(run=verb.run)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one verb; its exit code. 2 = a setting or an option cannot be."""
    args = parser().parse_args(argv)
    run: Run = args.run
    try:
        return run(args)
    except SettingRefused as refused:
        print(refused, file=sys.stderr)
        return EXIT_SETTING
