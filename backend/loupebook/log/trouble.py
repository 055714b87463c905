"""What the log refuses, one class a situation, in three sentences. Nothing was written when one is raised."""

from __future__ import annotations

from loupebook.trouble import Trouble


class LogRefusal(Trouble):
    """The log did not take something. Each class is one situation, with its words."""

    status = 500
    code = "log_trouble"
    so = "The server did not take this."
    safe = "What was on the server before is safe; what a tablet has not sent stays on the tablet."
    next = "Try again; if it stays so, tell whoever looks after the server."

    def __init__(self) -> None:
        of = type(self)
        super().__init__(of.status, of.code, of.so, of.safe, of.next)


ON_TABLET = "What was saved on this tablet stays on it, and what is on the server stays there."


class UnknownChain(LogRefusal):
    """No enrolled station writes this chain."""

    status, code = 404, "chain_unknown"
    so = "The server does not know this tablet's chain of entries."
    safe = ON_TABLET
    next = "Have a lead enrol this tablet again; its unsent entries are sent afterwards."


class OtherStation(LogRefusal):
    """The chain belongs to another station than the one that asks."""

    status, code = 403, "other_station"
    so = "This chain of entries belongs to another tablet."
    safe = ON_TABLET
    next = "Send it from the tablet it was written on."


class NotUnderstood(LogRefusal):
    """The body is not lines and a head, or `from` is no place."""

    status, code = 422, "not_lines"
    so = "What came is not a batch of entries with its head."
    safe = ON_TABLET
    next = "Send the batch again."


class HeadWrong(LogRefusal):
    """The head is not that of the last line, or not signed with the chain's key."""

    status, code = 422, "head_wrong"
    so = "The signature of this batch is not the tablet's, or its entries changed on the way."
    safe = ON_TABLET
    next = "Send the batch again; if it stays so, have a lead enrol this tablet again."


class TooMuch(LogRefusal):
    """More bytes or lines than one batch may have."""

    status, code = 413, "too_much"
    so = "More came than the server takes at once: 2 MiB, or 200 entries."
    safe = ON_TABLET
    next = "Send smaller batches."


class Gap(LogRefusal):
    """`from` is beyond what the server has; it answers with what it has."""

    status, code = 409, "gap"
    so = "Entries before these have not arrived."
    safe = ON_TABLET
    next = "Send from the entry after the one the server has."

    def __init__(self, seq: int, hash: str | None) -> None:
        super().__init__()
        self.seq = seq
        self.hash = hash


class NotAside(LogRefusal):
    """`aside.settled` names an entry that is not put aside, or that was settled."""

    status, code = 409, "not_aside"
    so = "This entry is not waiting to be settled: it counts, it is not here, or somebody settled it before."
    safe = "Nothing was changed."
    next = "Look at the list again."


class CannotCount(LogRefusal):
    """What cannot be read, or does not belong where it stands, can only be left out."""

    status, code = 422, "cannot_count"
    so = "This entry cannot be counted: it cannot be read, or does not belong where it stands."
    safe = "Its bytes are kept."
    next = "Leave it out, and record again what it said if somebody still knows."


class RuleStands(LogRefusal):
    """A rule of the chain stands against an entry, and nothing a lead says of it changes that."""

    status, code = 422, "rule_stands"
    so = "This entry cannot be counted: a rule of its inspection stands against it."
    safe = "It stays in the record, put aside."
    next = "Settle first what it hangs on, or leave it out."


class NotAllowedHere(LogRefusal):
    """The kind or its body cannot be written on the server's own chain."""

    status, code = 422, "bad_body"
    so = "This is not complete, or not something a lead decides here."
    safe = "Nothing was changed."
    next = "Fill in what is missing and try again."


class Busy(LogRefusal):
    """Another process held the database longer than a transaction waits."""

    status, code = 503, "busy"
    so = "Another program holds the record."
    safe = ON_TABLET
    next = "It is tried again; if it stays so, stop the other program."


class DiskFull(LogRefusal):
    """The disk is full: the transaction was undone. Reading goes on, and writing again once there is room."""

    status, code = 507, "disk_full"
    so = "The server's disk is full."
    safe = ON_TABLET
    next = "Tell whoever runs the server to make room; sending goes on by itself."


class WritingStopped(LogRefusal):
    """The disk failed once: nothing is written any more until the server is started anew. Reading goes on."""

    status, code = 507, "writing_stopped"
    so = "The server's disk did not keep an entry, so the server takes no more."
    safe = ON_TABLET + " Entries sent in this moment are sent again and not doubled."
    next = "Tell whoever runs the server: the disk needs a look, then a new start."


class Closed(LogRefusal):
    """The server is stopping."""

    status, code = 503, "stopping"
    so = "The server is stopping."
    safe = ON_TABLET
    next = "Sending goes on by itself when it runs again."
