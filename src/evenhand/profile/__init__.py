"""The habit of a drummer as a file: found in takes, written, read, compared."""

from evenhand.profile.against import Compared, compare_profiles
from evenhand.profile.file import parse_profile, profile_toml, read_profile
from evenhand.profile.find import Profile, find_profile, meter_of, voices

__all__ = [
    "Compared",
    "Profile",
    "compare_profiles",
    "find_profile",
    "meter_of",
    "parse_profile",
    "profile_toml",
    "read_profile",
    "voices",
]
