"""How well a pass judges: faults planted in real takes, and real takes as they are.

Run as `python -m tests.evaluation.score_judgement FOLDER`. Everything is measured from outside:
a take goes into `tighten` with default settings, and only the times that come out are looked at,
with what was flagged and told. The measure has a grid and a habit of its own (`playing`), so that
it does not share the mistakes of what it judges.
"""
