"""What can be wrong with a store. Messages name codes and counts, never a path, a name or a value."""

from __future__ import annotations


class StoreError(RuntimeError):
    """The store cannot do what was asked; nothing of it was kept."""


class StoreDamagedError(StoreError):
    """The database cannot be trusted. It was set aside or left as it is, never overwritten."""


class StoreNewerError(StoreError):
    """The database was written by a newer festoon; it was not touched."""


class StoreUnwritableError(StoreError):
    """The disk is full, the folder is read-only, or another process holds the store; nothing of it was kept."""


class UnknownRecordError(StoreError):
    """No such case, plan, reading, file or map; or a case that was deleted on request."""


class StaleVersionError(StoreError):
    """Somebody saved the case in the meantime. Both versions were kept."""

    def __init__(self, case: str, *, base: int, head: int, kept: int) -> None:
        self.case, self.base, self.head, self.kept = case, base, head, kept
        super().__init__(
            f"case {case}: you worked from version {base}, and version {head} was saved in the meantime. Nothing is "
            f"lost: yours was kept beside it as version {kept}. Compare the two, and save what is right from version "
            f"{head}."
        )


class SignedPlanError(StoreError):
    """A signed plan can be superseded, not changed or signed over."""
