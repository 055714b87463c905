"""A whole server in this process over real HTTP, with its first tablet and the lead signed in at it."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from door_world import serving
from loupebook.app import create_app
from loupebook.door.stations import first_code
from loupebook.folder import open_folder
from loupebook.installation import Installation
from loupebook.settings import Settings
from sink_tablet import SinkTablet

PLACE = "Harrow Lake"


class WholeServer:
    """`.desk` is the tablet a lead is signed in at; `again()` starts the server anew on the same folder."""

    def __init__(self, folder: Path, *, first: bool = True) -> None:
        self.folder = folder
        self.data = folder / "record"
        self._running = ExitStack()
        self._tablets: list[SinkTablet] = []
        self.here = self._start()
        if first:
            code = first_code(self.here.door)
            assert code is not None
            self.desk = self.stranger("Desk")
            self.lead = self.desk.first(code, PLACE)
            self.desk.chain.person = self.lead

    def _start(self) -> Installation:
        installation = Installation(self.data, open_folder(self.data, "own", "test").id, "test")
        app = create_app(Settings(data=self.data, dist=self.folder / "none"), installation)
        self.address = self._running.enter_context(serving(app))
        return installation

    def tablet(self, name: str = "Sink 2") -> SinkTablet:
        """One more station, enrolled by the lead's code; its writer is a technician."""
        tablet = self.stranger(name).enrol(self.desk.invite(name, PLACE))
        tablet.chain.person = self.desk.add_person(f"{name} person")
        return tablet

    def stranger(self, name: str) -> SinkTablet:
        """A tablet nobody enrolled."""
        tablet = SinkTablet(self.address, name)
        self._tablets.append(tablet)
        return tablet

    def again(self) -> None:
        """The server stops and starts."""
        self._running.close()
        self.here = self._start()

    def settled(self) -> None:
        """All photos that came are looked at."""
        assert self.here.looking.settled(60)

    def close(self) -> None:
        for tablet in self._tablets:
            tablet.close()
        self._running.close()
