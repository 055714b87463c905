"""The facility's own words: kept in a file of the data folder, read anew each time, shown and changed by a lead."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
import json
import logging
import os
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends

from loupebook.door.asks import fresh, the_person
from loupebook.door.door import Door
from loupebook.door.facility import FacilityWords, checked
from loupebook.door.who import PersonHere
from loupebook.scopes.tables.known import Facility, Place
from loupebook.vault.durable import sync_file, sync_folder

FACILITY = "facility.json"
USUAL = Facility("This facility", "UTC", (("day", "06:00", "18:00"), ("night", "18:00", "06:00")))
"""Until a facility gives its own name, time zone, hours and places."""

log = logging.getLogger(__name__)


def read_facility(folder: Path) -> Facility:
    """The words of a data folder; the usual ones until there are any. A file from before places has none."""
    try:
        row = json.loads((folder / FACILITY).read_text("utf-8"))
    except FileNotFoundError:
        return USUAL
    shifts = tuple((each["name"], each["begins"], each["ends"]) for each in row["shifts"])
    places = tuple(Place(each["name"], each["side"], tuple(each["points"])) for each in row.get("places", ()))
    return Facility(row["name"], row["zone"], shifts, places)


def write_facility(folder: Path, words: FacilityWords) -> None:
    """Whole or not at all, durable when it returns."""
    beside = folder / (FACILITY + ".part")
    with open(beside, "w", encoding="utf-8") as file:
        file.write(json.dumps(words.model_dump(), indent=1, ensure_ascii=False) + "\n")
        file.flush()
        sync_file(file.fileno())
    os.replace(beside, folder / FACILITY)
    sync_folder(folder)


def facility_words(facility: Facility) -> dict[str, object]:
    """As it is told to tablets and to the desk."""
    return {
        "name": facility.name,
        "zone": facility.zone,
        "shifts": [{"name": name, "begins": begins, "ends": ends} for name, begins, ends in facility.shifts],
        "places": [{"name": each.name, "side": each.side, "points": list(each.points)} for each in facility.places],
    }


def facility_routes(folder: Path, door: Door) -> APIRouter:
    """`GET` and `POST /lead/facility`."""
    router = APIRouter()
    fresh_lead = fresh(door)

    @router.get("/lead/facility")
    def get_facility(_: Annotated[PersonHere, Depends(the_person)]) -> dict[str, object]:
        return facility_words(read_facility(folder))

    @router.post("/lead/facility")
    def post_facility(body: FacilityWords, lead: Annotated[PersonHere, Depends(fresh_lead)]) -> dict[str, object]:
        write_facility(folder, checked(body))
        log.info("facility changed by=%s", lead.person)
        return facility_words(read_facility(folder))

    return router
