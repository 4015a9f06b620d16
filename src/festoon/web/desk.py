"""What every page and route of the app works with: the store, who works here, and what the reader prefers."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import Annotated, Literal

from fastapi import Depends, Request

from festoon.model.dentition import Notation
from festoon.store.store import Store
from festoon.web.security import Door

PREFERENCES = "festoon-prefers"


@dataclass(frozen=True)
class Desk:
    """One running app."""

    store: Store
    door: Door
    by: str
    """Code of whoever works here, for the trail."""
    planning: threading.Lock = field(default_factory=threading.Lock)
    """Plans are solved one after the other: two cores are shared with the browser."""


@dataclass(frozen=True)
class Prefers:
    """What a reader prefers to see; kept in a cookie of this browser, since it changes no record."""

    notation: Notation = Notation.FDI
    theme: Literal["auto", "light", "dark"] = "auto"
    language: str = "en"

    @property
    def second(self) -> Notation:
        """The other notation that stands beside the preferred one on everything that leaves the app."""
        return Notation.UNIVERSAL if self.notation is not Notation.UNIVERSAL else Notation.FDI

    @property
    def notations(self) -> tuple[Notation, Notation]:
        """Both."""
        return self.notation, self.second

    @property
    def cookie(self) -> str:
        """The value of the cookie."""
        return f"{self.notation.value}.{self.theme}.{self.language}"


def desk_of(request: Request) -> Desk:
    """The app's desk."""
    desk: Desk = request.app.state.desk
    return desk


def prefers_of(request: Request) -> Prefers:
    """The reader's preferences; what is not understood is the default."""
    parts = request.cookies.get(PREFERENCES, "").split(".")
    if len(parts) != 3:
        return Prefers()
    notation, theme, language = parts
    return Prefers(
        notation=Notation(notation) if notation in {n.value for n in Notation} else Notation.FDI,
        theme=theme if theme in ("light", "dark") else "auto",  # type: ignore[arg-type]  # narrowed by the line itself
        language=language,
    )


DeskHere = Annotated[Desk, Depends(desk_of)]
PrefersHere = Annotated[Prefers, Depends(prefers_of)]
