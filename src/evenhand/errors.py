"""Every error evenhand raises on purpose: each message says what, where and what to do."""

#: Longest message, letters: what is quoted from a file may be long.
_LONGEST = 600


class EvenhandError(Exception):
    """Root of all errors that evenhand raises on purpose.

    Its message is one line that can be printed, whatever is quoted in it.
    """

    def __init__(self, message: str) -> None:
        super().__init__(one_line(message))


class MidiFileError(EvenhandError):
    """A MIDI file is damaged, of a kind that is not read, or cannot keep a promise."""


class SettingError(EvenhandError):
    """A setting (option, recipe key or argument) has a value that makes no sense."""


class DiskError(EvenhandError):
    """A file cannot be read or written."""


class ArgumentError(EvenhandError, TypeError):
    """A function was given another kind of thing than it takes; the message says what to give."""


class LossWarning(UserWarning):
    """A conversion to another library could not carry everything that is in a take."""


class SoundError(EvenhandError):
    """A sound file is damaged, of a kind that is not read, or does not belong to the take."""


def one_line(message: str) -> str:
    """The message with what can't be printed escaped, and the middle of a long one left out."""
    if len(message) > _LONGEST:
        message = f"{message[: _LONGEST - 150]} … {message[-140:]}"
    if message.isprintable():
        return message
    return "".join(one if one.isprintable() else repr(one)[1:-1] for one in message)
