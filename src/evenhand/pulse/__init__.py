"""The pulse: tempo, beat and bar from the hits alone."""

from evenhand.pulse.off_lines import Beside, find_beside
from evenhand.pulse.other import OtherTempo, can_tell, gathers, hear_other_tempo
from evenhand.pulse.recurrence import onsets_of
from evenhand.pulse.search import AUTO, FIT_MODES, FOLLOW, Fit, fit_beats, keeps_time
from evenhand.pulse.steady import Hints, find_tempo
from evenhand.pulse.tellable import FEWEST, no_pulse, why_unfollowed, why_untold

__all__ = [
    "AUTO",
    "FEWEST",
    "FIT_MODES",
    "FOLLOW",
    "Beside",
    "Fit",
    "Hints",
    "OtherTempo",
    "can_tell",
    "find_beside",
    "find_tempo",
    "fit_beats",
    "gathers",
    "hear_other_tempo",
    "keeps_time",
    "no_pulse",
    "onsets_of",
    "why_unfollowed",
    "why_untold",
]
