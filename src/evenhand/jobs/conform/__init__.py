"""Real drums: the microphones follow the tightened take."""

from evenhand.jobs.conform.cut_plan import ConformSettings
from evenhand.jobs.conform.demo_session import demo_session
from evenhand.jobs.conform.job import Conformed, conform
from evenhand.jobs.conform.moves import Moves, moves_between

__all__ = ["ConformSettings", "Conformed", "Moves", "conform", "demo_session", "moves_between"]
