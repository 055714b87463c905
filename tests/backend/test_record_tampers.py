"""The one-file verifier against an export that somebody changed: every change is found, and named where it is."""

import json
import random
import re
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from loupebook.record import verify
from loupebook.record.hashes import chain_id, text_hash
from loupebook.record.heads import base64url, make_key, public_der, sign_head
from story import SHIFT, photo
from tablet import Tablet

pytestmark = [pytest.mark.sink, pytest.mark.shift]

BYTES = [bytes([number]) * (100 + number) for number in range(4)]


def made(folder: Path) -> list[Tablet]:
    """An export of two chains with a head every five lines, and four photos; whole."""
    one, two = Tablet("sink 1"), Tablet("sink 2", person="rin.oake")
    named = [photo("x") | {"sha256": verify.hashlib.sha256(data).hexdigest(), "bytes": len(data)} for data in BYTES]
    one.inspection(4)
    one.begin()
    one.serial()
    one.find("lens", "scratch", named[:2], since="same")
    two.inspection(3)
    two.write("hold.placed", {"reason": "doubt", "tag_on": False}, named[2:])
    desk = Tablet("server", person="moira.keld")
    named_heads = [{"chain": each.chain, "seq": len(each.lines), "hash": each.hashes[-1]} for each in (one, two)]
    desk.write("shift.closed", {"heads": named_heads}, about={"shift": SHIFT})
    (folder / "entries").mkdir(parents=True)
    (folder / "photos").mkdir()
    keys, heads = {}, []
    for each in (one, two, desk):
        keys[each.chain] = base64url(public_der(each.key))
        (folder / "entries" / f"{each.chain}.jsonl").write_bytes(b"".join(line + b"\n" for line in each.lines))
        for seq in sorted({*range(5, len(each.lines), 5), len(each.lines)}):
            hash = each.hashes[seq - 1]
            heads.append(
                {"chain": each.chain, "seq": seq, "hash": hash, "sig": sign_head(each.key, each.chain, seq, hash)}
            )
    serials = [line for each in (one, two) for line in each.lines if b'"shows":"serial"' in line]
    missing = [json.loads(line)["photos"][0]["sha256"] for line in serials]
    for data in BYTES:
        (folder / "photos" / verify.hashlib.sha256(data).hexdigest()).write_bytes(data)
    write_rows(folder / "heads.jsonl", heads)
    write_rows(folder / "missing.jsonl", [{"sha256": each, "why": "not_received"} for each in missing])
    write_rows(folder / "aside.jsonl", [])
    (folder / "keys.json").write_text(json.dumps(keys))
    return [one, two]


def write_rows(path: Path, rows: list[dict[str, object]]) -> None:
    path.write_text("".join(json.dumps(row) + "\n" for row in rows))


def read_rows(path: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in path.read_text().splitlines()]


def lines_of(folder: Path, chain: str) -> list[bytes]:
    return (folder / "entries" / f"{chain}.jsonl").read_bytes().split(b"\n")[:-1]


def write_lines(folder: Path, chain: str, lines: list[bytes]) -> None:
    (folder / "entries" / f"{chain}.jsonl").write_bytes(b"".join(line + b"\n" for line in lines))


def test_an_export_nobody_touched_is_whole(tmp_path: Path) -> None:
    made(tmp_path)
    result = verify.check(tmp_path)
    assert result.faults == []
    told = "Whole: 28 entries in 3 chains, 0 put aside, 4 photos, 3 photos not in this export, 0 of them erased"
    assert result.line() == told


# ---------------------------------------------------------------- one change each

Tamper = Callable[[Path, list[Tablet], random.Random], tuple[str, ...]]
"""Makes a change; what the verifier must name: any one of these texts."""


def _chain(tablets: list[Tablet], chance: random.Random) -> tuple[str, int]:
    each = chance.choice(tablets)
    return each.chain, chance.randrange(len(each.lines))


def flip_a_byte(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    chain, at = _chain(tablets, chance)
    lines = lines_of(folder, chain)
    line = bytearray(lines[at])
    byte = chance.randrange(len(line))
    line[byte] ^= 1 << chance.randrange(7)
    if line[byte] == 10:
        line[byte] = 0
    lines[at] = bytes(line)
    write_lines(folder, chain, lines)
    return named(chain, at)


def named(chain: str, at: int) -> tuple[str, ...]:
    """The line itself, the next (whose `prev` no longer fits), or the head that stands on it."""
    return (
        f"chain {chain}, seq {at + 1}:", f"chain {chain}, seq {at + 2}:", f"head of chain {chain}, seq {at + 1}:",
    )  # fmt: skip


def change_a_word(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    chain, at = _chain(tablets, chance)
    lines = lines_of(folder, chain)
    lines[at] = lines[at].replace(b'"person":"', b'"person":"x')
    write_lines(folder, chain, lines)
    return named(chain, at)


def take_a_line_out(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    chain, at = _chain(tablets, chance)
    lines = lines_of(folder, chain)
    del lines[at]
    write_lines(folder, chain, lines)
    return (*named(chain, at), f"head of chain {chain}, seq {len(lines) + 1}: there is no such line")


def put_a_line_in_twice(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    chain, at = _chain(tablets, chance)
    lines = lines_of(folder, chain)
    lines.insert(at, lines[at])
    write_lines(folder, chain, lines)
    return named(chain, at)


def swap_two_lines(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    chain, at = _chain(tablets, chance)
    lines = lines_of(folder, chain)
    at = min(at, len(lines) - 2)
    lines[at], lines[at + 1] = lines[at + 1], lines[at]
    write_lines(folder, chain, lines)
    return named(chain, at)


def cut_the_end(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    chain, at = _chain(tablets, chance)
    lines = lines_of(folder, chain)
    write_lines(folder, chain, lines[: max(1, at)])
    return (f"head of chain {chain}, seq {len(lines)}: there is no such line",)


def add_a_line_at_the_end(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    each = chance.choice(tablets)
    each.write("scope.received", {"place": "sink"})
    write_lines(folder, each.chain, each.lines)
    return (f"chain {each.chain}, after seq {len(each.lines) - 1}: no signed head",)


def rewrite_all_with_another_key(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    each = chance.choice(tablets)
    heads = read_rows(folder / "heads.jsonl")
    forger = make_key()
    for head in heads:
        if head["chain"] == each.chain:
            head["sig"] = sign_head(forger, each.chain, int(str(head["seq"])), str(head["hash"]))
    write_rows(folder / "heads.jsonl", heads)
    if chance.random() < 0.5:
        keys = json.loads((folder / "keys.json").read_text())
        keys[each.chain] = base64url(public_der(forger))
        (folder / "keys.json").write_text(json.dumps(keys))
        return (f"keys.json: the key of chain {each.chain}",)
    return (f"head of chain {each.chain}, seq 5: the signature",)


def change_a_signature(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    heads = read_rows(folder / "heads.jsonl")
    head = chance.choice(heads)
    sig = str(head["sig"])
    at = chance.randrange(len(sig) - 1)
    head["sig"] = sig[:at] + ("A" if sig[at] != "A" else "B") + sig[at + 1 :]
    write_rows(folder / "heads.jsonl", heads)
    return (f"head of chain {head['chain']}, seq {head['seq']}: the signature",)


def take_a_head_out(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    """The newest of a chain; the one before stands on seq 10."""
    each = chance.choice(tablets)
    heads = [
        head for head in read_rows(folder / "heads.jsonl")
        if (head["chain"], head["seq"]) != (each.chain, len(each.lines))
    ]  # fmt: skip
    write_rows(folder / "heads.jsonl", heads)
    return (f"chain {each.chain}, after seq 10: no signed head",)


def change_a_photo(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    path = chance.choice(sorted((folder / "photos").iterdir()))
    data = bytearray(path.read_bytes())
    data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    path.write_bytes(data)
    return (f"photo {path.name}: its bytes",)


def swap_two_photos(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    one, two = chance.sample(sorted((folder / "photos").iterdir()), 2)
    first, second = one.read_bytes(), two.read_bytes()
    one.write_bytes(second)
    two.write_bytes(first)
    return (f"photo {one.name}: its bytes",)


def take_a_photo_out(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    path = chance.choice(sorted((folder / "photos").iterdir()))
    path.unlink()
    return (f"photo {path.name}: named by chain",)


def put_a_photo_in(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    data = chance.randbytes(50)
    name = verify.hashlib.sha256(data).hexdigest()
    (folder / "photos" / name).write_bytes(data)
    return (f"photo {name}: no entry names it",)


def say_it_was_put_aside(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    """A changed line, and the next one is said to be known for saying nothing of it."""
    chain, at = _chain(tablets, chance)
    at = min(at, len(lines_of(folder, chain)) - 2)
    lines = lines_of(folder, chain)
    lines[at] = lines[at].replace(b'"person":"', b'"person":"x')
    write_lines(folder, chain, lines)
    write_rows(folder / "aside.jsonl", [{"chain": chain, "seq": at + 2, "reason": chance.choice(REASONS)}])
    return named(chain, at)


def cut_a_chain_with_its_heads(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    """Of a chain that a closed shift names: whoever cuts it, and all its heads with it, has the shift against them."""
    each = chance.choice(tablets)
    lines = lines_of(folder, each.chain)
    kept = 5 * chance.randrange(1, (len(lines) - 1) // 5 + 1)
    write_lines(folder, each.chain, lines[:kept])
    heads = read_rows(folder / "heads.jsonl")
    write_rows(
        folder / "heads.jsonl",
        [head for head in heads if head["chain"] != each.chain or int(str(head["seq"])) <= kept],
    )
    return (f"{closed_in(folder, tablets)}head of chain {each.chain}, seq {len(lines)}: there is no such line",)


def take_a_whole_chain_out(folder: Path, tablets: list[Tablet], chance: random.Random) -> tuple[str, ...]:
    """Its lines, its key and its heads: as if that tablet had never been."""
    each = chance.choice(tablets)
    (folder / "entries" / f"{each.chain}.jsonl").unlink()
    keys = json.loads((folder / "keys.json").read_text())
    del keys[each.chain]
    (folder / "keys.json").write_text(json.dumps(keys))
    write_rows(
        folder / "heads.jsonl", [head for head in read_rows(folder / "heads.jsonl") if head["chain"] != each.chain]
    )
    return (f"{closed_in(folder, tablets)}head of chain {each.chain}, seq {len(each.lines)}: there is no such line",)


def rewrite_a_chain_by_whoever_has_its_key(
    folder: Path, tablets: list[Tablet], chance: random.Random
) -> tuple[str, ...]:
    """The tablet's own key signs another story up to the same place; the closed shift still names the first."""
    each = chance.choice(tablets)
    other = Tablet(each.name, person=each.person, key=each.key)
    while len(other.lines) < len(each.lines):
        other.write("scope.received", {"place": f"sink {chance.random()}"[:40]})
    write_lines(folder, each.chain, other.lines)
    seq, hash = len(other.lines), other.hashes[-1]
    heads = [head for head in read_rows(folder / "heads.jsonl") if head["chain"] != each.chain]
    head: dict[str, object] = {"chain": each.chain, "seq": seq, "hash": hash}
    write_rows(folder / "heads.jsonl", [*heads, head | {"sig": sign_head(each.key, each.chain, seq, hash)}])
    return (f"{closed_in(folder, tablets)}head of chain {each.chain}, seq {seq}: the line there is not the one",)


def closed_in(folder: Path, tablets: list[Tablet]) -> str:
    known = {each.chain for each in tablets}
    chain = next(path.stem for path in (folder / "entries").iterdir() if path.stem not in known)
    return f"the shift closed in chain {chain}, seq 1, names a "


REASONS = ("broken_link", "wrong_seq", "wrong_chain", "unparseable")
TAMPERS: list[Tamper] = [
    flip_a_byte, change_a_word, take_a_line_out, put_a_line_in_twice, swap_two_lines, cut_the_end,
    add_a_line_at_the_end, rewrite_all_with_another_key, change_a_signature, take_a_head_out, change_a_photo,
    swap_two_photos, take_a_photo_out, put_a_photo_in, say_it_was_put_aside,
    cut_a_chain_with_its_heads, take_a_whole_chain_out, rewrite_a_chain_by_whoever_has_its_key,
]  # fmt: skip


def tamper(folder: Path, number: int) -> None:
    whole = folder / "whole"
    made(whole)
    for seed in range(number):
        chance = random.Random(seed)
        change = TAMPERS[seed % len(TAMPERS)]
        here = folder / "changed"
        shutil.rmtree(here, ignore_errors=True)
        tablets = made(here)
        wanted = change(here, tablets, chance)
        faults = verify.check(here).faults
        assert any(fault.startswith(text) for fault in faults for text in wanted), (
            f"{change.__name__}, seed {seed}: wanted one of {wanted}, found {faults}"
        )


def test_each_of_108_changes_is_found_and_named(tmp_path: Path) -> None:
    tamper(tmp_path, 108)


def test_a_closing_that_names_its_heads_wrongly_breaks_no_check(tmp_path: Path) -> None:
    """Whatever stands in a line is data: it is named or passed over, never a crash."""
    made(tmp_path)
    for body in ({}, {"heads": 7}, {"heads": [7, {}, {"chain": "a"}]}, [], "heads"):
        each = Tablet("strange")
        each.write("shift.closed", {"x": body} if not isinstance(body, dict) else body, about={})
        write_lines(tmp_path, each.chain, each.lines)
        assert any(f"chain {each.chain}: its key is not here" == fault for fault in verify.check(tmp_path).faults)


@pytest.mark.slow
def test_each_of_1008_changes_is_found_and_named(tmp_path: Path) -> None:
    tamper(tmp_path, 1008)


def test_a_chain_cut_with_its_heads_is_found_by_a_head_kept_elsewhere(tmp_path: Path) -> None:
    one, _ = made(tmp_path / "out")
    known = tmp_path / "known.jsonl"
    write_rows(known, [{"chain": one.chain, "seq": len(one.lines), "hash": one.hashes[-1]}])
    assert verify.check(tmp_path / "out", known).faults == []
    write_lines(tmp_path / "out", one.chain, one.lines[:10])
    heads = [
        head for head in read_rows(tmp_path / "out" / "heads.jsonl")
        if head["chain"] != one.chain or int(str(head["seq"])) <= 10
    ]  # fmt: skip
    write_rows(tmp_path / "out" / "heads.jsonl", heads)
    for path in (tmp_path / "out" / "photos").iterdir():
        if path.name in {text_hash("x")}:
            path.unlink()
    faults = verify.check(tmp_path / "out", known).faults
    wanted = f"head of chain {one.chain}, seq {len(one.lines)}: there is no such line; the chain was cut"
    assert wanted in faults


def test_the_command_ends_with_1_for_a_changed_record_and_2_for_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, _ = made(tmp_path / "out")
    assert verify.main([str(tmp_path / "out")]) == 0
    write_lines(tmp_path / "out", one.chain, one.lines[:-1])
    assert verify.main([str(tmp_path / "out"), "--newest"]) == 1
    assert capsys.readouterr().out.splitlines()[-1].startswith("NOT WHOLE, ")
    assert verify.main([str(tmp_path / "nothing")]) == 2
    with pytest.raises(SystemExit) as asked:
        verify.main([])
    assert asked.value.code == 2


def test_a_line_put_aside_for_what_it_is_breaks_nothing(tmp_path: Path) -> None:
    each = Tablet("sink 1")
    each.write("scope.received", {"place": "sink"})
    each.lines.append(b"\xff{")
    each.hashes.append(verify.hashlib.sha256(b"loupebook/entry/1\n\xff{").hexdigest())
    each.write("scope.received", {"place": "sink"})
    (tmp_path / "entries").mkdir()
    write_lines(tmp_path, each.chain, each.lines)
    head: dict[str, object] = {"chain": each.chain, "seq": 3, "hash": each.hashes[2]}
    write_rows(tmp_path / "heads.jsonl", [head | {"sig": sign_head(each.key, each.chain, 3, each.hashes[2])}])
    (tmp_path / "keys.json").write_text(json.dumps({each.chain: base64url(public_der(each.key))}))
    assert verify.check(tmp_path).faults != []
    write_rows(tmp_path / "aside.jsonl", [{"chain": each.chain, "seq": 2, "reason": "unparseable"}])
    result = verify.check(tmp_path)
    assert (result.faults, result.unproven) == ([], 1), "nothing signed says what stood before it"
    first: dict[str, object] = {"chain": each.chain, "seq": 1, "hash": each.hashes[0]}
    heads = read_rows(tmp_path / "heads.jsonl")
    write_rows(tmp_path / "heads.jsonl", [*heads, first | {"sig": sign_head(each.key, each.chain, 1, each.hashes[0])}])
    assert verify.check(tmp_path).unproven == 0


def test_a_chain_is_named_after_its_key() -> None:
    assert chain_id(public_der(Tablet("x").key)) != chain_id(public_der(Tablet("x").key))


def test_the_verifier_is_one_short_file_of_the_standard_library() -> None:
    """Under 300 lines, so that a stranger reads it before running it."""
    text = Path(verify.__file__).read_text("utf-8")
    assert len(text.splitlines()) < 300
    imported = {line.split()[1].split(".")[0] for line in text.splitlines() if re.match(r"(import|from) ", line)}
    assert imported - {"__future__"} <= set(sys.stdlib_module_names)


@pytest.mark.parametrize("body", ["null", "[]", "{}", '{"photo":7}', '{"heads":{"a":1}}'])
@pytest.mark.parametrize("kind", ["photo.erased", "shift.closed"])
def test_a_line_that_says_less_than_it_should_stops_no_check(kind: str, body: str) -> None:
    chain, faults = "c" * 64, list[str]()
    line = f'{{"v":1,"chain":"{chain}","seq":1,"prev":"{chain}","kind":"{kind}","body":{body}}}\n'
    found = verify.read_chain(chain, line.encode(), {}, faults)
    assert faults == [] and found.closed == []
