"""Bytes to events and back without loss: Standard MIDI Files, tempo, meter, hits as columns."""
