"""`python -m labmark` does what the `labmark` command does."""

from labmark.cli import main

if __name__ == "__main__":
    main()
