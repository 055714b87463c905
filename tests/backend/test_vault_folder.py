"""The folder vault opens its own folder only, and leaves no half photo anywhere."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from loupebook.vault import (
    Damage,
    Derived,
    FolderVault,
    Missing,
    WrongFolder,
    WrongHash,
    put,
    sha256_name,
)

pytestmark = pytest.mark.sink

ABC = sha256_name(hashlib.sha256(b"abc").hexdigest())


def made(tmp_path: Path) -> Path:
    root = tmp_path / "vault"
    FolderVault.make(root, "i-1", reserve_bytes=0)
    return root


def test_a_vault_is_found_again_by_its_marker(tmp_path: Path) -> None:
    root = made(tmp_path)
    put(FolderVault(root, "i-1", reserve_bytes=0), [b"abc"], ABC, 3)
    assert FolderVault(root, "i-1", reserve_bytes=0).holds(ABC)


def test_an_empty_folder_in_place_of_the_vault_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongFolder):
        FolderVault(tmp_path, "i-1")


def test_the_vault_of_another_instance_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongFolder):
        FolderVault(made(tmp_path), "i-2")


@pytest.mark.parametrize("marker", ["", "[]", '{"loupebook_vault": 2, "instance": "i-1"}'])
def test_a_marker_that_is_not_ours_is_refused(tmp_path: Path, marker: str) -> None:
    root = made(tmp_path)
    (root / "vault.json").write_text(marker)
    with pytest.raises(WrongFolder):
        FolderVault(root, "i-1")


def test_a_folder_with_something_in_it_is_not_made_a_vault(tmp_path: Path) -> None:
    (tmp_path / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(WrongFolder):
        FolderVault.make(tmp_path, "i-1")


def test_the_marker_says_whose_vault_it_is(tmp_path: Path) -> None:
    marker = json.loads((made(tmp_path) / "vault.json").read_text())
    assert marker == {"loupebook_vault": 1, "instance": "i-1"}


def test_the_path_is_made_from_the_hash_alone(tmp_path: Path) -> None:
    root = made(tmp_path)
    put(FolderVault(root, "i-1", reserve_bytes=0), [b"abc"], ABC, 3)
    files = [path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file()]
    assert sorted(files) == [f"photos/{ABC[:2]}/{ABC}", "vault.json"]


def test_a_refused_photo_leaves_no_file(tmp_path: Path) -> None:
    root = made(tmp_path)
    with pytest.raises(WrongHash):
        put(FolderVault(root, "i-1", reserve_bytes=0), [b"abd"], ABC, 3)
    assert [path for path in root.rglob("*") if path.is_file()] == [root / "vault.json"]


def test_leftovers_of_a_crash_go_at_start_and_nothing_else(tmp_path: Path) -> None:
    root = made(tmp_path)
    vault = FolderVault(root, "i-1", reserve_bytes=0)
    put(vault, [b"abc"], ABC, 3)
    vault.receive(ABC, 3).write(b"a")  # never kept, never dropped
    again = FolderVault(root, "i-1", reserve_bytes=0)
    assert again.clear_leftovers() == 1
    assert list((root / "incoming").iterdir()) == []
    assert again.holds(ABC)


def test_a_scrub_names_a_stray_file(tmp_path: Path) -> None:
    root = made(tmp_path)
    (root / "photos" / "00" / "thumbs.db").write_bytes(b"x")
    found = list(FolderVault(root, "i-1").scrub())
    assert found == [Damage("thumbs.db", "stray")]


def test_the_derived_tree_may_be_deleted_and_is_then_simply_absent(tmp_path: Path) -> None:
    derived = Derived(tmp_path / "derived")
    assert derived.look(ABC) is None and derived.thumbnail(ABC, 320) is None
    derived.write(ABC, {"state": "shown"}, {320: b"s", 640: b"l"})
    assert derived.look(ABC) == {"state": "shown"} and derived.thumbnail(ABC, 640) == b"l"
    derived.erase(ABC)
    assert derived.look(ABC) is None and derived.thumbnail(ABC, 640) is None


@pytest.mark.parametrize("lost", ["look.json", "320.jpg", "640.jpg"])
def test_a_derived_file_emptied_by_a_power_cut_counts_as_absent(tmp_path: Path, lost: str) -> None:
    derived = Derived(tmp_path)
    derived.write(ABC, {"state": "shown"}, {320: b"s", 640: b"l"})
    (tmp_path / ABC[:2] / f"{ABC}.{lost}").write_bytes(b"")
    assert derived.look(ABC) is None


def test_reading_a_photo_that_was_erased_says_missing(tmp_path: Path) -> None:
    vault = FolderVault(made(tmp_path), "i-1", reserve_bytes=0)
    put(vault, [b"abc"], ABC, 3)
    vault.erase(ABC)
    with pytest.raises(Missing):
        vault.open(ABC)
