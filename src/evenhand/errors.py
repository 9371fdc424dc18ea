"""Every error evenhand raises on purpose: each message says what, where and what to do."""


class EvenhandError(Exception):
    """Root of all errors that evenhand raises on purpose."""


class MidiFileError(EvenhandError):
    """A MIDI file is damaged, of a kind that is not read, or cannot keep a promise."""


class SettingError(EvenhandError):
    """A setting (option, recipe key or argument) has a value that makes no sense."""


class DiskError(EvenhandError):
    """A file cannot be read or written."""


class SoundError(EvenhandError):
    """A sound file is damaged, of a kind that is not read, or does not belong to the take."""
