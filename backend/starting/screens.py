"""The screens: their packages and their build."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from starting.node import Node
from starting.shell import Shell, Stopped
from starting.stamps import Stamps, key_of, key_of_files

EXIT_SCREENS = 4
NOT_SOURCES = {"node_modules", "dist"}


def ready_packages(shell: Shell, stamps: Stamps, node: Node, frontend: Path) -> None:
    """The packages of package-lock.json, once for each content of it. No package may run a script of its own."""
    key = key_of([(frontend / "package-lock.json").read_text("utf-8"), node.version])
    if stamps.is_done("npm", key) and (frontend / "node_modules").is_dir():
        return
    stamps.undo("npm")
    shell.say("Installing the screens' packages, a quarter of a minute or so ...")
    _npm(shell, node, frontend, "ci", "--ignore-scripts", "--no-audit", "--no-fund")
    stamps.done("npm", key)


def ready_build(shell: Shell, stamps: Stamps, node: Node, frontend: Path, shared: Path) -> None:
    """The built screens in frontend/dist, built again when any source of them changed."""
    root = frontend.parent
    key = key_of([key_of_files(root, [*_sources(frontend), *_sources(shared)]), node.version])
    if stamps.is_done("screens", key) and (frontend / "dist" / "index.html").is_file():
        return
    stamps.undo("screens")
    shell.say("Building the screens ...")
    _npm(shell, node, frontend, "run", "build")
    stamps.done("screens", key)


def _sources(folder: Path) -> Iterator[Path]:
    """Every file a build may read, packages and the build itself left out."""
    for path in folder.iterdir():
        if path.name in NOT_SOURCES:
            continue
        if path.is_dir():
            yield from _sources(path)
        elif path.is_file():
            yield path


def _npm(shell: Shell, node: Node, frontend: Path, *words: str) -> None:
    if shell.run([*node.npm, *words], cwd=frontend, env={"PATH": node.path}) == 0:
        return
    raise Stopped(
        EXIT_SCREENS,
        f"The screens could not be made ready (npm {words[0]}).",
        "The record was not touched.",
        "Check the network and proxy settings (npm's own: npm_config_registry, HTTPS_PROXY), then start again.",
    )
