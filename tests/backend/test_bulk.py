"""Bringing scopes and people in from a file, over real HTTP: each row's fate, then written once.

Workbooks are made by openpyxl, a writer of its own; the DI 51022222233336 is the FDA's public sample string, the HIBC
strings are public examples (one with a wrong check character on purpose).
"""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import openpyxl
import pytest
from door_world import code_of, public_key
from live_server import LiveServer
from loupebook.log.declared import table_of
from sink_tablet import SinkTablet

pytestmark = pytest.mark.breadth

DI = "51022222233336"
HEAD = ["Facility tag", "Kind of scope", "Maker", "Model", "Serial number", "UDI or DI", "Working length mm"]
PIN = "739482"


class Desk:
    """A server and its lead, who brings files in."""

    def __init__(self, server: LiveServer) -> None:
        self.server = server
        self.tablet = SinkTablet(server.url, "Desk")
        self.lead = self.tablet.first(server.said("First code").split()[2])

    def send(self, data: bytes, what: str = "scopes", name: str = "file.csv", **more: str) -> httpx.Response:
        browser = self.tablet.browser
        files = {"file": (name, data, "application/octet-stream")}
        return browser.http.post(f"/lead/bring/{what}", files=files, data=more, headers=browser.headers())

    def look(self, data: bytes | list[list[str]], what: str = "scopes", **more: str) -> dict[str, Any]:
        """The dry run of a file or of rows."""
        answer = self.send(csv_of(data) if isinstance(data, list) else data, what, **more)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def write(self, data: bytes | list[list[str]], what: str = "scopes", **more: str) -> dict[str, Any]:
        """What was shown, written."""
        plan = self.look(data, what, **more)["plan"]
        return self.look(data, what, plan=plan, **more)

    def entries(self, kind: str) -> list[dict[str, Any]]:
        base = sqlite3.connect(f"file:{self.server.data / 'record.sqlite'}?mode=ro", uri=True)
        try:
            rows = base.execute("SELECT line FROM log_entries WHERE kind = ? ORDER BY position", (kind,)).fetchall()
        finally:
            base.close()
        return [json.loads(row[0]) for row in rows]


def csv_of(rows: list[list[str]], separator: str = ",", encoding: str = "utf-8") -> bytes:
    """Rows written by the standard library, quoted where needed (RFC 4180)."""
    import csv

    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerows(rows)
    return out.getvalue().encode(encoding)


def xlsx_of(rows: list[list[object]], **more: Any) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    for place, style in more.items():
        sheet[place].number_format = style
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    server = LiveServer(tmp_path_factory.mktemp("bulk") / "record").start()
    try:
        desk = Desk(server)
        yield desk
        desk.tablet.close()
    finally:
        server.close()


def row(tag: str = "", kind: str = "colonoscope", serial: str = "", udi: str = DI, **more: str) -> list[str]:
    return [tag, kind, more.get("maker", "Alder"), more.get("model", "CX 180"), serial, udi, more.get("mm", "")]


def fates(told: dict[str, Any]) -> list[str]:
    return [each["fate"] for each in told["rows"]]


def reason(desk: Desk, line: list[str]) -> dict[str, Any]:
    """Why the one row is refused."""
    (only,) = desk.look([HEAD, line])["rows"]
    assert only["fate"] == "refused", only
    return dict(only["reason"])


# ---------------------------------------------------------------- fates


def test_rows_are_new_then_the_same_then_changes_and_nothing_is_written_before_it_is_asked_for(desk: Desk) -> None:
    rows = [HEAD, row("N-01", serial="100001", mm="1680"), row("N-02", "Gastroscope", "100002", mm="103 cm")]
    told = desk.look(rows)
    assert fates(told) == ["new", "new"]
    assert told["counts"] == {"new": 2, "known": 0, "changes": 0, "same": 0, "duplicate": 0, "refused": 0}
    assert [each["row"] for each in told["rows"]] == [2, 3]
    assert desk.entries("scope.described") == []
    done = desk.write(rows)
    assert done["written"] == {"entries": 2, "people": [], "before": False}
    assert fates(done) == ["same", "same"] and done["plan"] is None
    written = desk.entries("scope.described")
    assert [entry["about"]["scope"] for entry in written] == [f"udi:{DI}/100001", f"udi:{DI}/100002"]
    assert written[1]["body"] == {
        "scope_kind": "gastroscope", "serial": "100002", "di": DI, "maker": "Alder", "model": "CX 180",
        "tag": "N-02", "codes": [], "none_here": [], "tube_mm": 1030, "channels": [],
    }  # fmt: skip
    assert written[0]["person"] == desk.lead and written[0]["proof"]["how"] == "pin"
    again = desk.look([HEAD, row("N-01", serial="100001"), row("N-09", serial="100002")])
    assert fates(again) == ["same", "changes"], "an empty cell takes nothing away"
    assert again["rows"][1]["changes"] == [
        {"field": "kind", "before": "gastroscope", "after": "colonoscope"},
        {"field": "tag", "before": "N-02", "after": "N-09"},
    ]


def test_what_the_desk_entered_of_a_scope_stays_when_a_file_changes_it(desk: Desk) -> None:
    desk.write([HEAD, row("S-01", serial="110001")])
    key = f"udi:{DI}/110001"
    sizes = [{"channel": "ch_instrument", "inner_um": 3700, "length_mm": 1820}]
    body = {
        "scope_kind": "colonoscope", "serial": "110001", "di": DI, "tag": "S-01", "none_here": ["jet_outlet"],
        "channels": sizes, "instructions": {"title": "Instructions"},
    }  # fmt: skip
    assert desk.tablet.command("scope.described", body, {"scope": key}).status_code == 201
    desk.write([HEAD, row("S-02", serial="110001")])
    now = desk.tablet.lead(f"scope?key={key}")
    assert (now["tag"], now["channels"], now["none_here"], now["instructions"]) == (
        "S-02", sizes, ["jet_outlet"], {"title": "Instructions"},
    )  # fmt: skip


def test_a_scope_met_at_a_sink_is_put_on_record(desk: Desk) -> None:
    chain = desk.tablet.chain
    chain.person = desk.lead
    chain.scope = f"udi:{DI}/120001"
    body = {"scope_kind": "colonoscope", "serial": "120001", "di": DI, "tag": "R-01"}
    chain.write("scope.registered", body)
    assert desk.tablet.send()[-1]["verdict"] == "counted"
    rows = [HEAD, row("R-01", serial="120001")]
    assert fates(desk.look(rows)) == ["known"]
    assert fates(desk.write(rows)) == ["same"]


def test_a_duplicate_names_the_row_before_and_is_not_written_twice(desk: Desk) -> None:
    rows = [HEAD, row("D-01", serial="130001"), row("D-02", serial="130002"), row("D-03", serial="130001")]
    told = desk.write(rows)
    assert told["written"]["entries"] == 2
    assert (told["rows"][2]["fate"], told["rows"][2]["of"]) == ("duplicate", 2)


def test_a_tag_or_a_number_of_another_scope_is_said(desk: Desk) -> None:
    desk.write([HEAD, row("T-01", serial="140001")])
    other = row("T-04", serial="140001", udi="")
    told = desk.look([HEAD, row("T-01", serial="140002"), row("t-01", serial="140003"), other])
    notes = [{note["code"]: note for note in each["notes"]} for each in told["rows"]]
    assert notes[0]["tag_elsewhere"]["other"] == "140001"
    assert notes[1]["tag_twice"]["row"] == 2
    assert notes[2]["serial_elsewhere"]["other"] == "T-01"
    assert fates(told) == ["new", "new", "new"]


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        # GS1 mod 10: the FDA's sample ends in 6; 7 must be rejected.
        (row("B-1", serial="1", udi="51022222233337"), {"code": "bad_check_digit", "found": "7", "expected": "6"}),
        (
            row("B-2", udi="(01)51022222233337(21)1234"),
            {"code": "bad_check_digit", "found": "7", "expected": "6"},
        ),
        # 21 CFR 830.3: a DI alone is a model, not a scope.
        (row("B-3"), {"code": "serial_missing"}),
        (row("B-4", udi=f"(01){DI}"), {"code": "serial_missing"}),
        (row("B-5", serial="", udi=""), {"code": "serial_missing"}),
        (row("B-6", serial="9", udi="", maker="", model=""), {"code": "not_enough", "missing": ["maker", "model"]}),
        (
            row("B-7", serial="99", udi=f"(01){DI}(21)1234"),
            {"code": "serial_differs", "found": "1234", "expected": "99"},
        ),
        (row("B-8", serial="9", udi="5.10222E+13"), {"code": "became_number", "column": "udi", "found": "5.10222E+13"}),
        (row("B-9", serial="2,74191E+06"), {"code": "became_number", "column": "serial", "found": "2,74191E+06"}),
        (row("B-10", "", "9"), {"code": "kind_missing"}),
        (row("B-11", "colonscope", "9"), {"code": "kind_unknown", "word": "colonscope", "nearest": "colonoscope"}),
        (row("B-12", "toaster 3000 pro", "9"), {"code": "kind_unknown", "word": "toaster 3000 pro"}),
        (row("B-13", serial="9", mm="long"), {"code": "length_not_read", "found": "long"}),
        (row("B-14", serial="9", mm="1.68"), {"code": "length_not_read", "found": "1.68"}),
        (row("B-15", serial="9", udi="the sticker"), {"code": "code_not_read", "found": "the sticker"}),
        (row("B-16", serial="9" * 201), {"code": "text_too_long", "column": "serial"}),
        # A public sample of ISBT 128.
        (row("B-17", serial="9", udi="=/A9999XYZ100T0944=,000025"), {"code": "tissue_code"}),
    ],
)  # fmt: skip
def test_a_row_is_refused_for_its_reason(desk: Desk, line: list[str], wanted: dict[str, Any]) -> None:
    assert reason(desk, line) == wanted


def test_a_reader_that_lost_the_separator_is_asked_about(desk: Desk) -> None:
    """The FDA's sample as a keyboard reader gives it that drops GS: lot and serial run together."""
    told = reason(desk, row("G-1", udi="015102222223333610A213B1211234"))
    assert told["code"] == "separator_missing"
    assert "A213B1 · 1234" in told["readings"]
    # With the serial number beside it, nothing is in doubt.
    (only,) = desk.look([HEAD, row("G-1", serial="1234", udi="015102222223333610A213B1211234")])["rows"]
    assert (only["fate"], only["key"]) == ("new", f"udi:{DI}/1234")


@pytest.mark.parametrize(
    ("udi", "serial", "key", "notes"),
    [
        (f"(01){DI}(11)141231(17)150707(10)A213B1(21)1234", "", f"udi:{DI}/1234", ["gs1_read"]),
        ("https://id.gs1.org/01/09521234543213/10/ABC123/21/12345", "", "udi:09521234543213/12345", ["gs1_read"]),
        ("9521234543213", "77", "udi:09521234543213/77", ["di_padded"]),
        # HIBC supplier standard, public examples.
        ("+A99912345/$$52001510X3/16D20111212/S77DEFG457", "", "udi:A999123450/77DEFG45", ["hibc_read"]),
        ("'+A99912345/$$52001510X3/16D20111212/S77DEFG457", "", "udi:A999123450/77DEFG45", ["hibc_read"]),
        ("+A999ABC123DE1/$+1234567Y", "", "udi:A999ABC123DE1/1234567", ["hibc_read", "check_character_wrong"]),
    ],
)  # fmt: skip
def test_a_code_names_the_scope(desk: Desk, udi: str, serial: str, key: str, notes: list[str]) -> None:
    (only,) = desk.look([HEAD, row("K-1", serial=serial, udi=udi)])["rows"]
    assert only["fate"] == "new", only
    assert [note["code"] for note in only["notes"]] == notes
    assert only["key"].split("/")[1] == key.split("/")[1]
    if notes[0] != "hibc_read":
        assert only["key"] == key


def test_an_unknown_kind_is_taken_as_the_person_decides(desk: Desk) -> None:
    rows = [HEAD, row("U-1", "Koloskop lang", "150001"), row("U-2", "Koloskop lang", "150002")]
    assert fates(desk.look(rows)) == ["refused", "refused"]
    chosen = json.dumps({"Koloskop lang": "colonoscope"})
    assert fates(desk.look(rows, kinds=chosen)) == ["new", "new"]
    assert fates(desk.look(rows, kinds=json.dumps({"Koloskop lang": "no such kind"}))) == ["refused", "refused"]
    assert desk.write(rows, kinds=chosen)["written"]["entries"] == 2


# ---------------------------------------------------------------- sizes, from the scope's own instructions

SIZED = [
    *HEAD, "Sizes read from", "Edition of the instructions", "Date of the instructions", "Has none of",
    "Channels by flow only", "Instrument channel: inner diameter mm", "Instrument channel: own length mm",
    "ch_suction length", "Elevator-wire channel: inner diameter mm",
]  # fmt: skip


def sized(serial: str, *cells: str, kind: str = "colonoscope") -> list[str]:
    return [*row(f"I-{serial}", kind, serial), *cells]


def test_sizes_and_what_a_scope_has_none_of_come_with_their_source(desk: Desk) -> None:
    """3.7 mm and 11.1 Fr are one width (ISO 8600-4: a French unit is a third of a millimetre)."""
    full = ("Book 7", "3", "2024-05-01", "stiffness ring; insertion tube, 3rd third", "air channel", "3,7", "182 cm")
    rows = [SIZED, sized("210001", *full, "2500"), sized("210002", *full[:5], "11.1 Fr", "1820", "")]
    told = desk.write(rows)
    assert fates(told) == ["same", "same"], told["rows"]
    size = [
        {"channel": "ch_instrument", "inner_um": 3700, "length_mm": 1820}, {"channel": "ch_suction", "length_mm": 2500},
        {"channel": "ch_air", "reach": "flow"},
    ]  # fmt: skip
    now = desk.tablet.lead(f"scope?key=udi:{DI}/210001")
    assert now["channels"] == size
    assert (now["none_here"], now["instructions"]) == (
        ["stiffness_ring", "tube_3"], {"title": "Book 7", "edition": "3", "dated": "2024-05-01"},
    )  # fmt: skip
    assert desk.tablet.lead(f"scope?key=udi:{DI}/210002")["channels"] == [size[0], size[2]]
    (read,) = desk.look([SIZED, sized("210009", *full)])["rows"]
    assert read["sizes"] == [size[0], size[2]] and read["none_here"] == ["stiffness_ring", "tube_3"]
    # An empty cell leaves what is on record; one that says otherwise is shown before it is written.
    changed = desk.look([SIZED, sized("210001", "", "", "", "", "", "2.8")])["rows"][0]
    assert changed["changes"] == [{"field": "inner:ch_instrument", "before": "3.7", "after": "2.8"}]
    assert "notes" not in changed, "a kind by the name it has here is said nothing of"


@pytest.mark.parametrize(
    ("cells", "wanted"),
    [
        (("", "", "", "", "", "3.7"), {"code": "sizes_without_source"}),
        (("", "4"), {"code": "sizes_without_source"}),
        (("B", "", "1 May 2024"), {"code": "date_not_read", "found": "1 May 2024"}),
        (("B", "", "", "", "", "37"), {"code": "inner_not_read", "found": "37"}),
        (("B", "", "", "", "", "", "1.82"), {"code": "channel_length_not_read", "found": "1.82"}),
        (("B", "", "", "", "", "", "", "", "0.8"), {"code": "channel_not_of_kind", "word": "ch_wire"}),
        (("B", "", "", "ch_instrument", "", "3.7"), {"code": "none_but_sized", "word": "ch_instrument"}),
        (
            ("B", "", "", "nozle"),
            {"code": "part_unknown", "column": "none_here", "word": "nozle", "nearest": "nozzle"},
        ),
        (("B", "", "", "", "nozzle"), {"code": "part_unknown", "column": "flow_only", "word": "nozzle"}),
        (
            ("B", "", "", "", "", "3.7E+5"),
            {"code": "became_number", "column": "inner:ch_instrument", "found": "3.7E+5"},
        ),
    ],
)
def test_a_size_that_cannot_be_is_refused(desk: Desk, cells: tuple[str, ...], wanted: dict[str, Any]) -> None:
    (only,) = desk.look([SIZED, sized("220001", *cells)])["rows"]
    assert (only["fate"], only["reason"]) == ("refused", wanted)


def test_a_size_of_what_the_record_says_there_is_none_of_is_refused(desk: Desk) -> None:
    desk.write([SIZED, sized("230001", "Book 7", "", "", "instrument channel")])
    (only,) = desk.look([SIZED, sized("230001", "Book 7", "", "", "", "", "3.7")])["rows"]
    assert only["reason"] == {"code": "none_but_sized", "word": "ch_instrument"}


def test_kinds_and_parts_are_understood_by_id_and_by_the_words_of_every_language(desk: Desk, tmp_path: Path) -> None:
    """Words of a second language are made up here: what counts is that a file beside the first one is read."""
    from loupebook.bulk.columns import understood
    from loupebook.bulk.in_force import in_force_of, languages_of
    from loupebook.bulk.scopes import Words, read_rows, scope_columns
    from loupebook.bulk.sheet import Line, Sheet

    (only,) = desk.look([HEAD, row("L-1", "echoendoscope_linear", "240001")])["rows"]
    assert (only["fate"], only["kind"]) == ("new", "echoendoscope_linear")
    assert only["notes"] == [{"code": "kind_read", "word": "echoendoscope_linear", "found": "echoendoscope_linear"}]
    (tmp_path / "en.json").write_text(json.dumps({"kind.k": "Long scope", "part.lens": "lens", "part.ch_a": "air"}))
    (tmp_path / "xx.json").write_text(json.dumps({"kind.k": "Lankku", "part.lens": "Linssi", "part.ch_a": "Ilma"}))
    kind = {"parts": [{"id": "lens"}], "channels": [{"id": "ch_a"}]}
    here = in_force_of({"k": kind}, languages_of(tmp_path, "en"))
    assert understood(scope_columns(here.anatomy), "ilma diameter mm") == "inner:ch_a"
    head = Line(1, ("kind", "serial", "udi", "has none", "ilma diameter mm", "ifu"))
    line = Line(2, ("LANKKU", "1", DI, "linssi", "0.8", "Book 7"))
    _, (one,) = read_rows(Sheet([head, line], "csv"), Words(here.kinds, {}), here.anatomy, 2026)
    assert one.said["kind"] == "k" and one.sizes.none_here == ("lens",)
    assert [(note.code, note.word, note.found) for note in one.notes] == [
        ("kind_read", "LANKKU", "k"), ("part_read", "linssi", "lens"),
    ]  # fmt: skip
    assert one.sizes.channels["ch_a"].inner_um == 800


# ---------------------------------------------------------------- written once


def test_a_plan_sent_again_says_the_same_and_writes_nothing(desk: Desk) -> None:
    data = csv_of([HEAD, row("W-1", serial="160001")])
    plan = desk.look(data)["plan"]
    assert desk.look(data, plan=plan)["written"] == {"entries": 1, "people": [], "before": False}
    before = len(desk.entries("scope.described"))
    assert desk.look(data, plan=plan)["written"] == {"entries": 1, "people": [], "before": True}
    assert len(desk.entries("scope.described")) == before


def test_a_change_made_back_and_forth_is_a_plan_of_its_own(desk: Desk) -> None:
    """The same file twice with another description between: the second time is no repetition of the first."""
    one, other = [HEAD, row("X-1", serial="170001")], [HEAD, row("X-2", serial="170001")]
    desk.write(one)
    desk.write(other)
    assert desk.write(one)["written"] == {"entries": 1, "people": [], "before": False}
    assert desk.tablet.lead(f"scope?key=udi:{DI}/170001")["tag"] == "X-1"


def test_a_record_that_changed_since_writes_nothing(desk: Desk) -> None:
    data = csv_of([HEAD, row("Y-1", serial="180001"), row("Y-2", serial="180002")])
    plan = desk.look(data)["plan"]
    desk.write([HEAD, row("Y-2", serial="180002")])
    before = len(desk.entries("scope.described"))
    refused = desk.send(data, plan=plan)
    assert (refused.status_code, code_of(refused)) == (409, "record_changed")
    assert len(desk.entries("scope.described")) == before


def test_half_a_file_writes_nothing(desk: Desk) -> None:
    """A connection that ends half-way: the body is shorter than it said."""
    import socket

    data = csv_of([HEAD, row("Z-1", serial="190001")])
    plan = desk.look(data)["plan"]
    browser = desk.tablet.browser
    request = browser.http.build_request(
        "POST", "/lead/bring/scopes", files={"file": ("f.csv", data)}, data={"plan": plan}, headers=browser.headers()
    )
    body = request.read()
    cookie = "; ".join(f"{name}={value}" for name, value in browser.http.cookies.items())
    head = ["POST /lead/bring/scopes HTTP/1.1", f"cookie: {cookie}"]
    head += [f"{name}: {value}" for name, value in request.headers.items() if name != "cookie"]
    before = len(desk.entries("scope.described"))
    with socket.create_connection(("127.0.0.1", desk.server.port), timeout=60) as wire:
        wire.sendall("\r\n".join(head).encode() + b"\r\n\r\n" + body[: len(body) - 40])
        wire.shutdown(socket.SHUT_WR)
        wire.settimeout(60)
        while wire.recv(4096):
            pass
    assert len(desk.entries("scope.described")) == before
    assert desk.look(data, plan=plan)["written"]["entries"] == 1


def test_writing_asks_for_a_plan_that_was_shown(desk: Desk) -> None:
    data = csv_of([HEAD, row("P-1", serial="200001")])
    refused = desk.send(data, plan="0" * 64)
    assert (refused.status_code, code_of(refused)) == (409, "record_changed")


# ---------------------------------------------------------------- people


def test_people_come_without_a_pin_and_set_it_themselves(desk: Desk) -> None:
    rows = [
        ["Name", "Does here"], ["Rin  Oake", "Technician, runner"], ["Jo Marlow", "lead"], ["rin oake", "technician"],
        ["Moira Keld", "technician"], ["Tobin Sarr", "pirate"], ["", "technician"], ["P. Lund", ""],
    ]  # fmt: skip
    told = desk.look(rows, "people")
    assert fates(told) == ["new", "new", "duplicate", "same", "refused", "refused", "refused"]
    assert [each.get("reason", {}).get("code") for each in told["rows"][4:]] == [
        "role_unknown", "name_missing", "roles_missing",
    ]  # fmt: skip
    assert told["rows"][3]["notes"] == [{"code": "roles_differ", "found": "technician", "expected": "lead"}]
    done = desk.write(rows, "people")
    assert done["written"]["entries"] == 2
    rin, jo = done["written"]["people"]
    assert [entry["body"] for entry in desk.entries("person.added")[-2:]] == [
        {"person": rin, "roles": ["technician", "runner"]}, {"person": jo, "roles": ["lead"]},
    ]  # fmt: skip
    here = {each["person"]: each for each in desk.tablet.lead("people")["people"]}
    assert (here[rin]["name"], here[rin]["has_pin"]) == ("Rin Oake", False)
    assert code_of(desk.tablet.browser.sign_in(rin, PIN)) == "no_pin_yet"
    code = desk.tablet.browser.post("/door/codes", {"people": [rin]}).json()["codes"][0]["code"]
    sink = SinkTablet(desk.server.url, "Sink 9").enrol(desk.tablet.invite("Sink 9"))
    answer = sink.browser.post("/door/by-code", {"person": rin, "code": code, "pin": PIN})
    assert answer.status_code == 200, answer.text
    assert sink.browser.sign_in(rin, PIN).status_code == 200
    sink.close()
    assert fates(desk.look(rows, "people"))[:2] == ["same", "same"]


def test_a_file_with_pins_is_not_taken(desk: Desk) -> None:
    refused = desk.send(csv_of([["Name", "Role", "PIN"], ["Nia Brook", "technician", "123456"]]), "people")
    assert (refused.status_code, code_of(refused)) == (422, "has_pins")


def test_writing_asks_for_a_fresh_pin(tmp_path: Path) -> None:
    """Over the real door with a clock of its own: five minutes after the PIN was given."""
    from door_world import World, door_app, serving
    from loupebook.bulk.in_force import in_force_of
    from loupebook.bulk.routes import bulk_routes
    from loupebook.bulk.tables import KEPT
    from loupebook.scopes.tables import FOLDED as SCOPES
    from sqlmodel import SQLModel

    world = World(tmp_path)
    SQLModel.metadata.create_all(world.own.engine, [table_of(each) for each in (*KEPT, *SCOPES)])
    app = door_app(world.door, lambda app: app.include_router(bulk_routes(world.door, lambda _: in_force_of({}, []))))
    try:
        with serving(app) as address:
            world.address = address
            lead = world.led()
            world.clock.go_on(minutes=6)
            files = {"file": ("f.csv", csv_of([["Name", "Role"], ["Nia Brook", "technician"]]))}
            dry = lead.http.post("/lead/bring/people", files=files, headers=lead.headers())
            assert dry.status_code == 200, dry.text
            more = {"plan": dry.json()["plan"]}
            refused = lead.http.post("/lead/bring/people", files=files, data=more, headers=lead.headers())
            assert code_of(refused) == "prove_again"
    finally:
        world.close()


# ---------------------------------------------------------------- templates and the facility


@pytest.mark.parametrize("what", ["scopes", "people"])
def test_a_template_is_read_back_and_holds_no_formula(desk: Desk, what: str) -> None:
    browser = desk.tablet.browser
    csv_file = browser.get(f"/lead/bring/{what}.csv")
    assert csv_file.headers["content-disposition"] == f'attachment; filename="{what}.csv"'
    assert csv_file.content.startswith(b"\xef\xbb\xbf")
    book = openpyxl.load_workbook(io.BytesIO(browser.get(f"/lead/bring/{what}.xlsx").content))
    names = [cell.value for cell in book.worksheets[0][1]]
    assert csv_file.content.decode("utf-8-sig").strip().split(",") == names
    cells = [cell for sheet in book for line in sheet.iter_rows() for cell in line]
    assert {cell.data_type for cell in cells if cell.value is not None} == {"s"}
    assert book.worksheets[0].column_dimensions["E" if what == "scopes" else "A"].width > 10
    line = ["N-77", "Colonoscope", "Alder", "CX 180", "770001", DI] if what == "scopes" else ["Nia Brook", "runner"]
    for at, value in enumerate(line, 1):
        book.worksheets[0].cell(2, at, value)
    out = io.BytesIO()
    book.save(out)
    assert fates(desk.look(out.getvalue(), what)) == ["new"]


@pytest.mark.parametrize("path", ["scopes.pdf", "stations.csv", "scopes", "../people.csv"])
def test_there_is_no_other_template(desk: Desk, path: str) -> None:
    assert desk.tablet.browser.get(f"/lead/bring/{path}").status_code in (404, 422)


def test_the_facility_is_changed_at_the_desk(desk: Desk) -> None:
    browser = desk.tablet.browser
    words = {
        "name": "Harrow Lake", "zone": "America/New_York",
        "shifts": [
            {"name": "day", "begins": "06:30", "ends": "15:00"}, {"name": "night", "begins": "15:00", "ends": "06:30"},
        ],
        "places": [{"name": "Decontamination", "side": "dirty", "points": ["at_leak_test"]}],
    }  # fmt: skip
    assert browser.post("/lead/facility", words).json() == words
    assert desk.tablet.lead("facility") == words
    assert browser.get("/cards?since=0").json()["facility"] == words
    refused = browser.post("/lead/facility", words | {"zone": "Mars/Olympus"})
    assert (refused.status_code, code_of(refused)) == (422, "bad_zone")
    assert desk.tablet.lead("facility") == words
    enrolled = browser.http.post(
        "/door/enrol",
        json={"code": desk.tablet.invite("Sink 7"), "public_key": public_key()},
        headers=browser.headers(),
    )
    assert enrolled.json()["facility"] == words


def test_a_description_on_top_of_one_that_is_gone_is_refused(desk: Desk) -> None:
    desk.write([HEAD, row("V-1", serial="210001")])
    key = f"udi:{DI}/210001"
    seen = desk.tablet.lead(f"scope?key={key}")["version"]
    body = {"scope_kind": "colonoscope", "serial": "210001", "di": DI, "tag": "V-2"}
    post, command = desk.tablet.browser.post, {"about": {"scope": key}, "body": body, "seen": seen}
    assert post("/lead/commands/scope.described", command).status_code == 201
    refused = post("/lead/commands/scope.described", command)
    assert (refused.status_code, code_of(refused)) == (409, "changed_meanwhile")
    assert desk.tablet.browser.get("/lead/scope?key=udi:1/2").status_code == 404
    listed = desk.tablet.lead("scopes")["scopes"]
    assert key in [each["key"] for each in listed]
