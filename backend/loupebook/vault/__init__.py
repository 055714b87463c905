"""The vault keeps the bytes of photos under their own hash, and says nothing is kept before it is durable."""

from loupebook.vault.derived import THUMB_EDGES, Derived, LookRecord, ThumbEdge
from loupebook.vault.errors import (
    Broken,
    Damaged,
    Missing,
    NoRoom,
    TooLarge,
    VaultRefusal,
    WrongFolder,
    WrongHash,
    WrongLength,
)
from loupebook.vault.folder import FolderVault
from loupebook.vault.memory import MemoryVault
from loupebook.vault.names import LONGEST_BYTES, NotAHash, Sha256, sha256_name
from loupebook.vault.port import Damage, Outcome, Receiving, Vault, put, read_checked
from loupebook.vault.sniff import PhotoType, sniff

__all__ = [
    "LONGEST_BYTES",
    "THUMB_EDGES",
    "Broken",
    "Damage",
    "Damaged",
    "Derived",
    "FolderVault",
    "LookRecord",
    "MemoryVault",
    "Missing",
    "NoRoom",
    "NotAHash",
    "Outcome",
    "PhotoType",
    "Receiving",
    "Sha256",
    "ThumbEdge",
    "TooLarge",
    "Vault",
    "VaultRefusal",
    "WrongFolder",
    "WrongHash",
    "WrongLength",
    "put",
    "read_checked",
    "sha256_name",
    "sniff",
]
