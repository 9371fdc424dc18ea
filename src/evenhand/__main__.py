"""The `evenhand` command."""


def main() -> None:
    """Run the command line."""
    from evenhand.cli.app import main as run

    run()


if __name__ == "__main__":
    main()
