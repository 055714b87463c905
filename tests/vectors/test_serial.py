"""What a serial photo's codes say of the scope it was taken for: by hand, and the server's answer beside the tablet's.

DI 51022222233336 is the public sample of the FDA format sheet and the HL7 UDI page, 09506000134352 the sample GTIN of
GS1's own texts (from memory; its check digit calculated, mod 10); the HIBC code is the public example of the HIBC UDI
guide. Which field may contradict is common practice, no source.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from loupebook.rules.codes import read_code
from loupebook.rules.serial import Answer, OnRecord, answer_of_codes, on_record

pytestmark = pytest.mark.sink

HERE = Path(__file__).parent
DI, OTHER_DI, BAD_DI = "51022222233336", "09506000134352", "51022222233335"
C14 = OnRecord("2741906", DI)


def said(texts: list[str], record: OnRecord = C14) -> str:
    return answer_of_codes([read_code(text, today_year=2025) for text in texts], record).agrees


@pytest.mark.parametrize(
    ("texts", "answer"),
    [
        ([], "unknown"),
        (["2741960"], "unknown"),
        ([f"01{DI}212741906"], "yes"),
        ([f"01{DI}212741960"], "no"),
        ([f"01{OTHER_DI}212741906"], "no"),
        ([f"01{BAD_DI}212741960"], "unknown"),
        ([f"01{DI}"], "unknown"),
        ([f"01{OTHER_DI}"], "no"),
        (["(21)2741960"], "unknown"),
        ([f"01{DI}212741906", f"01{DI}212741960"], "no"),
        ([f"01{DI}212741960", f"01{DI}212741906"], "no"),
        (["+A999ABC123DE0/$+1234567Y"], "no"),
        (["LB1:S:C-11", f"01{DI}212741906"], "yes"),
    ],
)
def test_only_a_di_or_serial_with_a_good_check_digit_contradicts(texts: list[str], answer: str) -> None:
    assert said(texts) == answer


def test_the_code_that_says_so_is_named() -> None:
    codes = [read_code(f"01{DI}21{serial}", today_year=2025) for serial in ("2741906", "2741960", "2741961")]
    assert answer_of_codes(codes, C14) == Answer("no", f"01{DI}212741960")


@pytest.mark.parametrize("serial", [" ab-1\ufeff", "AB-1", "\u2003ab-1\t"])
def test_blanks_at_the_ends_and_small_letters_are_no_contradiction(serial: str) -> None:
    assert said([f"01{DI}21AB-1"], OnRecord(serial, DI)) == "yes"


def test_a_scope_without_a_di_on_record_is_held_against_its_serial_alone() -> None:
    assert said([f"01{OTHER_DI}212741906"], OnRecord("2741906")) == "yes"


@pytest.mark.parametrize(
    ("key", "serial", "di", "found"),
    [
        (f"udi:{DI}/27/41", None, None, OnRecord("27/41", DI)),
        (f"udi:{DI}/2741906", "2741906", None, OnRecord("2741906", DI)),
        (f"udi:{DI}/2741906", "2741960", OTHER_DI, OnRecord("2741960", OTHER_DI)),
        ("mms:ALDER|C2|A%7CB%257C", None, None, OnRecord("A|B%7C")),
        ("mms:ALDER|C2|4410", "4410", DI, OnRecord("4410", DI)),
    ],
)
def test_what_the_record_leaves_out_is_read_from_the_key(
    key: str, serial: str | None, di: str | None, found: OnRecord
) -> None:
    assert on_record(key, serial, di) == found


def random_case(rng: random.Random) -> dict[str, Any]:
    """Codes of a photo, mostly near the record they are held against."""
    serials = ["2741906", "2741960", " 2741906", "ß1", "SS1", "\u00e91", "e\u03011", "\ufeff1", "\x1c1", "\x851", ""]
    codes = []
    for _ in range(rng.randint(0, 3)):
        di, serial = rng.choice([DI, DI, OTHER_DI, BAD_DI]), rng.choice(serials)
        form = rng.choice(
            ["01{di}21{serial}", "(01){di}(21){serial}", "01{di}", "{serial}", "+A999ABC123DE0/$+1234567Y"]
        )
        codes.append(read_code(form.format(di=di, serial=serial), today_year=2025))
    record = {"serial": rng.choice(serials)} | ({"di": rng.choice([DI, OTHER_DI])} if rng.random() < 0.7 else {})
    return {"codes": codes, "record": record}


def test_the_server_and_the_tablet_answer_alike(tmp_path: Path) -> None:
    rng = random.Random(20261125)
    cases = [random_case(rng) for _ in range(2000)]
    asked, told = tmp_path / "cases.json", tmp_path / "answers.json"
    asked.write_text(json.dumps(cases), "utf-8")
    node = shutil.which("node")
    assert node is not None
    subprocess.run([node, HERE / "serial_twin.mjs", asked, told, tmp_path], check=True, timeout=120)
    ours = [answer_of_codes(case["codes"], OnRecord(**case["record"])) for case in cases]
    assert [[answer.agrees, answer.code] for answer in ours] == json.loads(told.read_text("utf-8"))
    assert {answer.agrees for answer in ours} == {"yes", "no", "unknown"}
