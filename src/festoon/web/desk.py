"""What every page and route of the app works with: the store, who works here, and what the reader prefers."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Generic, Literal, TypeVar

from fastapi import Depends, Request

from festoon.model.dentition import Notation
from festoon.store.looking import CaseLine
from festoon.store.store import Store
from festoon.web.security import Door
from festoon.workflow.desk import Next

# Libraries of scans and photographs take a second to load: they come with the first scan or photograph.
if TYPE_CHECKING:
    from festoon.photo.reading import Photo
    from festoon.photo.snapping import Snapper
    from festoon.workflow.measuring_scan import MeasuredScan

PREFERENCES = "festoon-prefers"
Made = TypeVar("Made")


@dataclass(frozen=True)
class Desk:
    """One running app."""

    store: Store
    door: Door
    by: str
    """Code of whoever works here, for the trail."""
    planning: threading.Lock = field(default_factory=threading.Lock)
    """Plans are solved one after the other: two cores are shared with the browser."""
    measured: Recent[MeasuredScan] = field(default_factory=lambda: Recent())
    """Scans measured last, so that a point set by hand is answered at once."""
    photos: Recent[Photo] = field(default_factory=lambda: Recent())
    """Photographs looked at last, upright."""
    snappers: Recent[Snapper] = field(default_factory=lambda: Recent())
    """The same, made ready for snapping."""
    waits: dict[str, tuple[CaseLine, Next]] = field(default_factory=dict)
    """What each case was found to wait for, and what was kept of it then: a list is shown again without solving anything."""


class Recent(Generic[Made]):
    """A few things that take seconds to make, by what they were made from. Nothing is lost with them: they are made again."""

    _KEPT = 2

    def __init__(self) -> None:
        self._made: OrderedDict[tuple[str, ...], Made] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: tuple[str, ...], make: Callable[[], Made]) -> Made:
        """What was made from this key, or made now, in place of the one made longest ago."""
        with self._lock:
            if key not in self._made:
                self._made[key] = make()
                while len(self._made) > self._KEPT:
                    self._made.popitem(last=False)
            self._made.move_to_end(key)
            return self._made[key]


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
