"""Who may write which kind of entry, and who counts as what at a route. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, get_args

from loupebook.record.kinds import SERVER_KINDS, STATION_KINDS

Role = Literal["technician", "runner", "lead", "auditor"]
"""technician: inspects · runner: moves scopes between places and repair · lead: all, and decides · auditor: reads."""
ROLES: tuple[Role, ...] = get_args(Role)

Who = Literal["none", "station", "revoked", "technician", "runner", "lead", "auditor"]
"""Whom a route can admit: none = nobody known, station = an enrolled tablet, revoked = one a lead withdrew."""
WHO: tuple[Who, ...] = get_args(Who)

INSPECT: frozenset[Role] = frozenset({"technician", "lead"})
MOVE: frozenset[Role] = frozenset({"technician", "runner", "lead"})

MAY_WRITE: dict[str, frozenset[Role]] = {
    "inspection.begun": INSPECT,
    "serial.photographed": INSPECT,
    "part.marked": INSPECT,
    "finding.recorded": INSPECT,
    "photo.added": INSPECT,
    "photo.marked": INSPECT,
    "reading.taken": INSPECT,
    "channel.looked": INSPECT,
    "inspection.concluded": INSPECT,
    "inspection.abandoned": INSPECT,
    "scope.processed": INSPECT,
    "tool.registered": INSPECT,
    "tool.processed": INSPECT,
    "scope.registered": MOVE,
    "scope.received": MOVE,
    "scope.hung": MOVE,
    "scope.taken": MOVE,
    # A hold and the hiding of a photo protect a patient: whoever sees the reason may act on it.
    "hold.placed": MOVE,
    "photo.restricted": MOVE,
    "custody.offered": MOVE,
    "custody.accepted": MOVE,
    "custody.declined": MOVE,
    "custody.returned": MOVE,
    "repair.asked": MOVE,
    "repair.decontaminated": MOVE,
    "repair.packed": MOVE,
    "repair.shipped": MOVE,
    "repair.noted": MOVE,
    "repair.returned": MOVE,
    "loaner.received": MOVE,
    "loaner.sent_back": MOVE,
    # Only of one's own chain; which entries may be taken back is a chain rule.
    "entry.withdrawn": MOVE,
    "entry.corrected": MOVE,
}
"""Station kinds. What a role may at the sink is common practice, no source."""

DOOR_KINDS: frozenset[str] = frozenset(kind for kind in SERVER_KINDS if kind.split(".")[0] in ("person", "station"))
"""Written by the door's own routes only, together with rows outside the log; never by a lead's plain command."""


def role_may(kind: str, roles: Iterable[str]) -> bool:
    """Whether one of the roles may write this kind. Unknown kinds and unknown roles may nothing."""
    if kind in STATION_KINDS:
        return not MAY_WRITE.get(kind, frozenset()).isdisjoint(roles)
    return kind in SERVER_KINDS and "lead" in roles


def roles_text(roles: Iterable[str]) -> str:
    """Roles as kept in a row: in the closed list's order, parted by blanks."""
    held = set(roles)
    return " ".join(role for role in ROLES if role in held)


def roles_of(text: str) -> tuple[Role, ...]:
    """Roles as read from a row; a word that is no role is left out."""
    held = set(text.split())
    return tuple(role for role in ROLES if role in held)
