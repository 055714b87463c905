"""Lines, hashes and signatures against published values and other programs.

`shared/vectors/entries.json` and `hashes.json`; sha256sum and openssl are run beside our own code.
"""

import base64
import hashlib
import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from hypothesis import given, settings
from hypothesis import strategies as st
from loupebook.record import verify
from loupebook.record.hashes import chain_id, entry_hash, head_message, text_hash
from loupebook.record.heads import make_key, public_der, sign_head, unbase64url, verify_head
from loupebook.record.lines import LARGEST, LineRefused, NotWritable, parse_line, write_line

pytestmark = pytest.mark.sink

VECTORS = Path(__file__).resolve().parents[2] / "shared/vectors"
LINES = json.loads((VECTORS / "entries.json").read_text())
HASHES = json.loads((VECTORS / "hashes.json").read_text())
ENTRY = LINES["write"][0]["input"]


def cases(file: dict[str, Any], group: str) -> Any:
    return pytest.mark.parametrize("case", file[group], ids=lambda case: case["description"])


def read_as(line: bytes) -> str:
    try:
        parse_line(line)
    except LineRefused as refused:
        return refused.reason
    return "entry"


@cases(LINES, "read")
def test_a_line_reads_as(case: dict[str, Any]) -> None:
    given_ = case["input"]
    text = given_ if isinstance(given_, str) else given_["repeat"] * given_["times"]
    assert read_as(text.encode()) == case["expected"]


@cases(LINES, "write")
def test_fields_become_the_line(case: dict[str, Any]) -> None:
    assert write_line(case["input"]) == case["expected"].encode()


def test_bytes_that_are_no_utf8_are_unparseable() -> None:
    assert read_as(write_line(ENTRY).replace(b"sink", b"si\xff\xfe")) == "unparseable"


def test_a_thousand_brackets_are_unparseable_and_harm_nothing() -> None:
    assert read_as(b'{"a":' + b"[" * 30000) == "unparseable"
    assert read_as(b'{"a":' * 9000 + b"1" + b"}" * 9000) == "unparseable"


def test_a_line_of_64_kib_is_written_and_one_byte_more_is_not() -> None:
    longest = ENTRY | {"about": {**ENTRY["about"], "later": ""}}
    spare = 65536 - len(write_line(longest))
    longest["about"]["later"] = "x" * spare
    assert len(write_line(longest)) == 65536 and read_as(write_line(longest)) == "entry"
    longest["about"]["later"] += "x"
    with pytest.raises(NotWritable):
        write_line(longest)


@pytest.mark.parametrize("value", [0.5, LARGEST + 1, -LARGEST - 1, float("nan")])
def test_what_a_line_cannot_hold_is_not_written(value: object) -> None:
    with pytest.raises(NotWritable):
        write_line(ENTRY | {"body": {"place": "sink", "n": value}})


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-LARGEST, LARGEST) | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text('ab":{} ,\\', max_size=3), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=300)
@given(JSON)
def test_any_body_that_can_be_written_is_read_and_never_taken_for_doubled(value: object) -> None:
    assert read_as(write_line(ENTRY | {"body": {"place": "sink", "later": value}})) == "entry"


@settings(max_examples=300)
@given(JSON, JSON)
def test_a_key_put_in_twice_anywhere_is_found(one: object, other: object) -> None:
    line = write_line(ENTRY | {"body": {"place": "sink", "later": [{"k1": one, "k2": other}]}})
    assert read_as(line.replace(b'"k2":', b'"k1":')) == "doubled_key"


# ---------------------------------------------------------------- hashes


def spelled(text: str) -> bytes:
    letter, star, times = text.partition("*")
    return (letter * int(times) if star else text).encode()


@cases(HASHES, "plain")
def test_plain_hashes_are_those_of_the_standard(case: dict[str, Any]) -> None:
    assert text_hash(spelled(case["input"]).decode()) == case["expected"]


@cases(HASHES, "entry")
def test_an_entry_is_hashed_with_its_prefix(case: dict[str, Any]) -> None:
    line = case["input"].encode()
    assert entry_hash(line) == case["expected"] == sha256sum(b"loupebook/entry/1\n" + line)


@cases(HASHES, "head")
def test_a_heads_message(case: dict[str, Any]) -> None:
    assert hashlib.sha256(head_message(**case["input"])).hexdigest() == case["expected"]


@cases(HASHES, "chain")
def test_a_chain_is_named_by_its_key(case: dict[str, Any]) -> None:
    spki = unbase64url(case["input"])
    assert chain_id(spki) == case["expected"] == sha256sum(b"loupebook/chain/1\n" + spki)


def sha256sum(data: bytes) -> str:
    """By another program, where this machine has one (coreutils or openssl)."""
    if shutil.which("sha256sum"):
        return subprocess.run(["sha256sum"], input=data, capture_output=True, check=True).stdout.decode().split()[0]
    command = ["openssl", "dgst", "-sha256", "-r"]
    return subprocess.run(command, input=data, capture_output=True, check=True).stdout.decode().split()[0]


# ---------------------------------------------------------------- signatures


@cases(HASHES, "ecdsa")
def test_the_verifiers_own_arithmetic_agrees_with_the_standard(case: dict[str, Any]) -> None:
    given_ = case["input"]
    signature = unbase64url(given_["sig"])
    assert verify.signed(unbase64url(given_["spki"]), given_["message"].encode(), signature) is case["expected"]


@cases(HASHES, "signature")
def test_a_heads_signature(case: dict[str, Any]) -> None:
    head = dict(case["input"])
    spki = unbase64url(head.pop("spki"))
    assert verify_head(spki, **head) is case["expected"]
    assert verify.head_signed(spki, head) is case["expected"]


def test_what_the_server_signs_is_good_for_openssl_and_for_the_verifier(tmp_path: Path) -> None:
    key = make_key()
    spki = public_der(key)
    chain = chain_id(spki)
    signature = sign_head(key, chain, 7, "e" * 64)
    assert verify.head_signed(spki, {"chain": chain, "seq": 7, "hash": "e" * 64, "sig": signature})
    raw = base64.urlsafe_b64decode(signature + "==")
    (tmp_path / "sig").write_bytes(encode_dss_signature(int.from_bytes(raw[:32]), int.from_bytes(raw[32:])))
    pem = key.public_key().public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
    (tmp_path / "key").write_bytes(pem)
    message = head_message(chain, 7, "e" * 64)
    command = ["openssl", "dgst", "-sha256", "-verify", str(tmp_path / "key"), "-signature", str(tmp_path / "sig")]
    assert subprocess.run(command, input=message, capture_output=True, check=False).stdout == b"Verified OK\n"


def test_the_verifiers_arithmetic_agrees_with_the_library_on_random_keys() -> None:
    for number in range(20):
        key = make_key()
        spki = public_der(key)
        chain = chain_id(spki)
        head: dict[str, Any] = {"chain": chain, "seq": number, "hash": "f" * 64}
        head["sig"] = sign_head(key, **head)
        assert verify.head_signed(spki, head)
        assert not verify.head_signed(public_der(make_key()), head)
