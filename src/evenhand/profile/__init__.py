"""The habit of a drummer as a file: found in takes, written, read, compared, leaned towards."""

from evenhand.profile.against import Compared, compare_profiles
from evenhand.profile.file import parse_profile, profile_toml, read_profile
from evenhand.profile.find import Profile, find_profile, meter_of, voices
from evenhand.profile.lean import lean_towards

__all__ = [
    "Compared",
    "Profile",
    "compare_profiles",
    "find_profile",
    "lean_towards",
    "meter_of",
    "parse_profile",
    "profile_toml",
    "read_profile",
    "voices",
]
