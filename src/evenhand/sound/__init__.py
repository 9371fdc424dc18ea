"""Samples, score, rendering."""

from evenhand.sound.mixing import PEAK_DB, write_sound
from evenhand.sound.samples import OneShot, brightness_step, cutoff_hz, loudness
from evenhand.sound.score import beats_of, click_samples, score_of
from evenhand.sound.stems import Rendering, load_samples, render_take
from evenhand.sound.voice_names import CHOKED

__all__ = [
    "CHOKED",
    "PEAK_DB",
    "OneShot",
    "Rendering",
    "beats_of",
    "brightness_step",
    "click_samples",
    "cutoff_hz",
    "load_samples",
    "loudness",
    "render_take",
    "score_of",
    "write_sound",
]
