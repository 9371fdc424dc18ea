"""The words that settings may be, the default first."""

AUTO = "auto"
ON, OFF = "on", "off"
LOOSE, TIGHT, AS_PLAYED = "loose", "tight", "as-played"
HITS, SPANS = "hits", "spans"
STAY, MOVE = "stay", "move"

#: What `fills`, `fill_landing`, `plan` and `syncopation` may be.
FILL_MODES = (LOOSE, TIGHT, AS_PLAYED)
LANDINGS = (TIGHT, AS_PLAYED)
PLANS = (HITS, SPANS)
SYNCOPATIONS = (AUTO, STAY, MOVE)

#: What a span costs by default, ms: it pays if it saves that many ms of movement in all.
SPAN_COST = 30.0

#: What `roles` may be.
ROLES = (AUTO, "pieces")

#: The pieces whose hits are anchors by default.
ANCHORS = ("kick", "snare", "side stick")

#: No chain is later than this, ms; far beyond it times overflow. Common practice.
LONGEST_LATENCY = 10_000
