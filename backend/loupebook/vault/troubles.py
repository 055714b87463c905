"""Every refusal of the photo routes in words: what happened, what is still there, what to do next."""

from __future__ import annotations

from loupebook.trouble import Trouble

ON_TABLET = "The photo stays saved on the tablet."
KEPT = "The entry and the photo's bytes are kept."

NOT_OURS = Trouble(
    403, "not_ours", "This request did not come from Loupebook.", "Nothing was changed.",
    "Open Loupebook itself and try there.",
)  # fmt: skip
NO_PHOTO = Trouble(
    404, "no_photo", "There is no such photo on the server.", "Entries are not affected.",
    "If the tablet that took it has not sent for a while, let it send.",
)  # fmt: skip
ENTRY_FIRST = Trouble(
    409, "entry_first", "No entry received so far names this photo.", ON_TABLET,
    "Send the entry, then the photo.",
)  # fmt: skip
ERASED = Trouble(
    410, "erased", "Two leads had this photo erased.", "The entry that names it stays.",
    "Nothing. The tablet may let go of its bytes.",
)  # fmt: skip
NO_LENGTH = Trouble(
    411, "no_length", "The photo came without its length.", ON_TABLET, "Send it again, with its length.",
)  # fmt: skip
TOO_LARGE = Trouble(
    413, "too_large", "The photo is larger than 12 MB.", ON_TABLET,
    "Tell the lead: this photo cannot be sent as it is.",
)  # fmt: skip
REENCODED = Trouble(
    415, "reencoded", "Something on the way packed the photo anew.", ON_TABLET,
    "Have the network's proxy leave photos as they are.",
)  # fmt: skip
CANNOT_BE_SHOWN = Trouble(
    415, "cannot_be_shown", "This photo cannot be shown.", KEPT,
    "Take the photo again if the scope is still here.",
)  # fmt: skip
OTHER_LENGTH = Trouble(
    422, "other_length", "The photo has another length than its entry says.", ON_TABLET,
    "Send it again.",
)  # fmt: skip
ALTERED = Trouble(
    422, "altered", "The photo's bytes changed on the way.", ON_TABLET, "Send it again.",
)  # fmt: skip
TOO_SLOW = Trouble(
    408, "too_slow", "The photo stopped coming.", ON_TABLET, "Send it again.",
)  # fmt: skip
RESTRICTED = Trouble(
    403, "restricted", "Hidden: this photo may show a person or patient data.", KEPT,
    "A lead can look at it at the desk; who looked, and why, is recorded.",
)  # fmt: skip
NO_ROOM = Trouble(
    507, "no_room", "The server has no room for photos.",
    "Entries are still taken. " + ON_TABLET, "Tell whoever runs the server to make room.",
)  # fmt: skip
BROKEN = Trouble(
    503, "disk_trouble", "The server's disk did not keep a photo, so it takes no more.",
    "Photos on the server can be seen. " + ON_TABLET, "Tell whoever runs the server: its disk needs a look.",
)  # fmt: skip
DAMAGED = Trouble(
    500, "damaged", "This photo's bytes on the server were damaged.", "The entry that names it stays.",
    "Tell whoever runs the server; the photo may still be on a tablet or in the backup.",
)  # fmt: skip
