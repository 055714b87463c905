"""A look before use, written by a hand-made tablet and sent: what a shift is counted from."""

from __future__ import annotations

from sink_tablet import SinkTablet
from story import C14, photo, route


def looked(tablet: SinkTablet, shift: str, *, scope: str = C14, find: bool = False, end: bool = True) -> str:
    """A look before use at a scope; one with a finding is sent back to cleaning."""
    chain = tablet.chain
    chain.scope = scope
    begun = chain.begin("before_use", shift=shift)
    chain.serial()
    for part in route("before_use")[0]:
        chain.mark(part)
    for check in ("function_image_light", "function_tip_moves", "function_air_water_suction"):
        chain.write("reading.taken", {"what": check, "result": "works"})
    if find:
        chain.find("lens", "film", [photo(f"film {tablet.chain.name} {len(chain.lines)}", "finding")])
    if end:
        chain.conclude("clean" if find else "nothing", "on")
    sent(tablet)
    return begun


def sent(tablet: SinkTablet) -> None:
    assert {row["verdict"] for row in tablet.send()} == {"counted"}
