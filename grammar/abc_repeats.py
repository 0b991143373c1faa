"""Puts the bars of an ABC tune together: repeats, numbered endings and parts.

Conventions (sections 4.8 to 4.10 of the ABC music standard 2.1, December 2011):
    * ``:|`` without ``|:`` goes back to the last double bar line, repeat or part, else to the start. ``::|`` plays
      three times, and so on.
    * An ending goes on to the next repeat mark, double bar line, ending or part. The times that have no ending go
      on behind the repeat.
    * A part inside a repeat is not a section of its own.
    * Nothing raises: what cannot be is remarked on, and the tune is put together as well as may be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from typing import Literal

from grammar.building import DraftBar, DraftRepeat, DraftSection
from grammar.places import Place
from shared.chart import Metre
from shared.chord import Chord
from shared.errors import Fault
from shared.key import Key
from shared.pitch import Pitch

#: How often a repeat is played at most.
MOST_TIMES = 99


@dataclass(slots=True)
class TuneBar:
    """A bar as the music gives it.

    Attributes:
        place: Where it starts.
        metre: The metre in force, None where it is free.
        key: The key in force.
        length: How long it lasts, in whole notes.
        symbols: Chords with the time before each; None is silence.
        parted: Whether it is a part of a bar, because the key changes inside it.
    """

    place: Place
    metre: Metre | None
    key: Key | Pitch | None
    length: Fraction
    symbols: list[tuple[Fraction, Chord | None]]
    parted: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """What stands between bars: a repeat's start or end, a double bar line, an ending, a part.

    Attributes:
        kind: Which of them it is.
        place: Where it stands.
        times: How often the repeat that ends here is played.
        numbers: The times that an ending is for.
        label: The label of a part.
    """

    kind: Literal["open", "close", "double", "ending", "part"]
    place: Place
    times: int = 2
    numbers: tuple[int, ...] = ()
    label: str | None = None


class Sounding:
    """The chord that sounds, as it goes on through the bars when they are played.

    Attributes:
        chord: The chord, None for silence.
        elsewhere: Whether the bar before, as written, is not the one that was played before: at the head of an ending.
    """

    def __init__(self) -> None:
        self.chord: Chord | None = None
        self.elsewhere = False
        self._kept: Chord | None = None

    def keep(self) -> None:
        """The first ending of a repeat starts: the others start where it does."""
        self._kept = self.chord

    def go_back(self) -> None:
        """Another ending starts."""
        self.chord, self.elsewhere = self._kept, True


#: Makes a bar of the chart from what the music gives.
Maker = Callable[[TuneBar], DraftBar]


class Structure:
    """The sections of a tune while they are being put together."""

    def __init__(self, make: Maker, remarks: list[Fault], sounding: Sounding) -> None:
        self._make = make
        self._remarks = remarks
        self._sounding = sounding
        self._sections: list[DraftSection] = []
        self._label: str | None = None
        self._new_section()

    def _new_section(self) -> None:
        self._items: list[DraftBar | DraftRepeat] = []
        self._back = 0
        self._opened: Place | None = None
        self._common: list[DraftBar | DraftRepeat] | None = None
        self._times = 1
        self._ending: Mark | None = None
        self._ending_bars: list[DraftBar] = []
        self._endings: list[tuple[tuple[int, ...], tuple[DraftBar, ...]]] = []

    def sections(self, events: Sequence[TuneBar | Mark]) -> list[DraftSection]:
        """The sections that these bars and marks make."""
        for index, event in enumerate(events):
            if isinstance(event, TuneBar):
                self._bar(event)
            elif event.kind == "open":
                self._open(event)
            elif event.kind == "close":
                self._close(event, events[index + 1 : index + 2])
            elif event.kind == "double":
                self._double()
            elif event.kind == "ending":
                self._start_ending(event)
            else:
                self._part(event, islice(events, index + 1, None))
        self._end_section()
        return self._sections

    def _bar(self, bar: TuneBar) -> None:
        if self._ending is not None:
            self._ending_bars.append(self._make(bar))
        else:
            self._finish()
            self._items.append(self._make(bar))

    def _open(self, mark: Mark) -> None:
        self._end_ending()
        self._finish()
        if self._opened and len(self._items) > self._back:
            self._remarks.append(self._opened.fault("“|:” opens a repeat that is never closed", "“:|” before the next"))
        self._opened = mark.place
        self._back = len(self._items)

    def _close(self, mark: Mark, following: Sequence[TuneBar | Mark]) -> None:
        goes_on = any(isinstance(event, Mark) and event.kind == "ending" for event in following)
        if self._ending is not None and (goes_on or not self._new_strain()):
            self._times = max(self._times, mark.times)
            self._end_ending()
            return
        self._finish()
        if self._back == len(self._items):
            self._remarks.append(mark.place.fault("“:|” has nothing to repeat", "bars before it"))
        else:
            self._items[self._back :] = [DraftRepeat(tuple(self._items[self._back :]), mark.times)]
        self._opened = None
        self._back = len(self._items)

    def _double(self) -> None:
        if self._ending is not None:
            self._end_ending()
        elif self._common is None and not self._opened:
            self._back = len(self._items)

    def _start_ending(self, mark: Mark) -> None:
        if self._ending is not None:
            taken = {n for numbers, _ in self._endings for n in numbers} | set(self._ending.numbers)
            if not taken.isdisjoint(mark.numbers) and self._new_strain():
                self._start_ending(mark)
                return
            self._end_ending()
        if self._common is None:
            if self._back == len(self._items):
                message = f"“{mark.place.text_at}” has no bars before it that are repeated, and is passed over"
                self._remarks.append(mark.place.fault(message, "“|:” and bars before the first ending"))
                return
            self._common = self._items[self._back :]
            del self._items[self._back :]
            self._endings, self._times = [], 1
            self._sounding.keep()
        else:
            self._sounding.go_back()
        self._ending, self._ending_bars = mark, []

    def _new_strain(self) -> bool:
        """Ends the last ending where it must have ended: it runs on into music that is itself repeated.

        Returns:
            Whether it did: the ending is for the last time alone and longer than the first, and all times have theirs.
        """
        assert self._ending is not None
        if not self._endings:
            return False
        first = len(self._endings[0][1])
        said = [n for numbers, _ in self._endings for n in numbers] + list(self._ending.numbers)
        if (
            self._ending.numbers != (len(said),)
            or len(self._ending_bars) <= first
            or sorted(said) != list(range(1, len(said) + 1))
        ):
            return False
        following = self._ending_bars[first:]
        del self._ending_bars[first:]
        message = (
            f"no bar line says where ending “{self._ending.place.text_at}” ends; it gets as many bars as the first"
        )
        self._remarks.append(self._ending.place.fault(message, "“||” behind its last bar"))
        self._end_ending()
        self._finish()
        self._items += following
        return True

    def _end_ending(self) -> None:
        if self._ending is not None and self._ending_bars:
            self._endings.append((self._ending.numbers, tuple(self._ending_bars)))
        self._ending, self._ending_bars = None, []

    def _finish(self) -> None:
        """A repeat with endings is complete."""
        if self._common is None:
            return
        common, self._common = tuple(self._common), None
        said = [n for numbers, _ in self._endings for n in numbers]
        times = max([self._times, *said])
        if times > 1 and sorted(said) == list(range(1, times + 1)):
            self._items.append(DraftRepeat(common, times, tuple(self._endings)))
        else:
            for time in range(1, times + 1):
                self._items += common
                self._items += next((bars for numbers, bars in self._endings if time in numbers), ())
        self._opened = None
        self._back = len(self._items)

    def _part(self, mark: Mark, following: Iterable[TuneBar | Mark]) -> None:
        self._end_ending()
        waiting = self._opened if self._common is None and len(self._items) == self._back else None
        if self._opened and not waiting and self._common is None:
            kinds = (event.kind for event in following if isinstance(event, Mark))
            if next((kind for kind in kinds if kind in ("open", "close")), "") == "close":
                message = f"the part “{mark.label}” starts inside a repeat and is no section of its own"
                self._remarks.append(mark.place.fault(message, "“:|” before it"))
                return
            self._remarks.append(
                self._opened.fault("“|:” opens a repeat that is never closed", "“:|” in the same part")
            )
        self._end_section()
        self._label = mark.label
        self._opened = waiting

    def _end_section(self) -> None:
        self._end_ending()
        self._finish()
        if self._items:
            self._sections.append(DraftSection(self._label, tuple(self._items)))
        self._new_section()
