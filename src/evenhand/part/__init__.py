"""Another player: where a part puts the lines of a take, and how the two sit together."""

from evenhand.part.onsets import Placed, place_part
from evenhand.part.read import Part, read_part
from evenhand.part.together import HEARD_MS, Sitting, Together, sit_together, sitting

__all__ = [
    "HEARD_MS",
    "Part",
    "Placed",
    "Sitting",
    "Together",
    "place_part",
    "read_part",
    "sit_together",
    "sitting",
]
