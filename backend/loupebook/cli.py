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


def _schema_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--check", action="store_true", help="write nothing; end with 1 when a file is stale")


def _schema(args: argparse.Namespace) -> int:
    from loupebook.keeping import schema_verb

    return schema_verb(args)


def _verify_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="the exported record")
    parser.add_argument("--known", type=Path, metavar="FILE", help="heads kept elsewhere, one JSON object a line")
    parser.add_argument("--newest", action="store_true", help="check only the newest signature of each chain")


def _verify(args: argparse.Namespace) -> int:
    from loupebook.keeping import verify_verb

    return verify_verb(args)


def _rebuild(args: argparse.Namespace) -> int:
    from loupebook.keeping import rebuild_verb

    return rebuild_verb(settings_of(args))


def _to_options(parser: argparse.ArgumentParser) -> None:
    settings_options(parser)
    parser.add_argument("to", type=Path, metavar="NEW_FOLDER", help="where it goes; must not hold anything")


def _backup(args: argparse.Namespace) -> int:
    from loupebook.keeping import backup_verb

    return backup_verb(settings_of(args), args.to)


def _export(args: argparse.Namespace) -> int:
    from loupebook.keeping import export_verb

    return export_verb(settings_of(args), args.to)


def _bring_back_options(parser: argparse.ArgumentParser) -> None:
    settings_options(parser)
    parser.add_argument("backup", type=Path, metavar="BACKUP", help="the folder a backup was made in")


def _bring_back(args: argparse.Namespace) -> int:
    from loupebook.keeping import bring_back_verb

    return bring_back_verb(settings_of(args), args.backup)


def _drill(args: argparse.Namespace) -> int:
    from loupebook.keeping import drill_verb

    return drill_verb(settings_of(args), args.backup)


def _way_back_options(parser: argparse.ArgumentParser) -> None:
    settings_options(parser)
    parser.add_argument("name", nargs="?", metavar="NAME", help="the lead; not needed where there is one")


def _way_back(args: argparse.Namespace) -> int:
    from loupebook.way_back import way_back_verb

    return way_back_verb(settings_of(args), args.name)


VERBS: tuple[Verb, ...] = (
    Verb("serve", "run the server until it is stopped", _serve_options, _serve),
    Verb("backup", "copy the whole record into a new folder, also while it is in use", _to_options, _backup),
    Verb("bring-back", "lay a backup into an empty data folder", _bring_back_options, _bring_back),
    Verb("drill", "prove a backup: bring it back beside the record and check all of it", _bring_back_options, _drill),
    Verb("export", "write the record as a folder that anybody can check", _to_options, _export),
    Verb("verify", "check an exported record", _verify_options, _verify),
    Verb("rebuild", "make the tables of screens anew from the entries", settings_options, _rebuild),
    Verb("way-back", "let a lead in again who lost PIN, recovery code and tablets", _way_back_options, _way_back),
    Verb("schema", "write what is made: from the entry kinds, and the catalogue", _schema_options, _schema),
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
