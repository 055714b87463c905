"""Debian's packages: installed where we may, named in words where we may not."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping, Sequence

from starting.shell import Shell, Stopped
from starting.stamps import Stamps, key_of

NO_PDF = "a repair's packet is printed from its page, not made as a PDF"

RUNNING = {
    "libzbar0": "codes in a photo are read by one reader only, without a second opinion",
    "libpango-1.0-0": NO_PDF,
    "libpangoft2-1.0-0": NO_PDF,
    "libharfbuzz-subset0": NO_PDF,
}
"""Package -> what is weaker without it. Nothing breaks without any of them."""

TESTING = {
    "fonts-dejavu-core": "serial plates cannot be drawn for the camera",
    "chromium": "the screens cannot be tried in a browser",
    "libatomic1": "what drives that browser cannot be started",
    "strace": "how often the disk is made to sync cannot be counted, nor a failing disk be played",
    "zint": "codes cannot be written by a program independent of ours",
    "poppler-utils": "a PDF cannot be looked at",
    "libnss3-tools": "a certificate cannot be given to the browser",
}

LONG = {
    "webkit2gtk-driver": "the screens cannot be tried in the engine that browsers on iPadOS have",
    "xvfb": "that engine has no screen",
    "dbus": "that engine cannot be started",
}
"""What the long forms of tests need too."""

EXIT_PACKAGES = 4


def missing(shell: Shell, packages: Sequence[str]) -> list[str]:
    """Those of `packages` that dpkg does not have installed; all of them where there is no dpkg."""
    code, out = shell.read(["dpkg-query", "-W", "-f", "${Package} ${db:Status-Status}\n", *packages])
    if code == 127:
        return list(packages)
    have = {line.split()[0] for line in out.splitlines() if line.endswith(" installed")}
    return [name for name in packages if name not in have]


def may_install() -> bool:
    """Whether this account may install Debian's packages."""
    return os.name == "posix" and os.geteuid() == 0 and shutil.which("apt-get") is not None


def install(shell: Shell, packages: Sequence[str]) -> bool:
    """Installs packages; whether it went. The package list is fetched again only when the first try fails."""
    quiet = {"DEBIAN_FRONTEND": "noninteractive"}
    command = ["apt-get", "-o", "DPkg::Lock::Timeout=120", "install", "-y", "--no-install-recommends", *packages]
    if shell.run(command, env=quiet) == 0:
        return True
    return shell.run(["apt-get", "update"], env=quiet) == 0 and shell.run(command, env=quiet) == 0


def line_for(packages: Sequence[str]) -> str:
    """What a person with the right may type."""
    return "apt-get install -y --no-install-recommends " + " ".join(packages)


def for_running(shell: Shell, stamps: Stamps, may: bool) -> None:
    """Gets what makes a running server better. Never stops the start: says what is weaker instead."""
    lacking = missing(shell, list(RUNNING))
    if not lacking:
        return
    key = key_of(lacking)
    if may and not stamps.is_done("debian-tried", key):
        shell.say(f"Installing Debian's packages: {', '.join(lacking)} ...")
        went = install(shell, lacking)
        lacking = missing(shell, list(RUNNING))
        if went and not lacking:
            return
        # Tried once for this list: a machine without a network is not held up at every start.
        stamps.done("debian-tried", key_of(lacking))
    shell.say(f"Not on this machine: {', '.join(lacking)}. Loupebook runs without, but:")
    for words in dict.fromkeys(RUNNING[name] for name in lacking):
        shell.say(f"  - {words}")
    if shutil.which("apt-get"):
        shell.say(f"  To mend it, as root: {line_for(lacking)}")


def for_testing(shell: Shell, may: bool, long: bool = False) -> None:
    """Gets what the tests stand on; stops where it cannot, because a test left out is not a test passed."""
    wanted: Mapping[str, str] = {**RUNNING, **TESTING, **(LONG if long else {})}
    lacking = missing(shell, list(wanted))
    if lacking and may:
        shell.say(f"Installing Debian's packages for the tests: {', '.join(lacking)} ...")
        install(shell, lacking)
        lacking = missing(shell, list(wanted))
    if lacking:
        raise Stopped(
            EXIT_PACKAGES,
            "The tests need Debian's packages that are not here: "
            + "; ".join(f"{name} ({wanted[name]})" for name in lacking),
            "Nothing was run.",
            f"As root: {line_for(lacking)}",
        )
