"""The words that settings may be, the default first."""

AUTO = "auto"
ON, OFF = "on", "off"
LOOSE, TIGHT, AS_PLAYED = "loose", "tight", "as-played"
HITS, SPANS = "hits", "spans"
STAY, MOVE = "stay", "move"
LIMBS, TOGETHER = "limbs", "together"

#: What `fills`, `fill_landing`, `plan`, `syncopation` and `carry` may be.
FILL_MODES = (LOOSE, TIGHT, AS_PLAYED)
LANDINGS = (TIGHT, AS_PLAYED)
PLANS = (HITS, SPANS)
SYNCOPATIONS = (AUTO, STAY, MOVE)
CARRIES = (LIMBS, TOGETHER)

#: What a span costs by default, ms: it pays if it saves that many ms of movement in all.
SPAN_COST = 30.0

#: What `roles` may be.
ROLES = (AUTO, "pieces")

#: How far from a line a hit may be and still be counted to it where `reach` is `auto`, percent.
REACH = 40.0

#: The pieces whose hits are anchors by default.
ANCHORS = ("kick", "snare", "side stick")

#: No chain is later than this, ms; far beyond it times overflow. Common practice.
LONGEST_LATENCY = 10_000
