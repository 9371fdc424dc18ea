"""The `evenhand` command. Nothing is imported here that takes time: Ctrl-C is answered first."""

import os


def main() -> None:
    """Run the command line."""
    try:
        import signal

        signal.signal(signal.SIGINT, _leave)
        from evenhand.cli.start import run
    except KeyboardInterrupt:
        _leave()
    run()


def _leave(*_: object) -> None:
    """End while nothing has been begun: there is nothing to clear away."""
    try:
        os.write(2, b"evenhand: interrupted; nothing was begun\n")
    finally:
        os._exit(130)


if __name__ == "__main__":
    main()
