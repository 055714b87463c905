"""Why the vault did not do what it was asked, one class a situation. None of them leaves half a photo behind."""

from __future__ import annotations


class VaultRefusal(Exception):
    """The vault did not take or give a photo; what it held before is untouched."""


class WrongHash(VaultRefusal):
    """The bytes that came are not the ones the name says. Nothing was kept."""


class WrongLength(VaultRefusal):
    """More or fewer bytes came than were announced (a cut connection, mostly). Nothing was kept."""


class TooLarge(VaultRefusal):
    """The announced length is over the written limit of 12 MB. Nothing was read."""


class NoRoom(VaultRefusal):
    """The disk is full, or this photo would eat the reserve kept for entries. Nothing was kept."""


class Broken(VaultRefusal):
    """The disk once failed to make bytes durable. No photo is taken until a person has looked and restarted.

    After a failed fsync the kernel may drop the dirty pages and report success the next time, so trying
    again proves nothing (from memory: the PostgreSQL fsync reports of 2018; Linux `fsync(2)`, EIO).
    """


class Missing(VaultRefusal):
    """The vault holds no photo of that name."""


class Damaged(VaultRefusal):
    """The bytes on the disk no longer have the hash they are named by, or cannot be read."""


class WrongFolder(VaultRefusal):
    """The folder is not this instance's vault: no marker, another marker, or not empty when it is to be made."""
