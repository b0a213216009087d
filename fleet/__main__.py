"""Lets `python -m fleet` do what the `fleet` command does."""

from fleet.cli.main import run

if __name__ == "__main__":
    run()
