"""What the playing was taken for, in words."""

from tests.build import HAT, KICK, SNARE, TOM, Note, drum_take

from evenhand import Recipe, Result, tighten
from evenhand.paper.playing import fills_json, fills_part, uses_json, uses_part

_BAR = 1920


def _train(bars: int) -> list[Note]:
    """Sixteenths on the snare, accents on 2 and 4, and kicks on 1 and 3."""
    notes: list[Note] = []
    for bar in range(bars):
        loud = {4: 100, 12: 100}
        notes += [(_BAR * bar + 120 * step, SNARE, loud.get(step, 40)) for step in range(16)]
        notes += [(_BAR * bar, KICK, 90), (_BAR * bar + 960, KICK, 90)]
    return notes


def _beat(bars: range, fill: int) -> list[Note]:
    notes: list[Note] = []
    for bar in bars:
        start = _BAR * bar
        if bar == fill:
            notes += [(start + 120 * step, TOM) for step in range(16)]
            continue
        notes += [(start + 240 * step, HAT, 60) for step in range(8)]
        notes += [(start, KICK), (start + 480, SNARE), (start + 960, KICK), (start + 1440, SNARE)]
    return notes


def _run(notes: list[Note], **settings: object) -> Result:
    recipe = Recipe(grid="1/16", sections="none", **settings)  # type: ignore[arg-type]
    return tighten(drum_take(sorted(notes)), recipe)


def test_it_says_what_keeps_time_and_why() -> None:
    result = _run(_train(8))
    assert result.figures.roles == {"timekeeper": 112, "anchor": 32}
    assert [line for part in uses_part(result.ground) for line in part.lines] == [
        "the snare keeps time (on 100 % of the lines): 112 hits for it, accents are anchors"
    ]
    assert uses_json(result.ground) == [
        {
            "section": result.ground.layout.sections.labels[0],
            "voice": "snare",
            "taken_for": "ticking",
            "hits": 112,
            "share": 100.0,
        }
    ]


def test_anchors_dials_and_the_setting_itself_leave_roles_to_the_pieces() -> None:
    # The ghost limit lies between 40 and 100: two groups.
    for settings in (
        {"anchor": ["snare"]},
        {"window": 10},
        {"reach": 30},
        {"plan": "spans"},
        {"roles": "pieces"},
    ):
        result = _run(_train(8), **settings)
        assert result.ground.uses == ()
        assert result.figures.roles["ghost"] == 112
        assert uses_part(result.ground) == []


def test_fills_are_listed() -> None:
    result = _run(_beat(range(16), fill=7))
    assert fills_json(result) == [
        {"from": "8:1", "to": "9:1", "hits": 16, "as_played": False, "ms": 0.0}
    ]
    assert fills_part(result)[0].lines == ["8:1 to 9:1: 16 hits, +0 ms"]
    held = _run(_beat(range(16), fill=7), fills="as-played")
    assert fills_part(held)[0].lines == ["8:1 to 9:1: 16 hits, held"]
    assert fills_part(_run(_beat(range(16), fill=99))) == []
