"""Who may write which kind of entry, and who counts as what at a route. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, get_args

from loupebook.record.kinds import SERVER_KINDS, STATION_KINDS

Role = Literal["technician", "runner", "lead", "deputy", "auditor"]
"""technician: inspects · runner: moves scopes between places and repair · lead: all, and decides · deputy: decides what
a shift needs decided where no lead is · auditor: reads."""
ROLES: tuple[Role, ...] = get_args(Role)

Who = Literal["none", "station", "revoked", "technician", "runner", "lead", "deputy", "auditor"]
"""Whom a route can admit: none = nobody known, station = an enrolled tablet, revoked = one a lead withdrew."""
WHO: tuple[Who, ...] = get_args(Who)

INSPECT: frozenset[Role] = frozenset({"technician", "lead", "deputy"})
MOVE: frozenset[Role] = frozenset({"technician", "runner", "lead", "deputy"})

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
    # A call is written down by whoever takes it.
    "hold.phoned": MOVE,
    "work.answered": INSPECT,
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
    "loaner.noted": MOVE,
    "loaner.sent_back": MOVE,
    # Only of one's own chain; which entries may be taken back is a chain rule.
    "entry.withdrawn": MOVE,
    "entry.corrected": MOVE,
}
"""Station kinds. What a role may at the sink is common practice, no source."""

DOOR_KINDS: frozenset[str] = frozenset(kind for kind in SERVER_KINDS if kind.split(".")[0] in ("person", "station"))
"""Written by the door's own routes only, together with rows outside the log; never by a lead's plain command."""


DEPUTY_KINDS: frozenset[str] = frozenset(
    (
        "hold.decided", "hold.escalated", "hold.advised", "work.asked", "work.dropped", "custody.settled",
        "repair.opened", "repair.approved", "repair.closed", "shift.answered", "shift.closed", "shift.added",
        "photo.hidden",
    )
)  # fmt: skip
"""What a shift needs decided before it ends, and what protects a person at once. All else waits for a lead: people,
tablets, policy, the facility, scopes on record, what was put aside, hidden photos. Common practice, no source."""


def role_may(kind: str, roles: Iterable[str]) -> bool:
    """Whether one of the roles may write this kind. Unknown kinds and unknown roles may nothing."""
    if kind in STATION_KINDS:
        return not MAY_WRITE.get(kind, frozenset()).isdisjoint(roles)
    held = set(roles)
    return kind in SERVER_KINDS and ("lead" in held or ("deputy" in held and kind in DEPUTY_KINDS))


def roles_text(roles: Iterable[str]) -> str:
    """Roles as kept in a row: in the closed list's order, parted by blanks."""
    held = set(roles)
    return " ".join(role for role in ROLES if role in held)


def roles_of(text: str) -> tuple[Role, ...]:
    """Roles as read from a row; a word that is no role is left out."""
    held = set(text.split())
    return tuple(role for role in ROLES if role in held)
