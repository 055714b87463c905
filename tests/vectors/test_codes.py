"""The code readers against published strings, a reference library, and each other.

Sources of the vectors stand in `shared/vectors/codes.json`. The reference library for GS1 is biip 5.2.0,
which shares no code with ours; the page's reader is run on the same cases as the server's.
"""

import datetime as dt
import json
import random
import re
import shutil
import string
import subprocess
import time
from pathlib import Path
from typing import Any, get_args

import pytest
from biip.gs1_application_identifiers import _GS1_APPLICATION_IDENTIFIERS
from biip.gs1_digital_link_uris import GS1DigitalLinkURI
from biip.gs1_messages import GS1Message
from biip.gtin import Gtin
from hypothesis import given, settings
from hypothesis import strategies as st
from loupebook.rules.codes import compare_serials, key_of, mms_key, read_code
from loupebook.rules.codes_gs1 import AI_DIGITS, FIXED, GS
from loupebook.rules.codes_hibc import ALPHABET, check_character
from loupebook.rules.codes_shape import Form, NoteCode

pytestmark = pytest.mark.sink

ROOT = Path(__file__).resolve().parents[2]
VECTORS = json.loads((ROOT / "shared/vectors/codes.json").read_text())
SCHEMA = json.loads((ROOT / "shared/vectors/codes.schema.json").read_text())
YEAR = VECTORS["today_year"]
THIS_YEAR = dt.datetime.now(tz=dt.UTC).year


def named(group: str) -> Any:
    return pytest.mark.parametrize("vector", VECTORS[group], ids=lambda v: v["description"])


@named("read")
def test_a_text_reads_as_its_source_says(vector: dict[str, Any]) -> None:
    given_ = vector["input"]
    code = read_code(given_["text"], given_.get("symbology"), today_year=given_.get("today_year", YEAR))
    assert code == vector["expected"]


@named("keys")
def test_a_code_gives_its_scope_key(vector: dict[str, Any]) -> None:
    code = read_code(vector["input"]["text"], today_year=YEAR)
    assert key_of(code, confirmed=vector["input"]["confirmed"]) == vector["expected"]


@named("mms_keys")
def test_maker_model_and_serial_give_one_key(vector: dict[str, Any]) -> None:
    assert mms_key(**vector["input"]) == vector["expected"]


@named("serials")
def test_two_serials_differ_where_they_do(vector: dict[str, Any]) -> None:
    assert compare_serials(**vector["input"]) == vector["expected"]


def faults(value: Any, rule: dict[str, Any], at: str = "$") -> list[str]:
    """What in `value` breaks `rule`, for the words of JSON Schema that the vector schema uses."""
    known = {"$ref", "type", "enum", "pattern", "minLength", "minItems", "items", "required", "properties"}
    assert set(rule) <= known | {"additionalProperties", "$schema", "$defs", "title"}
    if "$ref" in rule:
        return faults(value, SCHEMA["$defs"][rule["$ref"].rsplit("/", 1)[1]], at)
    kinds = {str: "string", bool: "boolean", int: "integer", list: "array", dict: "object", type(None): "null"}
    types = rule.get("type", kinds[type(value)])
    found = [] if kinds[type(value)] in ([types] if isinstance(types, str) else types) else [f"{at}: type"]
    if "enum" in rule and value not in rule["enum"]:
        found.append(f"{at}: {value} is not in the list")
    if isinstance(value, str):
        found += [f"{at}: pattern"] if not re.search(rule.get("pattern", ""), value) else []
        found += [f"{at}: too short"] if len(value) < rule.get("minLength", 0) else []
    if isinstance(value, list):
        found += [f"{at}: too few"] if len(value) < rule.get("minItems", 0) else []
        found += [f for n, item in enumerate(value) for f in faults(item, rule.get("items", {}), f"{at}[{n}]")]
    if isinstance(value, dict) and "properties" in rule:
        found += [f"{at}: {key} is missing" for key in rule["required"] if key not in value]
        found += [f"{at}: {key} is not known" for key in value if key not in rule["properties"]]
        found += [
            f for key, item in value.items() for f in faults(item, rule["properties"].get(key, {}), f"{at}.{key}")
        ]
    return found


def test_the_vectors_fit_their_schema_and_each_is_there_once() -> None:
    assert faults(VECTORS, SCHEMA) == []
    told = [v["description"] for group in ("read", "keys", "mms_keys", "serials") for v in VECTORS[group]]
    assert len(VECTORS["read"]) >= 120
    assert all(told.count(d) <= 2 for d in told)
    assert len({json.dumps(v["input"]) for v in VECTORS["read"]}) == len(VECTORS["read"])


def test_a_vector_that_does_not_fit_is_found() -> None:
    broken = {**VECTORS, "read": [{**VECTORS["read"][0], "expected": {"form": "gs2"}}]}
    assert {f.split(": ")[0] for f in faults(broken, SCHEMA)} >= {"$.read", "$.read[0].expected"}


def test_every_form_and_every_note_of_the_closed_lists_has_a_vector() -> None:
    codes = [v["expected"] for v in VECTORS["read"]]
    assert (
        {c["form"] for c in codes} == set(get_args(Form)) == set(SCHEMA["$defs"]["code"]["properties"]["form"]["enum"])
    )
    notes = {n["note"] for c in codes for n in c["notes"]}
    assert notes == set(get_args(NoteCode)) == set(SCHEMA["$defs"]["note"]["properties"]["note"]["enum"])


# ------------------------------------------------------------------ against the reference library

digits = st.text("0123456789", min_size=1)
values = st.text(string.ascii_letters + string.digits + "!\"%&'()*+,-./:;<=>?_", min_size=1, max_size=20)
gtins = st.text("0123456789", min_size=14, max_size=14)
dates = st.dates(dt.date(THIS_YEAR - 49, 1, 1), dt.date(THIS_YEAR + 50, 12, 31)).map(lambda d: d.strftime("%y%m%d"))
others = st.sampled_from(
    [
        "3103000500",
        "15301231",
        "4104012345123456",
        "00106141411234567897",
        "0209521234543213",
        "2001",
        "240AB\x1d",
        "91X10Y\x1d",
        "3712\x1d",
    ]
)
elements = st.lists(
    st.one_of(
        values.map(lambda v: f"10{v}\x1d"),
        values.map(lambda v: f"21{v}\x1d"),
        dates.map(lambda d: f"11{d}"),
        dates.map(lambda d: f"17{d}"),
        others,
    ),
    max_size=6,
    unique_by=lambda e: e[:2],
)


def as_biip(message: GS1Message | GS1DigitalLinkURI) -> dict[str, str]:
    """The fields we use, as the reference library reads them; a wrong check digit is told by `gtin_error` only."""
    got: dict[str, str] = {}
    for element in message.element_strings:
        name = {"01": "di", "10": "lot", "11": "made", "17": "expires", "21": "serial"}.get(element.ai.ai)
        if name is not None:
            got[name] = element.date.isoformat() if element.date else element.value
        if name == "di":
            got["check"] = "bad" if element.gtin_error else "good"
    return got


def as_ours(text: str, symbology: str | None) -> dict[str, str]:
    code = read_code(text, symbology, today_year=THIS_YEAR)
    return {k: str(code[k]) for k in ("di", "serial", "lot", "made", "expires", "check") if k in code}  # type: ignore[literal-required]


@settings(max_examples=400, deadline=None, derandomize=True, database=None)
@given(gtins, elements, st.integers(0, 3))
def test_element_strings_read_as_the_reference_library_reads_them(di: str, rest: list[str], first: int) -> None:
    parts = [*rest[:first], "01" + di, *rest[first:]]
    text = "".join(parts).removesuffix(GS)
    assert as_ours(text, "]d2") == as_biip(GS1Message.parse(text))


@settings(max_examples=200, deadline=None, derandomize=True, database=None)
@given(gtins, st.text(string.ascii_letters + string.digits + "-._", min_size=1, max_size=20), dates)
def test_the_bracketed_form_reads_as_the_reference_library_reads_it(di: str, serial: str, date: str) -> None:
    text = f"(01){di}(17){date}(21){serial}"
    assert as_ours(text, None) == as_biip(GS1Message.parse_hri(text))


@settings(max_examples=200, deadline=None, derandomize=True, database=None)
@given(gtins, values, values, dates)
def test_links_read_as_the_reference_library_reads_them(di: str, lot: str, serial: str, date: str) -> None:
    text = "".join(("01", di, "17", date, "10", lot, GS, "21", serial))
    link = GS1Message.parse(text).as_gs1_digital_link_uri().as_uri(domain="example.org", prefix="way")
    assert as_ours(link, "]Q1") == as_biip(GS1DigitalLinkURI.parse(link))


def test_the_table_of_lengths_agrees_with_every_identifier_of_the_reference_library() -> None:
    known = _GS1_APPLICATION_IDENTIFIERS.values()
    assert len(known) > 500
    assert {ai.ai for ai in known if AI_DIGITS.get(ai.ai[:2]) != len(ai.ai)} == set()
    assert {ai.ai for ai in known if ai.separator_required == (ai.ai[:2] in FIXED)} == set()


@given(st.text("0123456789", min_size=13, max_size=13))
@settings(max_examples=200, deadline=None, derandomize=True, database=None)
def test_exactly_one_check_digit_is_good_and_it_is_the_one_named(payload: str) -> None:
    checks = {d: read_code(f"(01){payload}{d}(21)1", today_year=YEAR) for d in string.digits}
    good = [d for d, code in checks.items() if code["check"] == "good"]
    assert len(good) == 1
    assert Gtin.parse(payload + good[0]).check_digit == int(good[0])
    assert {n["expected"] for c in checks.values() for n in c["notes"]} == set(good)


@given(st.text(ALPHABET, min_size=1, max_size=40), st.integers(0, 39), st.integers(1, 42))
@settings(max_examples=200, deadline=None, derandomize=True, database=None)
def test_any_single_wrong_character_changes_the_hibc_check_character(text: str, place: int, by: int) -> None:
    place %= len(text)
    other = ALPHABET[(ALPHABET.index(text[place]) + by) % 43]
    assert check_character(text[:place] + other + text[place + 1 :]) != check_character(text)


# ------------------------------------------------------------------ any text at all

PIECES = [
    *("01", "10", "11", "17", "21", "51022222233336", "51022222233337", "A213B1", "1234", "301231", "300200", GS),
    *(
        "(01)",
        "(21)",
        "(10)",
        "]d2",
        "]C1",
        "]A0",
        "<GS>",
        "{GS}",
        "^]",
        "\\u001d",
        "https://x.example/",
        "/01/",
        "/21/",
    ),
    *("+A999SCOPE1", "/$+", "/$$", "/$$+", "$$8", "$$9", "/S", "/16D20250131", "/14D", "+", "$", "*", "_", "/", "%2F"),
    *(
        "=/A9999",
        "=,000025",
        "&,1",
        "LB1:",
        "S:",
        "C:photo",
        "E:",
        "L:",
        "O:",
        "%C3%BC",
        "|",
        " ",
        "\r\n",
        "\t",
        "é",
        "\U0001f600",
        "\ufffd",
    ),
    *("240AB", "3103000500", "05", "3", "4", "5", "6", "7", "20015", "?17=", "&", "#", "%", "a", "Z", "9521234543213"),
]


KNOWN: dict[str, list[str]] = {}
for _vector in VECTORS["read"]:
    if 0 < len(_vector["input"]["text"]) < 200:
        KNOWN.setdefault(_vector["expected"]["form"], []).append(_vector["input"]["text"])


def random_text(rng: random.Random) -> str:
    """A known text with up to three places changed, pieces put together, or any characters."""
    kind = rng.random()
    if kind < 0.1:
        anything = [*range(0x20, 0x7F), 0x1D, 0x9, 0xE9, 0x2028, 0x1F600]
        return "".join(chr(rng.choice(anything)) for _ in range(rng.randrange(60)))
    if kind < 0.5:
        return "".join(rng.choice(PIECES) for _ in range(rng.randrange(1, 10)))
    text = rng.choice(KNOWN[rng.choice(sorted(KNOWN))])
    for _ in range(rng.randrange(4)):
        at = rng.randrange(len(text) + 1)
        text = text[:at] + rng.choice(["", *PIECES]) + text[at + rng.randrange(3) :]
    ends_well = text.startswith("+") and rng.random() < 0.5
    return text + (check_character(text.upper()) or "") if ends_well else text


def random_case(rng: random.Random, at: int) -> dict[str, Any]:
    if at % 20 == 0:
        return {
            "mms": ["".join(rng.choice("aAzßéÉ |%\u00a0\u0301ǰ-7") for _ in range(rng.randrange(6))) for _ in range(3)]
        }
    if at % 20 == 1:
        return {
            "serials": [
                "".join(rng.choice("0O1Il5S8B2Z7\U0001f600") for _ in range(rng.randrange(9))) for _ in range(2)
            ]
        }
    return {
        "read": [
            random_text(rng),
            rng.choice([None, None, "]d2", "]C1", "]Q1", "]A0", "]E0"]),
            rng.choice([2026, 2060]),
        ]
    }


def python_answer(case: dict[str, Any]) -> Any:
    if "read" in case:
        text, symbology, year = case["read"]
        code = read_code(text, symbology, today_year=year)
        return {"code": code, "key": key_of(code), "confirmed": key_of(code, confirmed=True)}
    return mms_key(*case["mms"]) if "mms" in case else compare_serials(*case["serials"])


def test_both_languages_give_the_same_for_2000_random_cases(tmp_path: Path) -> None:
    node = shutil.which("node")
    assert node, "Node is needed here; the frontend build finds or fetches it"
    rng = random.Random(20261125)
    cases = [random_case(rng, at) for at in range(2000)]
    (tmp_path / "cases.json").write_text(json.dumps(cases))
    script = ROOT / "tests/vectors/codes_twin.mjs"
    command = [node, str(script), str(tmp_path / "cases.json"), str(tmp_path / "answers.json"), str(tmp_path)]
    subprocess.run(command, check=True, timeout=60)
    answers = json.loads((tmp_path / "answers.json").read_text())
    ours = [python_answer(case) for case in cases]
    assert [(c, a, b) for c, a, b in zip(cases, ours, answers, strict=True) if a != b] == []
    forms = [a["code"]["form"] for a in ours if isinstance(a, dict) and "code" in a]
    assert {form for form in get_args(Form) if forms.count(form) < 10} == set()
    assert sum(1 for a in ours if isinstance(a, dict) and a.get("key")) > 20


@settings(max_examples=400, deadline=None, derandomize=True, database=None)
@given(
    st.text(max_size=4096) | st.lists(st.sampled_from(PIECES), max_size=400).map("".join),
    st.sampled_from([None, "]d2"]),
)
def test_no_text_makes_the_reader_fail(text: str, symbology: str | None) -> None:
    code = read_code(text, symbology, today_year=YEAR)
    assert faults(code, SCHEMA["$defs"]["code"]) == []
    key_of(code, confirmed=True)


@pytest.mark.parametrize(
    "piece", [GS, "01", "(21)", "(", "20aa", "%2", "/", "+", "<GS", "10", " ", "http://", "]d2", "$$8"]
)
def test_time_grows_with_the_text_and_not_faster(piece: str) -> None:
    started = time.process_time()
    for start in ("]d2", "(01)", "+$", "https://a/01/96385074/", ""):
        read_code(start + piece * 1_000_000, today_year=YEAR)
    assert (
        time.process_time() - started < 2
    )  # of this process alone; work that grows with the square of the text takes hours here
