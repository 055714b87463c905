"""Words about who has a scope, and about its repairs, as rows. Their acts are written by the folds of scopes before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import UNSET, Struct, UnsetType, json

from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import (
    CustodyAccepted,
    CustodyDeclined,
    CustodyOffered,
    CustodyReturned,
    CustodySettled,
    EntryCorrected,
    Party,
)
from loupebook.repairs.repair_fold import REPAIR_FOLDS, repair_corrected
from loupebook.repairs.tables import ADD_CUSTODY, CORRECT_CUSTODY
from loupebook.rules.custody import What
from loupebook.scopes.tables.values import given, in_turn, listed, scope_of

Row = dict[str, Value]
Step = CustodyOffered | CustodyAccepted | CustodyDeclined | CustodyReturned | CustodySettled

_NAMES: Mapping[type[Struct], What] = {
    CustodyOffered: "offered",
    CustodyAccepted: "accepted",
    CustodyDeclined: "declined",
    CustodyReturned: "returned",
    CustodySettled: "settled",
}


def stepped(counted: Counted) -> Iterable[Change]:
    basis = counted.entry.basis
    own: Row = {"scope": scope_of(counted.entry), "basis": "" if basis is UNSET else str(basis)}
    yield Change(ADD_CUSTODY, _row(counted, counted.body) | own)


def corrected(counted: Counted) -> Iterable[Change]:
    """The row of a corrected body; scope and what it builds on are those of the entry it corrects."""
    assert isinstance(counted.body, EntryCorrected)
    body = counted.target.body if counted.target else None
    if isinstance(body, Step):
        yield Change(CORRECT_CUSTODY, _row(counted, body) | {"of": counted.body.entry})


def _row(counted: Counted, body: Struct) -> Row:
    assert isinstance(body, Step)
    holder = _holder(counted, body)
    reasoned = body if isinstance(body, CustodyDeclined | CustodySettled) else None
    noted = body if isinstance(body, CustodyOffered | CustodyDeclined) else None
    return {
        "version": counted.hash,
        "what": _NAMES[type(body)],
        **_party(holder),
        "place": None if isinstance(body, CustodyDeclined | CustodySettled) else body.place,
        "reason": reasoned.reason if reasoned else None,
        "note": given(noted.note) if noted else None,
        "over": listed(body.over) if isinstance(body, CustodySettled) else "[]",
        "offer": _offer(body),
    }


def _offer(body: Step) -> str | None:
    shown = body.offer if isinstance(body, CustodyAccepted | CustodyDeclined) else UNSET
    return None if isinstance(shown, UnsetType) else json.encode(shown).decode()


def _holder(counted: Counted, body: Step) -> Party | UnsetType:
    if isinstance(body, CustodyReturned):
        return Party("person", counted.entry.person)
    if isinstance(body, CustodyOffered):
        return body.to
    return UNSET if isinstance(body, CustodyDeclined) else body.holder


def _party(party: Party | UnsetType) -> Row:
    if isinstance(party, UnsetType):
        return {"holder_kind": "house", "holder": "", "firm": None, "waybill": None}
    return {
        "holder_kind": party.kind,
        "holder": party.name,
        "firm": given(party.firm),
        "waybill": given(party.waybill),
    }


_STEPS: dict[str, Fold] = {f"custody.{name}": stepped for name in _NAMES.values()}
FOLDS: dict[str, Fold] = _STEPS | REPAIR_FOLDS | {"entry.corrected": in_turn(corrected, repair_corrected)}
"""To be run after those of scopes."""
