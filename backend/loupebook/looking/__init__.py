"""Looking opens photos in a child process with limits: thumbnails, sharpness, codes; a hostile file harms nothing."""

from loupebook.looking.look import CannotReason, Code, Look, Symbology
from loupebook.looking.looker import Looker, LookerCannotStart
from loupebook.looking.queue import LookingQueue

__all__ = [
    "CannotReason",
    "Code",
    "Look",
    "Looker",
    "LookerCannotStart",
    "LookingQueue",
    "Symbology",
]
