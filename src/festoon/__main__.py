"""``python -m festoon``."""

from festoon.cli.main import main

if __name__ == "__main__":
    main()
