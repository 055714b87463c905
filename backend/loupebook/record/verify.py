#!/usr/bin/env python3
"""Checks an exported record by itself: this one file, Python 3.9 or later, nothing else. Read it, then run it.

The folder holds  keys.json             chain -> public key (P-256, SubjectPublicKeyInfo, base64url)
                  entries/CHAIN.jsonl   one entry a line, as received, in order
                  heads.jsonl           {"chain", "seq", "hash", "sig"}: heads signed with the chain's key
                  aside.jsonl           {"chain", "seq", "reason"}: entries that were put aside
                  photos/SHA256         photo bytes
                  missing.jsonl         {"sha256", "why"}: photos named by entries and not in the export
--known FILE      heads kept elsewhere, a line each as in heads.jsonl, or {"hash"}, the digest on a shift's sheet
--newest          checks only the newest signature of each chain; it proves all before it

If nothing is found, each line is the one hashed when the next was written, each chain's lines are those its key
signed, photos' bytes are those an entry names, heads a closed shift names are here. Prints each fault; ends with 0
(whole), 1 (not), 2 (no export).
"""

from __future__ import annotations

import argparse
import base64
import hashlib
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

ENTRY = hashlib.sha256(b"loupebook/entry/1\n")
UNREADABLE = ("unparseable", "doubled_key", "not_whole")
Rows = list[dict[str, Any]]


class Result(NamedTuple):
    """What was found: faults in the order met, and how much was checked."""

    faults: list[str]
    chains: int
    entries: int
    aside: int
    unproven: int
    photos: int
    missing: int
    erased: dict[str, str]

    def line(self) -> str:
        """The last line printed."""
        unproven = f", {self.unproven} before a line that cannot be read, so by no signature" if self.unproven else ""
        what = f"{self.entries} entries in {self.chains} chains, {self.aside} put aside{unproven}, {self.photos} photos"
        whole = f"NOT WHOLE, {len(self.faults)} found" if self.faults else "Whole"
        return f"{whole}: {what}, {self.missing} photos not in this export, {len(self.erased)} of them erased"


# ECDSA on P-256 (FIPS 186-5; SEC 1, 4.1.4)
P = 2**256 - 2**224 + 2**192 + 2**96 - 1
N = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
B = 0x5AC635D8AA3A93E7B3EBBD55769886BC651D06B0CC53B0F63BCE3C3E27D2604B
GX = 0x6B17D1F2E12C4247F8BCE6E563A440F277037D812DEB33A0F4A13945D898C296
GY = 0x4FE342E2FE1A7F9B8EE7EB4A7C0F9E162BCE33576B315ECECBB6406837BF51F5
SPKI = bytes.fromhex("3059301306072a8648ce3d020106082a8648ce3d03010703420004")  # before the coordinates of a key
Point = tuple[int, int, int]  # Jacobian: x / z^2, y / z^3; z = 0 is the point at infinity


def double(a: Point) -> Point:
    """a + a."""
    x, y, z = a
    if not y or not z:
        return (0, 1, 0)
    yy, zz = y * y % P, z * z % P
    s, m = 4 * x * yy % P, 3 * (x - zz) * (x + zz) % P
    x3 = (m * m - 2 * s) % P
    return (x3, (m * (s - x3) - 8 * yy * yy) % P, 2 * y * z % P)


def add(a: Point, b: Point) -> Point:
    """a + b."""
    if not a[2] or not b[2]:
        return b if not a[2] else a
    (x1, y1, z1), (x2, y2, z2) = a, b
    zz1, zz2 = z1 * z1 % P, z2 * z2 % P
    u1, u2, s1, s2 = x1 * zz2 % P, x2 * zz1 % P, y1 * z2 * zz2 % P, y2 * z1 * zz1 % P
    h, r = (u2 - u1) % P, (s2 - s1) % P
    if not h:
        return (0, 1, 0) if r else double(a)
    hhh, v = h * h * h % P, u1 * h * h % P
    x3 = (r * r - hhh - 2 * v) % P
    return (x3, (r * (v - x3) - s1 * hhh) % P, h * z1 * z2 % P)


def signed(spki: bytes, message: bytes, signature: bytes) -> bool:
    """Whether `signature` (r and s, 32 bytes each) is the key's ECDSA signature of `message` with SHA-256."""
    if len(spki) != len(SPKI) + 64 or not spki.startswith(SPKI) or len(signature) != 64:
        return False
    qx, qy = int.from_bytes(spki[-64:-32], "big"), int.from_bytes(spki[-32:], "big")
    r, s = int.from_bytes(signature[:32], "big"), int.from_bytes(signature[32:], "big")
    off_curve = qx >= P or qy >= P or (qy * qy - qx * qx * qx + 3 * qx - B) % P != 0
    if off_curve or not (0 < r < N and 0 < s < N):
        return False
    w, digest = pow(s, -1, N), int.from_bytes(hashlib.sha256(message).digest(), "big")
    u1, u2, g, q = digest * w % N, r * w % N, (GX, GY, 1), (qx, qy, 1)
    both, sums = add(g, q), (0, 1, 0)
    for bit in range(255, -1, -1):
        sums = double(sums)
        one, other = u1 >> bit & 1, u2 >> bit & 1
        if one or other:
            sums = add(sums, both if one and other else g if one else q)
    return bool(sums[2]) and (sums[0] - r * sums[2] * sums[2]) * (sums[0] - (r + N) * sums[2] * sums[2]) % P == 0


def unbase64url(text: Any) -> bytes:
    """The bytes of base64url without padding; nothing where it is not."""
    try:
        return base64.b64decode(str(text) + "=" * (-len(str(text)) % 4), b"-_", validate="=" not in str(text))
    except ValueError:
        return b""


def head_signed(spki: bytes, head: dict[str, Any]) -> bool:
    """Whether a head {chain, seq, hash, sig} is signed with this key."""
    message = "loupebook/head/1\n{chain}\n{seq}\n{hash}".format(**head).encode()
    return signed(spki, message, unbase64url(head["sig"]))


def rows(path: Path, faults: list[str], must: set[str]) -> Iterator[dict[str, Any]]:
    """The objects of a .jsonl file; one that cannot be read or lacks a field is a fault."""
    for number, line in enumerate(path.read_bytes().splitlines() if path.exists() else (), 1):
        try:
            row = json.loads(line)
        except ValueError:
            row = None
        if isinstance(row, dict) and must.issubset(row):
            yield row
        else:
            faults.append(f"{path.name}, line {number}: cannot be read")


class Chain(NamedTuple):
    """Line hashes (the chain's id first); photos -> (bytes, seq); lines that prove none before them; photos erased ->
    a line on when and by whom; heads that its closings name."""

    hashes: list[str]
    photos: dict[str, tuple[int, int]]
    breaks: list[int]
    erased: dict[str, str]
    closed: Rows


def read_chain(chain: str, data: bytes, aside: dict[int, str], faults: list[str]) -> Chain:
    """Walks the lines: each says its place, and the hash of the line before it."""
    known = Chain([chain], {}, [], {}, [])
    lines, prev = data.split(b"\n"), chain
    if lines.pop() != b"":
        faults.append(f"chain {chain}: the last line has no end")
    start, decode = f'{{"v":1,"chain":"{chain}","seq":', json.JSONDecoder().decode
    for seq, line in enumerate(lines, 1):
        text = line.decode("utf-8", "replace")
        try:
            entry = decode(text)
        except (ValueError, RecursionError):
            entry = None
        if not text.startswith(f'{start}{seq},"prev":"{prev}",') or type(entry) is not dict:
            fault = place_fault(chain, seq, prev, entry, aside.get(seq))
            if fault is not None:
                known.breaks.append(seq)
                faults.extend([fault] if fault else [])
        if type(entry) is dict and entry.get("photos") and aside.get(seq) not in UNREADABLE:
            for photo in listed(entry, "photos", "sha256"):
                known.photos.setdefault(photo["sha256"], (photo.get("bytes", -1), seq))
        said = entry if type(entry) is dict and seq not in aside else {}
        body = said.get("body")
        if said.get("kind") == "photo.erased" and isinstance(body, dict):
            gone = str(body.get("photo"))
            known.erased[gone] = f"photo {gone}: erased on {said.get('at')} by {said.get('person')}"
        if said.get("kind") == "shift.closed":
            by = {"by": f"the shift closed in chain {chain}, seq {seq}, names a ", "sig": None}
            known.closed.extend({"seq": 0, **each, **by} for each in listed(body, "heads", "chain", "hash"))
        hashing = ENTRY.copy()
        hashing.update(line)
        prev = hashing.hexdigest()
        known.hashes.append(prev)
    return known


def listed(of: Any, name: str, *must: str) -> Rows:
    """The objects of a list, as far as they are written rightly: each holds these texts."""
    found = of.get(name) if isinstance(of, dict) else None
    some = [each for each in found if isinstance(each, dict)] if isinstance(found, list) else []
    return [each for each in some if all(isinstance(each.get(key), str) for key in must)]


def place_fault(chain: str, seq: int, prev: str, entry: Any, reason: str | None) -> str | None:
    """What a line says wrongly of its place; '' where it was put aside for just that; None where all is right."""
    if not isinstance(entry, dict) or "prev" not in entry:
        known, fault = reason in UNREADABLE, "cannot be read as an entry"
    elif entry.get("chain") != chain:
        known, fault = reason == "wrong_chain", "says it belongs to another chain"
    elif entry.get("seq") != seq:
        known, fault = reason == "wrong_seq", "says another seq: a line was taken out, put in or moved"
    elif entry["prev"] != prev:
        known, fault = False, f"does not follow seq {seq - 1}: one of the two was changed, or one is missing between"
    else:
        return None
    return "" if known else f"chain {chain}, seq {seq}: {fault}"


def check_heads(heads: Rows, chains: dict[str, Chain], keys: dict[str, bytes], newest: bool, faults: list[str]) -> int:
    """Every head stands on its line, is signed, and the last line of every chain has one. How many lines no signature
    covers: those before a line that does not say what is before it, without a head of their own."""
    good: dict[str, set[int]] = {chain: {0} for chain in chains}
    for head in heads:
        chain, seq, by = head["chain"], head["seq"], head.get("by", "")
        hashes = chains[chain].hashes if chain in chains else []
        if not (isinstance(seq, int) and 0 < seq < len(hashes)):
            faults.append(f"{by}head of chain {chain}, seq {seq}: there is no such line; the chain was cut")
        elif hashes[seq] != head["hash"]:
            faults.append(f"{by}head of chain {chain}, seq {seq}: the line there is not the one that was signed")
        elif head["sig"] is not None:
            good[chain].add(seq)
    for head in [each for each in heads if each["sig"] is not None and each["chain"] in keys]:
        chain, seq = head["chain"], head["seq"]
        if (not newest or seq == max(good.get(chain, {0}))) and not head_signed(keys[chain], head):
            faults.append(f"head of chain {chain}, seq {seq}: the signature is not its key's")
            good.get(chain, set()).discard(seq)
    for chain, known in chains.items():
        if max(good[chain]) < len(known.hashes) - 1:
            faults.append(f"chain {chain}, after seq {max(good[chain])}: no signed head covers these lines")
    return sum(
        seq - 1 - max(each for each in (*good[chain], *known.breaks[:index]) if each < seq)
        for chain, known in chains.items()
        for index, seq in enumerate(known.breaks)
    )


def check_photos(folder: Path, named: dict[str, tuple[str, int]], gone: dict[str, str], faults: list[str]) -> int:
    """Every photo has its hash and length and is named; every named one is here or said to be missing. How many."""
    found = sorted(folder.iterdir()) if folder.is_dir() else []
    for path in found:
        data = path.read_bytes()
        if hashlib.sha256(data).hexdigest() != path.name:
            faults.append(f"photo {path.name}: its bytes are not those its name says")
        if path.name not in named:
            faults.append(f"photo {path.name}: no entry names it")
        elif named[path.name][1] != len(data):
            faults.append(f"photo {path.name}: {len(data)} bytes, but {named[path.name][0]} says another number")
    for sha256 in sorted(set(named) - {path.name for path in found} - set(gone)):
        faults.append(f"photo {sha256}: named by {named[sha256][0]}, and neither here nor listed as missing")
    return len(found)


def check(folder: Path, known: Path | None = None, newest: bool = False) -> Result:
    """Checks an export; `FileNotFoundError` when the folder holds none."""
    keys = {chain: unbase64url(text) for chain, text in json.loads((folder / "keys.json").read_bytes()).items()}
    wrong = [chain for chain, key in keys.items() if hashlib.sha256(b"loupebook/chain/1\n" + key).hexdigest() != chain]
    faults = [f"keys.json: the key of chain {chain} is not the one the chain is named after" for chain in wrong]
    aside: dict[str, dict[int, str]] = {}
    for row in rows(folder / "aside.jsonl", faults, {"chain", "seq", "reason"}):
        aside.setdefault(row["chain"], {})[row["seq"]] = row["reason"]
    chains: dict[str, Chain] = {}
    for path in sorted((folder / "entries").iterdir()):
        chain = path.name.split(".")[0]
        chains[chain] = read_chain(chain, path.read_bytes(), aside.get(chain, {}), faults)
        if chain not in keys:
            faults.append(f"chain {chain}: its key is not here")
    heads = list(rows(folder / "heads.jsonl", faults, {"chain", "seq", "hash", "sig"}))
    at = {h: {"chain": c, "seq": n} for c, each in chains.items() for n, h in enumerate(each.hashes)} if known else {}
    kept = rows(known, faults, {"hash"}) if known else ()
    heads += [{"chain": h["hash"], "seq": 0, **at.get(str(h["hash"]), {}), **h, "sig": None} for h in kept]
    heads += [head for each in chains.values() for head in each.closed]
    unproven = check_heads(heads, chains, keys, newest, faults)
    missing = {row["sha256"]: row["why"] for row in rows(folder / "missing.jsonl", faults, {"sha256", "why"})}
    erased = {sha: how for each in chains.values() for sha, how in each.erased.items() if sha in missing}
    told = sorted(sha for sha, why in missing.items() if why == "erased" and sha not in erased)
    faults += [f"photo {sha}: said to be erased, and no entry says so" for sha in told]
    named = {s: (f"chain {c}, seq {seq}", size) for c, each in chains.items() for s, (size, seq) in each.photos.items()}
    for row in rows(folder / "strays.jsonl", faults, {"sha256", "bytes", "chain", "seq"}):
        named.setdefault(row["sha256"], (f"chain {row['chain']}, seq {row['seq']}", row["bytes"]))
    photos = check_photos(folder / "photos", named, missing, faults)
    entries = sum(len(each.hashes) - 1 for each in chains.values())
    return Result(faults, len(chains), entries, sum(map(len, aside.values())), unproven, photos, len(missing), erased)


def main(arguments: list[str]) -> int:
    """The command; its exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--known", type=Path)
    parser.add_argument("--newest", action="store_true")
    given = parser.parse_args(arguments)
    try:
        result = check(given.folder, given.known, given.newest)
    except (OSError, ValueError) as absent:
        print(f"There is no exported record in {given.folder} that can be read: {absent}.")
        return 2
    print(*result.faults, *sorted(result.erased.values()), result.line(), sep="\n")
    return 1 if result.faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
