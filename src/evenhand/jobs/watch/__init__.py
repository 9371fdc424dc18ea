"""Takes tightened as they arrive in a folder."""

from evenhand.jobs.watch.arrivals import STILL_S, Arrivals
from evenhand.jobs.watch.watched_folder import Arrived, Waits, wake_ups, watch

__all__ = ["STILL_S", "Arrivals", "Arrived", "Waits", "wake_ups", "watch"]
