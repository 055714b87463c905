"""One contract for every vault: what is kept is what was named, and nothing else is kept."""

from __future__ import annotations

import hashlib
import os
import threading
from abc import ABC, abstractmethod
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loupebook.vault import (
    LONGEST_BYTES,
    Damage,
    Damaged,
    FolderVault,
    MemoryVault,
    Missing,
    NoRoom,
    NotAHash,
    Sha256,
    TooLarge,
    Vault,
    WrongHash,
    WrongLength,
    put,
    read_checked,
    sha256_name,
    sniff,
)

pytestmark = pytest.mark.sink

# FIPS 180-4 example ("abc"), from the NIST example values for SHA-256
ABC_SHA256 = sha256_name("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")


def name_of(data: bytes) -> Sha256:
    return sha256_name(hashlib.sha256(data).hexdigest())


class VaultContract(ABC):
    """What every vault keeps; a subclass says how one is made, filled up and spoilt."""

    @pytest.fixture
    def vault(self, tmp_path: Path) -> Vault:
        return self.make(tmp_path)

    @abstractmethod
    def make(self, folder: Path) -> Vault: ...

    @abstractmethod
    def make_full(self, folder: Path) -> Vault: ...

    @abstractmethod
    def spoil(self, vault: Vault, folder: Path, sha256: Sha256) -> None: ...

    def test_a_photo_put_is_read_back_byte_for_byte_under_its_standard_hash(self, vault: Vault) -> None:
        assert put(vault, [b"a", b"bc"], ABC_SHA256, 3) == "stored"
        assert read_checked(vault, ABC_SHA256) == b"abc"
        assert vault.exists(ABC_SHA256) and vault.holds(ABC_SHA256)

    def test_the_same_photo_again_is_already_there(self, vault: Vault) -> None:
        put(vault, [b"abc"], ABC_SHA256, 3)
        assert put(vault, [b"abc"], ABC_SHA256, 3) == "already"

    def test_other_bytes_under_a_name_are_refused_and_not_kept(self, vault: Vault) -> None:
        with pytest.raises(WrongHash):
            put(vault, [b"abd"], ABC_SHA256, 3)
        assert not vault.exists(ABC_SHA256)

    @pytest.mark.parametrize("announced", [2, 4])
    def test_another_length_than_announced_is_refused_and_not_kept(self, vault: Vault, announced: int) -> None:
        with pytest.raises(WrongLength):
            put(vault, [b"abc"], ABC_SHA256, announced)
        assert not vault.exists(ABC_SHA256)

    def test_a_photo_over_the_limit_is_refused_before_any_byte(self, vault: Vault) -> None:
        vault.receive(ABC_SHA256, LONGEST_BYTES).drop()
        with pytest.raises(TooLarge):
            vault.receive(ABC_SHA256, LONGEST_BYTES + 1)

    def test_a_dropped_photo_leaves_nothing(self, vault: Vault) -> None:
        receiving = vault.receive(ABC_SHA256, 3)
        receiving.write(b"abc")
        receiving.drop()
        receiving.drop()
        assert not vault.exists(ABC_SHA256)

    def test_a_photo_on_its_way_is_not_there_yet(self, vault: Vault) -> None:
        receiving = vault.receive(ABC_SHA256, 3)
        receiving.write(b"abc")
        assert not vault.exists(ABC_SHA256)
        assert receiving.keep() == "stored"

    def test_a_full_vault_refuses_before_any_byte(self, tmp_path: Path) -> None:
        with pytest.raises(NoRoom):
            self.make_full(tmp_path).receive(ABC_SHA256, 3)

    def test_a_missing_photo_is_named_missing(self, vault: Vault) -> None:
        with pytest.raises(Missing):
            vault.open(ABC_SHA256)
        assert not vault.holds(ABC_SHA256)

    def test_an_erased_photo_is_gone_and_erasing_twice_says_so(self, vault: Vault) -> None:
        put(vault, [b"abc"], ABC_SHA256, 3)
        assert vault.erase(ABC_SHA256)
        assert not vault.exists(ABC_SHA256)
        assert not vault.erase(ABC_SHA256)

    def test_spoilt_bytes_are_never_read_as_the_photo(self, vault: Vault, tmp_path: Path) -> None:
        put(vault, [b"abc"], ABC_SHA256, 3)
        self.spoil(vault, tmp_path, ABC_SHA256)
        assert not vault.holds(ABC_SHA256)
        with pytest.raises(Damaged):
            read_checked(vault, ABC_SHA256)

    def test_sound_bytes_put_again_heal_spoilt_ones(self, vault: Vault, tmp_path: Path) -> None:
        put(vault, [b"abc"], ABC_SHA256, 3)
        self.spoil(vault, tmp_path, ABC_SHA256)
        assert put(vault, [b"abc"], ABC_SHA256, 3) == "stored"
        assert read_checked(vault, ABC_SHA256) == b"abc"

    def test_a_scrub_names_spoilt_and_missing_photos_and_no_sound_one(self, vault: Vault, tmp_path: Path) -> None:
        sound = name_of(b"sound")
        put(vault, [b"sound"], sound, 5)
        put(vault, [b"abc"], ABC_SHA256, 3)
        self.spoil(vault, tmp_path, ABC_SHA256)
        gone = name_of(b"gone")
        found = list(vault.scrub([sound, gone]))
        assert found == [Damage(ABC_SHA256, "altered"), Damage(gone, "missing")]

    def test_one_photo_put_by_eight_at_once_is_stored_once(self, vault: Vault) -> None:
        together = threading.Barrier(8)
        data = bytes(range(256)) * 400

        def one(_: int) -> str:
            receiving = vault.receive(name_of(data), len(data))
            receiving.write(data)
            together.wait(10)
            return receiving.keep()

        with ThreadPoolExecutor(8) as threads:
            outcomes = sorted(threads.map(one, range(8)))
        assert outcomes == ["already"] * 7 + ["stored"]
        assert read_checked(vault, name_of(data)) == data

    def test_any_cutting_into_pieces_gives_the_same_photo(self, vault: Vault) -> None:
        @settings(max_examples=30, deadline=None)
        @given(st.lists(st.binary(max_size=400), max_size=8))
        def cut(pieces: list[bytes]) -> None:
            data = b"".join(pieces)
            put(vault, pieces, name_of(data), len(data))
            assert read_checked(vault, name_of(data)) == data

        cut()


class TestMemoryVault(VaultContract):
    def make(self, folder: Path) -> Vault:
        return MemoryVault()

    def make_full(self, folder: Path) -> Vault:
        return MemoryVault(room=2)

    def spoil(self, vault: Vault, folder: Path, sha256: Sha256) -> None:
        assert isinstance(vault, MemoryVault)
        vault.alter(sha256, b"abx")


class TestFolderVault(VaultContract):
    def make(self, folder: Path) -> Vault:
        return FolderVault.make(folder / "vault", "i-1", reserve_bytes=0)

    def make_full(self, folder: Path) -> Vault:
        return FolderVault.make(folder / "vault", "i-1", reserve_bytes=10**18)

    def spoil(self, vault: Vault, folder: Path, sha256: Sha256) -> None:
        (folder / "vault" / "photos" / sha256[:2] / sha256).write_bytes(b"abx")


@pytest.mark.parametrize(
    "text",
    [
        "",
        ABC_SHA256.upper(),
        ABC_SHA256[:-1],
        ABC_SHA256 + "0",
        ABC_SHA256 + "\n",
        "../" + ABC_SHA256[3:],
        "١" * 64,
    ],
)
def test_only_64_lower_case_hex_digits_name_a_photo(text: str) -> None:
    with pytest.raises(NotAHash):
        sha256_name(text)


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "image/jpeg"),  # ITU-T T.871, 10.1
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "image/png"),  # ISO/IEC 15948, 5.2
        (b"RIFF\x24\x00\x00\x00WEBPVP8 ", "image/webp"),  # RFC 9649, 2.4
        (b"RIFF\x24\x00\x00\x00WAVEfmt ", None),
        (b"GIF89a\x01\x00\x01\x00", None),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", None),
        (b"<!doctype html>", None),
        (b"\xff\xd8", None),
        (b"", None),
    ],
)
def test_a_photo_type_is_told_by_its_first_bytes(head: bytes, kind: str | None) -> None:
    assert sniff(head) == kind


def count_syncs(monkeypatch: pytest.MonkeyPatch, work: Callable[[], object]) -> int:
    syncs = 0
    real = os.fsync

    def counted(fd: int) -> None:
        nonlocal syncs
        syncs += 1
        real(fd)

    monkeypatch.setattr(os, "fsync", counted)
    work()
    return syncs


def test_a_photo_costs_two_fsyncs_so_that_its_row_makes_the_third(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    vault = FolderVault.make(tmp_path / "v", "i-1", reserve_bytes=0)
    assert count_syncs(monkeypatch, lambda: put(vault, [b"abc"], ABC_SHA256, 3)) == 2
