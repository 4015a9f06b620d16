"""Exit codes of the command line, in one table."""

from enum import IntEnum


class Exit(IntEnum):
    """How a command ended."""

    DONE = 0
    """Done; a plan was made. Wishes that cannot be met are in the plan."""
    FAILED = 1
    """festoon itself failed or was stopped; no number was given."""
    COMMAND_WRONG = 2
    """The command was wrong: an unknown option, a file that is not there, a folder that cannot be written."""
    INPUT_REFUSED = 3
    """The input was refused: every fault is named and nothing was written."""
