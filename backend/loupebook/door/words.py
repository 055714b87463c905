"""The door's refusals in words. Codes are a closed list; the sentences may be bettered, the codes stay."""

from __future__ import annotations

from loupebook.door.trouble import NOTHING_CHANGED, ON_TABLET, Trouble


def not_ours() -> Trouble:
    return Trouble(
        403, "not_ours", "This request did not come from Loupebook.", NOTHING_CHANGED,
        "Open Loupebook itself and try there.",
    )  # fmt: skip


def other_name() -> Trouble:
    return Trouble(
        421, "other_name", "This server does not go by the name in the address.", NOTHING_CHANGED,
        "Open Loupebook by the address printed when the server starts.",
    )  # fmt: skip


def not_encrypted() -> Trouble:
    return Trouble(
        403, "not_encrypted", "This connection is not encrypted, so no PIN is taken over it.", ON_TABLET,
        "Open Loupebook by its https address.",
    )  # fmt: skip


def no_length() -> Trouble:
    return Trouble(
        411, "no_length", "This came without its length.", NOTHING_CHANGED, "Send it again, with its length.",
    )  # fmt: skip


def no_station() -> Trouble:
    return Trouble(
        401, "no_station", "The server does not know this tablet.", ON_TABLET,
        "Ask a lead for a code and set this tablet up.",
    )  # fmt: skip


def station_withdrawn() -> Trouble:
    return Trouble(
        403, "station_withdrawn", "This tablet was withdrawn by a lead.",
        ON_TABLET + " It may still send it; the lead sees it.", "Give the tablet to the lead.",
    )  # fmt: skip


def sign_in_first() -> Trouble:
    return Trouble(
        401, "sign_in_first", "Nobody is signed in here.", ON_TABLET, "Choose your name and give your PIN.",
    )  # fmt: skip


def signed_out() -> Trouble:
    return Trouble(
        401, "signed_out", "You were signed out: nothing was done here for a while, or a lead changed your sign-in.",
        ON_TABLET, "Choose your name and give your PIN.",
    )  # fmt: skip


def not_your_part() -> Trouble:
    return Trouble(
        403, "not_your_part", "Your part here does not include this.", NOTHING_CHANGED, "Ask a lead.",
    )  # fmt: skip


def prove_again() -> Trouble:
    return Trouble(
        401, "prove_again", "This asks for your PIN again: it was given more than five minutes ago.",
        NOTHING_CHANGED, "Give your PIN, then do it again.",
    )  # fmt: skip


def slow_down(wait_s: int) -> Trouble:
    return Trouble(
        429, "slow_down", "Too many tries came from here.", NOTHING_CHANGED,
        f"Wait {wait_s} s, then try again.", wait_s=wait_s,
    )  # fmt: skip


# ---------------------------------------------------------------- PIN


def wrong_pin(left: int, wait_s: int) -> Trouble:
    tries = "1 try is left" if left == 1 else f"{left} tries are left"
    return Trouble(
        401, "wrong_pin", f"The PIN does not fit this name. On this tablet {tries}.", ON_TABLET,
        f"Try again in {wait_s} s, or ask a lead for a new PIN.", wait_s=wait_s,
    )  # fmt: skip


def no_pin_yet() -> Trouble:
    return Trouble(
        401, "no_pin_yet", "Nobody has set a PIN for this name yet.", ON_TABLET,
        "Set it with the one-time code a lead gave you.",
    )  # fmt: skip


def wrong_pin_unknown() -> Trouble:
    return Trouble(
        401, "wrong_pin", "The PIN does not fit this name.", ON_TABLET,
        "Choose your name again, or ask a lead for a new PIN.",
    )  # fmt: skip


def wait_for_pin(wait_s: int) -> Trouble:
    return Trouble(
        429, "pin_waits", f"After a wrong PIN the next try waits. {wait_s} s are left.", ON_TABLET,
        f"Try again in {wait_s} s.", wait_s=wait_s,
    )  # fmt: skip


def pin_stopped() -> Trouble:
    return Trouble(
        423, "pin_stopped", "Ten wrong PINs came for this name on this tablet. It takes no more here.",
        "Your sign-in on other tablets still works. " + ON_TABLET,
        "Sign in on another tablet, or ask a lead to open this one again.",
    )  # fmt: skip


def pin_stopped_everywhere() -> Trouble:
    return Trouble(
        423, "pin_stopped_everywhere", "A hundred wrong PINs came for this name. It takes no more anywhere.",
        ON_TABLET, "Ask a lead for a new PIN.",
    )  # fmt: skip


def person_off() -> Trouble:
    return Trouble(
        403, "person_off", "A lead switched this name off.", ON_TABLET, "Ask a lead.",
    )  # fmt: skip


WEAK_PIN = {
    "short": "A PIN has at least six digits.",
    "long": "A PIN has at most twelve digits.",
    "not_digits": "A PIN has digits only.",
    "sequence": "This PIN counts up or down; it is among the first ones tried.",
    "repeats": "This PIN repeats itself; it is among the first ones tried.",
    "mirrored": "This PIN reads the same from both ends; it is among the first ones tried.",
    "date": "This PIN is a date; dates are among the first ones tried.",
    "keypad": "This PIN is a line on the keypad; it is among the first ones tried.",
}
"""Why a PIN was not taken, by the reason `weakness` gives."""


def weak_pin(reason: str) -> Trouble:
    return Trouble(
        422, "weak_pin", WEAK_PIN[reason], "Nothing was changed; an old PIN still holds.",
        "Choose six or more digits without a pattern.",
    )  # fmt: skip


# ---------------------------------------------------------------- codes and stations


def first_is_over() -> Trouble:
    return Trouble(
        409, "first_is_over", "This server already has its first person.", NOTHING_CHANGED,
        "Ask a lead for a code for this tablet.",
    )  # fmt: skip


def wrong_code() -> Trouble:
    return Trouble(
        401, "wrong_code", "This code does not fit.", NOTHING_CHANGED,
        "Look at it again: letters and digits, no O and no I.",
    )  # fmt: skip


def code_used() -> Trouble:
    return Trouble(
        409, "code_used", "This code was already used for a tablet.", NOTHING_CHANGED,
        "Ask a lead for a new code. If it was not you, tell the lead now.",
    )  # fmt: skip


def code_over() -> Trouble:
    return Trouble(
        410, "code_over", "This code's time is over.", NOTHING_CHANGED, "Ask a lead for a new code.",
    )  # fmt: skip


def pin_code_used() -> Trouble:
    return Trouble(
        409, "code_used", "This code was already used.", NOTHING_CHANGED,
        "Ask a lead for a new code. If it was not you, tell the lead now.",
    )  # fmt: skip


def bad_key() -> Trouble:
    return Trouble(
        422, "bad_key", "The key this tablet made is not one the server can check.", NOTHING_CHANGED,
        "Update this tablet's browser, then set it up again.",
    )  # fmt: skip


def key_known() -> Trouble:
    return Trouble(
        409, "key_known", "This key already belongs to a chain.", NOTHING_CHANGED,
        "Let this tablet make a new key.",
    )  # fmt: skip


def not_this_chain() -> Trouble:
    return Trouble(
        409, "not_this_chain", "The old chain is not one of this tablet's.", ON_TABLET,
        "Give the tablet to the lead and set it up again.",
    )  # fmt: skip


def no_such_person() -> Trouble:
    return Trouble(
        404, "no_such_person", "There is nobody of that id.", NOTHING_CHANGED, "Load the list of people again.",
    )  # fmt: skip


def no_such_station() -> Trouble:
    return Trouble(
        404, "no_such_station", "There is no tablet of that id.", NOTHING_CHANGED,
        "Load the list of tablets again.",
    )  # fmt: skip


def last_lead() -> Trouble:
    return Trouble(
        409, "last_lead", "Nobody else here is a lead.", NOTHING_CHANGED, "Make somebody else a lead first.",
    )  # fmt: skip


def changed_meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Somebody else changed this person a moment ago.",
        "Their change stands; yours was not made.", "Look again, then change what is left.",
    )  # fmt: skip
