"""The door over HTTP: `/door/*`, and the lead's lists of people and stations."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from typing import Annotated, Literal

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, Request, Response
from pydantic import BaseModel, Field, StringConstraints

from loupebook.door.asks import fresh, the_person, the_station
from loupebook.door.cookie import cookie_name, set_cookie
from loupebook.door.door import Door, moment
from loupebook.door.facility import FacilityWords, Points, Side, Words
from loupebook.door.people import Wish, add_person, change_own_pin, change_person
from loupebook.door.pin_codes import first_codes, new_recovery, sign_in_by_code
from loupebook.door.rights import Role
from loupebook.door.sessions import SignedIn, sign_in, sign_out
from loupebook.door.stations import (
    POINTS,
    Begun,
    Enrolled,
    Place,
    Why,
    enrol,
    first,
    invite,
    new_chain,
    revoke,
)
from loupebook.door.told import seen_by, told_to
from loupebook.door.views import named, people_list, stations_list
from loupebook.door.who import FRESH_MS, WHOLE_MS, PersonHere, StationHere
from loupebook.qr import modules

Reason = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]
Code = Annotated[str, StringConstraints(max_length=40)]
Digits = Annotated[str, StringConstraints(max_length=64)]
Key = Annotated[str, StringConstraints(max_length=400)]
IdText = Annotated[str, StringConstraints(pattern="^[a-z0-9_.-]{1,64}$")]
Hash = Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]
Roles = Annotated[list[Role], Field(min_length=1, max_length=4)]


class FirstPerson(BaseModel):
    name: Words
    pin: Digits


class FirstStation(BaseModel):
    name: Words
    place: Words
    side: Side


class First(BaseModel):
    code: Code
    person: FirstPerson
    station: FirstStation
    public_key: Key
    facility: FacilityWords | None = None


class Enrol(BaseModel):
    code: Code
    public_key: Key


class Invite(BaseModel):
    name: Words
    place: Words
    side: Side
    points: Points


class OldHead(BaseModel):
    chain: Hash
    seq: Annotated[int, Field(ge=0, le=2**53 - 1, strict=True)]
    hash: Hash | None = None


class NewChain(BaseModel):
    public_key: Key
    old: OldHead
    why: Why


class SignIn(BaseModel):
    person: IdText
    pin: Digits


class ByCode(BaseModel):
    person: IdText
    code: Code
    pin: Digits


class Nothing(BaseModel):
    """An empty object: the route needs no words, and takes no others."""


class CodesFor(BaseModel):
    people: Annotated[list[IdText], Field(min_length=1, max_length=500)]


class Seen(BaseModel):
    entry: Hash


class OwnPin(BaseModel):
    old: Digits
    new: Digits


class NewPerson(BaseModel):
    name: Words
    roles: Roles
    pin: Digits


class ChangedPerson(BaseModel):
    roles: Roles | None = None
    active: bool | None = None
    name: Words | None = None
    pin: Digits | None = None
    tries: Literal["open_again"] | None = None


class Withdrawn(BaseModel):
    reason: Reason


def door_routes(door: Door) -> APIRouter:
    """All routes of the door. `Keeper` stands before them; without it they admit nobody."""
    router = APIRouter()
    hashing = CapacityLimiter(8)
    fresh_lead = fresh(door)

    def signed_in_words(signed_in: SignedIn) -> dict[str, object]:
        return {
            "person": signed_in.person,
            "roles": list(signed_in.roles),
            "ticket": signed_in.ticket,
            "until": moment(signed_in.until_ms),
        }

    def enrolled_words(enrolled: Enrolled) -> dict[str, object]:
        epoch = door.log.epoch()
        return {
            "station": enrolled.station,
            "chain": enrolled.chain,
            "token": enrolled.token,
            "facility": dict(door.facility()),
            "epoch": {"n": epoch.n, "id": epoch.id},
        }

    def let_in(response: Response, cookie: str, signed_in: SignedIn) -> dict[str, object]:
        """Hands the session's cookie over; the words of the answer."""
        response.headers["set-cookie"] = set_cookie(cookie, signed_in.token, WHOLE_MS // 1000)
        return signed_in_words(signed_in)

    def cookie_for(request: Request) -> str:
        return cookie_name(request.url.scheme, request.headers.get("host", ""))

    @router.post("/door/first", status_code=201)
    async def post_first(body: First, request: Request, response: Response) -> dict[str, object]:
        cookie = cookie_for(request)
        place = first_place(body.station, body.facility)

        def act() -> tuple[dict[str, object], Begun]:
            begun = first(door, body.code, body.person.name, body.person.pin, place, body.public_key, body.facility)
            return enrolled_words(begun.enrolled), begun

        words, begun = await to_thread.run_sync(act, limiter=hashing)
        return {**words, **let_in(response, cookie, begun.signed_in), "recovery": begun.recovery}

    @router.post("/door/enrol", status_code=201)
    def post_enrol(body: Enrol) -> dict[str, object]:
        return enrolled_words(enrol(door, body.code, body.public_key))

    @router.post("/door/invite", status_code=201)
    def post_invite(
        body: Invite, request: Request, lead: Annotated[PersonHere, Depends(fresh_lead)]
    ) -> dict[str, object]:
        place = Place(body.name, body.place, body.side, tuple(dict.fromkeys(body.points)))
        code, until_ms = invite(door, lead, place)
        address = door.address or f"{request.url.scheme}://{request.headers['host']}"
        # After the sign #, so that the code reaches no server log on its way (ASVS 5.0.0 14.2.1).
        link = f"{address}/#/enrol?code={code}"
        rows = modules(link)
        return {
            "code": code,
            "until": moment(until_ms),
            "label": f"LB1:E:{address}|{code}",
            "link": link,
            "qr": {"size": len(rows), "rows": rows},
        }

    @router.post("/door/chain", status_code=201)
    def post_chain(body: NewChain, station: Annotated[StationHere, Depends(the_station)]) -> dict[str, object]:
        old = (body.old.chain, body.old.seq, body.old.hash)
        return {"chain": new_chain(door, station, body.public_key, old, body.why)}

    @router.post("/door/sign-in")
    async def post_sign_in(
        body: SignIn,
        request: Request,
        response: Response,
        station: Annotated[StationHere, Depends(the_station)],
    ) -> dict[str, object]:
        cookie = cookie_for(request)
        signed_in = await to_thread.run_sync(sign_in, door, station, body.person, body.pin, limiter=hashing)
        return let_in(response, cookie, signed_in)

    @router.post("/door/by-code")
    async def post_by_code(
        body: ByCode,
        request: Request,
        response: Response,
        station: Annotated[StationHere, Depends(the_station)],
    ) -> dict[str, object]:
        cookie = cookie_for(request)
        signed_in = await to_thread.run_sync(
            sign_in_by_code, door, station, body.person, body.code, body.pin, limiter=hashing
        )
        return let_in(response, cookie, signed_in)

    @router.post("/door/recovery", status_code=201)
    def post_recovery(_: Nothing, lead: Annotated[PersonHere, Depends(fresh_lead)]) -> dict[str, object]:
        return {"code": new_recovery(door, lead)}

    @router.post("/door/codes", status_code=201)
    def post_codes(body: CodesFor, lead: Annotated[PersonHere, Depends(fresh_lead)]) -> dict[str, object]:
        given = first_codes(door, lead, body.people)
        return {
            "codes": [
                {"person": each.person, "name": each.name, "code": each.code, "until": moment(each.until_ms or 0)}
                for each in given
            ]
        }

    @router.post("/door/seen")
    def post_seen(body: Seen, lead: Annotated[PersonHere, Depends(the_person)]) -> dict[str, object]:
        seen_by(door, lead, body.entry)
        return {"entry": body.entry}

    @router.post("/door/sign-out")
    def post_sign_out(
        request: Request, response: Response, person: Annotated[PersonHere, Depends(the_person)]
    ) -> dict[str, object]:
        sign_out(door, person)
        # Never Clear-Site-Data: what the tablet has not sent must outlive a sign-out.
        response.headers["set-cookie"] = set_cookie(cookie_for(request), "", 0)
        return {"signed_out": person.person}

    @router.get("/door/me")
    def get_me(person: Annotated[PersonHere, Depends(the_person)]) -> dict[str, object]:
        with door.log.reading() as read:
            name, initials, by_lead = named(read, person.person)
            told = told_to(read, person, door.now_ms())
        return {
            "person": person.person,
            "name": name,
            "initials": initials,
            "roles": list(person.roles),
            "station": person.station,
            "ticket": person.ticket,
            "until": moment(person.ends_ms),
            "fresh_until": moment(person.proved_ms + FRESH_MS),
            "pin_by_lead": by_lead,
            "told": told,
        }

    @router.post("/door/pin")
    async def post_pin(body: OwnPin, person: Annotated[PersonHere, Depends(the_person)]) -> dict[str, object]:
        await to_thread.run_sync(change_own_pin, door, person, body.old, body.new, limiter=hashing)
        return {"person": person.person}

    @router.post("/door/people", status_code=201)
    async def post_people(body: NewPerson, lead: Annotated[PersonHere, Depends(fresh_lead)]) -> dict[str, object]:
        person = await to_thread.run_sync(add_person, door, lead, body.name, body.roles, body.pin, limiter=hashing)
        return {"person": person}

    @router.post("/door/people/{person}")
    async def post_person(
        person: str, body: ChangedPerson, lead: Annotated[PersonHere, Depends(fresh_lead)]
    ) -> dict[str, object]:
        wish = Wish(body.roles, body.active, body.name, body.pin, body.tries is not None)
        await to_thread.run_sync(change_person, door, lead, person, wish, limiter=hashing)
        return {"person": person}

    @router.post("/door/stations/{station}/revoke")
    def post_revoke(
        station: str, body: Withdrawn, lead: Annotated[PersonHere, Depends(the_person)]
    ) -> dict[str, object]:
        # No fresh PIN: a stolen tablet is withdrawn at once.
        revoke(door, lead, station, body.reason)
        return {"station": station}

    @router.get("/lead/stations")
    def get_stations(_: Annotated[PersonHere, Depends(the_person)]) -> dict[str, object]:
        with door.log.reading() as read:
            return {"stations": stations_list(read, door.log.head)}

    @router.get("/lead/people")
    def get_people(_: Annotated[PersonHere, Depends(the_person)]) -> dict[str, object]:
        with door.log.reading() as read:
            return {"people": people_list(read)}

    return router


def first_place(station: FirstStation, facility: FacilityWords | None) -> Place:
    """The first station at one of the facility's places, with what may be looked at there; else by its side alone."""
    for place in facility.places if facility is not None else ():
        if place.name == station.place:
            return Place(station.name, place.name, place.side, tuple(dict.fromkeys(place.points)))
    return Place(station.name, station.place, station.side, POINTS[station.side])
