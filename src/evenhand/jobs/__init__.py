"""Whole jobs: made from the other rooms, over one file or many."""
