"""`loupebook way-back`: lets a lead in again who has neither PIN nor recovery code nor a tablet."""

from __future__ import annotations

import sys

from loupebook import __version__
from loupebook.door.way_back import Lead, leads_of, make_way_back, usual_place
from loupebook.folder import FolderRefused
from loupebook.installation import Installation
from loupebook.keeping import EXIT_FAULT, EXIT_FOLDER, alone
from loupebook.settings import Settings

HOW = """  Station code   {station}  (one hour; in a browser, under "One-time code")
  Recovery code  {recovery}  (then the name, "I have a code", this code, and a new PIN; it works once)
Start the server, and do the two in this order. Every lead is told that this was made, {name} too, and it stands in the
record. Afterwards withdraw the lost tablets under Stations, and make a new recovery code on paper."""


def way_back_verb(settings: Settings, wanted: str | None) -> int:
    """Makes the two codes for a lead, named by name or id; says who there is where none is named or it is unclear."""
    try:
        with alone(settings) as instance:
            here = Installation(settings.folder, instance.id, __version__)
            try:
                return _made(here, wanted)
            finally:
                here.close()
    except FolderRefused as refused:
        print(refused, file=sys.stderr)
        return EXIT_FOLDER


def _made(here: Installation, wanted: str | None) -> int:
    facility = here.facility()
    with here.log.reading() as read:
        leads = leads_of(read)
        place = usual_place(read, [each.name for each in facility.places], facility.name)
    lead = _chosen(leads, wanted)
    if lead is None:
        names = ", ".join(each.name for each in leads) or "nobody; start the server, it says a first code"
        print(
            f"Whom shall it let in? Leads here: {names}. Nothing was written. Give one: way-back NAME.", file=sys.stderr
        )
        return EXIT_FAULT
    made = make_way_back(here.door, lead, place)
    print(f"A way back for {lead.name}:")
    print(HOW.format(station=made.station_code, recovery=made.recovery, name=lead.name))
    return 0


def _chosen(leads: list[Lead], wanted: str | None) -> Lead | None:
    if wanted is None:
        return leads[0] if len(leads) == 1 else None
    same = [each for each in leads if wanted.casefold() in (each.name.casefold(), each.person.casefold())]
    return same[0] if len(same) == 1 else None
