"""Bringing a file in over HTTP: templates, the dry run, and the writing of what it showed."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import AsyncGenerator, Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

import msgspec
from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, Path, Request
from sqlalchemy import Connection
from starlette.datastructures import FormData, UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.responses import Response

from loupebook.bulk.columns import PEOPLE, Columns, understood
from loupebook.bulk.fates import Plan
from loupebook.bulk.in_force import InForce
from loupebook.bulk.people import plan_people
from loupebook.bulk.read import read_sheet
from loupebook.bulk.record import people_on_record, scopes_on_record
from loupebook.bulk.scopes import Words, plan_scopes, read_rows, scope_columns
from loupebook.bulk.sheet import MOST_BYTES, Sheet, refused
from loupebook.bulk.write import PlanOn, Written, write_plan
from loupebook.door.asks import fresh, the_person
from loupebook.door.door import Door
from loupebook.door.trouble import Trouble
from loupebook.door.who import PersonHere
from loupebook.trouble import OURS

What = Literal["scopes", "people"]
MOST_CHOSEN = 200
"""Words for kinds that a person decided on, in one file."""


Kinds = Callable[[Connection], InForce]
"""What is in force now."""


class _InMemory(MultiPartParser):
    """Nothing of a file touches the disk: it may hold people's names. The keeper has bounded the whole body."""

    spool_max_size = 2 * MOST_BYTES


@dataclass(frozen=True)
class Sent:
    """One file as it came, and what a person decided about it."""

    data: bytes
    plan: str
    kinds: Mapping[str, str]


@dataclass(frozen=True)
class Read:
    """A file once read: its sheet, its columns, and its plan against any state of the record."""

    sheet: Sheet
    columns: Columns
    plan_on: PlanOn


def bulk_routes(door: Door, kinds: Kinds) -> APIRouter:
    """`GET /lead/bring/{what}.{form}`, `POST /lead/bring/{what}`."""
    router = APIRouter()
    proved = fresh(door)
    one_at_a_time = CapacityLimiter(1)

    @router.get("/lead/bring/{what}")
    def get_template(what: Annotated[str, Path(pattern=r"^(scopes|people)\.(csv|xlsx)$")]) -> Response:
        name, form = what.split(".")
        with door.log.reading() as read:
            data = kinds(read).template(name, form)
        return Response(data, 200, dict(OURS) | {"Content-Disposition": f'attachment; filename="{what}"'}, TYPES[form])

    @router.post("/lead/bring/{what}")
    async def post_file(what: What, request: Request, lead: Annotated[PersonHere, Depends(the_person)]) -> Response:
        sent = await sent_file(request)
        if sent.plan:
            proved(request)

        def act() -> bytes:
            return _act(door, kinds, what, sent, lead)

        return Response(await to_thread.run_sync(act, limiter=one_at_a_time), 200, OURS, "application/json")

    return router


TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def _act(door: Door, kinds: Kinds, what: What, sent: Sent, lead: PersonHere) -> bytes:
    """The dry run, and where a plan is named, its writing first. Blocking."""
    with door.log.reading() as read:
        file = _read(what, sent, kinds(read))
    written = write_plan(door.log, sent.plan, file.plan_on, lead, door.now_ms()) if sent.plan else None
    with door.log.reading() as read:
        plan = file.plan_on(read)
    return msgspec.json.encode(_answer(file, plan, written))


def _read(what: What, sent: Sent, here: InForce) -> Read:
    names = scope_columns(here.anatomy) if what == "scopes" else PEOPLE

    def known(name: str) -> bool:
        return understood(names, name) is not None

    sheet = read_sheet(sent.data, known)
    if what == "people":
        columns, _ = plan_people(sheet, {})
        return Read(sheet, columns, lambda read: plan_people(sheet, people_on_record(read))[1])
    words = Words(here.kinds, {word: id for word, id in sent.kinds.items() if id in here.kinds})
    columns, rows = read_rows(sheet, words, here.anatomy, datetime.now(UTC).year)
    return Read(sheet, columns, lambda read: plan_scopes(rows, scopes_on_record(read, rows)))


def _answer(file: Read, plan: Plan, written: Written | None) -> dict[str, Any]:
    return {
        "what": plan.what,
        "file": {"form": file.sheet.form, **file.sheet.about},
        "columns": [{"name": name, "column": column} for name, column in file.columns.named],
        "plan": plan.id if plan.writes else None,
        "counts": plan.counts(),
        "rows": plan.fates,
        "written": None
        if written is None
        else {"entries": written.entries, "people": list(written.people), "before": written.before},
    }


# ---------------------------------------------------------------- what is sent


async def sent_file(request: Request) -> Sent:
    """The file of a multipart body. Trouble `no_file` where it is not one."""
    kind = request.headers.get("content-type", "")
    if not kind.lower().startswith("multipart/form-data"):
        raise _no_file()
    try:
        form = await _InMemory(request.headers, _stream(request), max_files=1, max_fields=4).parse()
    except (MultiPartException, UnicodeDecodeError, ValueError, KeyError) as wrong:
        raise _no_file() from wrong
    try:
        return await _from(form)
    finally:
        await form.close()


async def _stream(request: Request) -> AsyncGenerator[bytes, None]:
    async for chunk in request.stream():
        yield chunk


async def _from(form: FormData) -> Sent:
    file = form.get("file")
    if not isinstance(file, UploadFile):
        raise _no_file()
    data = await file.read()
    if len(data) > MOST_BYTES:
        raise refused(
            "too_big", f"This file is larger than {MOST_BYTES // 1024 // 1024} MB.",
            "Copy the rows into the template and choose that file.",
        )  # fmt: skip
    plan = form.get("plan", "")
    return Sent(data, plan if isinstance(plan, str) else "", _kinds(form.get("kinds", "")))


def _kinds(given: object) -> Mapping[str, str]:
    if not given:
        return {}
    try:
        if not isinstance(given, str):
            raise msgspec.ValidationError("not text")
        chosen = msgspec.json.decode(given, type=dict[str, str])
    except (msgspec.DecodeError, msgspec.ValidationError, UnicodeEncodeError) as wrong:
        raise _no_file() from wrong
    if len(chosen) > MOST_CHOSEN:
        raise _no_file()
    return chosen


def _no_file() -> Trouble:
    return refused("no_file", "No file came that can be read.", "Choose the file again.")
