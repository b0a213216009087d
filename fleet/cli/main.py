"""The `fleet` command."""


def run() -> None:
    """Runs the command line."""
