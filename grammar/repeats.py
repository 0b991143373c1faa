"""Puts the bars of one section together: repeats, endings and lines that are played several times.

Conventions:
    * ``:|`` without an open ``|:`` goes back to the end of the last repeat in the section, or to its start.
    * Endings cover every time of their repeat exactly once. The last one runs to the end of its line, or to its ``:|``.
    * ``x3`` at the end of a line of plain bars plays that line three times in all; behind ``:|`` it is the repeat's.
    * Nothing raises: what is wrong is collected, and reading goes on as well as it can.
"""

from __future__ import annotations

from collections.abc import Sequence

from grammar.places import Place
from shared.chart import Bar, Ending, Repeat
from shared.errors import Fault


def _spoken(numbers: tuple[int, ...]) -> str:
    return ",".join(map(str, numbers))


class Body:
    """The body of a section while it is being read."""

    def __init__(self, faults: list[Fault]) -> None:
        self.items: list[Bar | Repeat] = []
        self._faults = faults
        self._back = 0
        self._start = 0
        self._opened: Place | None = None
        self._line_start = 0
        self._line_plain = True
        self._common: tuple[Bar | Repeat, ...] | None = None
        self._endings: list[Ending] = []
        self._ending: tuple[int, ...] = ()
        self._ending_bars: list[Bar] = []
        self._ending_at: Place | None = None
        self._counted: tuple[int, Place] | None = None

    def _fault(self, place: Place, message: str, expected: str = "", nearest: str = "") -> None:
        self._faults.append(place.fault(message, expected, nearest))

    @property
    def at_head(self) -> bool:
        """Whether the next bar is the first of the section or of an ending."""
        if self._ending:
            return not self._ending_bars
        return not self.items and self._common is None

    def start_line(self) -> None:
        """A new line of music starts."""
        self._line_start = len(self.items)
        self._line_plain = not self._ending

    def add(self, bar: Bar) -> None:
        """One more bar."""
        if self._ending:
            self._ending_bars.append(bar)
            return
        if self._common is not None:
            self._finish()
        self.items.append(bar)

    def add_line(self, bars: Sequence[Bar]) -> None:
        """A line of plain bars, at least one."""
        self.start_line()
        self.add(bars[0])
        (self._ending_bars if self._ending else self.items).extend(bars[1:])
        self.end_line()

    def open(self, place: Place) -> None:
        """``|:``."""
        self._line_plain = False
        if self._ending and self._endings and self._ending_bars:
            self._end_ending()
        elif self._ending and self._ending_at:
            self._unclosed_ending(self._ending_at)
            self._common = None
            self._ending = ()
        self._finish()
        if self._opened:
            expected = "“:|” before it: repeats do not stand inside repeats"
            self._fault(place, "“|:” stands inside a repeat that is still open", expected, ":| |:")
        self._opened = place
        self._start = len(self.items)

    def close(self, place: Place) -> None:
        """``:|``."""
        self._line_plain = False
        if self._ending:
            if not self._ending_bars:
                self._fault(place, f"ending {_spoken(self._ending)} holds no bar", "its bars before “:|”")
            self._end_ending()
            return
        self._finish()
        start = self._start if self._opened else self._back
        if start == len(self.items):
            self._fault(place, "“:|” has nothing to repeat", "bars before it")
        else:
            self.items[start:] = [Repeat(tuple(self.items[start:]))]
        self._opened = None
        self._back = len(self.items)

    def start_ending(self, numbers: tuple[int, ...], place: Place) -> None:
        """``|1.`` and its like."""
        self._line_plain = False
        if self._ending:
            message = f"ending {_spoken(numbers)} starts before ending {_spoken(self._ending)} is closed"
            self._fault(place, message, "“:|” at the end of every ending but the last", f":|{place.text_at[1:]}")
            self._end_ending()
        if self._common is None and not self._start_endings(numbers, place):
            return
        taken = {n for ending in self._endings for n in ending.numbers}
        if again := taken.intersection(numbers):
            message = f"ending {min(again)} stands twice in one repeat"
            self._fault(place, message, "every time in one ending only", f"|{max(taken) + 1}.")
        self._ending, self._ending_bars, self._ending_at = numbers, [], place

    def _start_endings(self, numbers: tuple[int, ...], place: Place) -> bool:
        """The first ending of a repeat; False where there is no repeat that it could belong to."""
        start = self._start if self._opened else self._back
        if start == len(self.items) or (1 not in numbers and not self._opened):
            message = f"an ending without a repeat: no bars stand before “{place.text_at}” to be repeated"
            near = ""
            if 1 not in numbers:
                message = f"an ending without a repeat: “{place.text_at}” has no first ending before it"
                near = "|1."
            self._fault(place, message, "“|:”, the bars played each time, then “|1.”", near)
            return False
        self._common = tuple(self.items[start:])
        del self.items[start:]
        self._endings = []
        return True

    def repeat_line(self, times: int, place: Place, closed: bool) -> None:
        """``x3``: directly behind ``:|`` (``closed``), or at the end of a line."""
        if closed and self._common is not None:
            self._counted = times, place
        elif closed:
            last = self.items[-1] if self.items else None
            if isinstance(last, Repeat):
                self.items[-1] = Repeat(last.body, times)
        elif not self._line_plain:
            message = f"“{place.text_at}” ends a line that holds repeat marks"
            self._fault(place, message, "it behind a line of plain bars, or directly behind “:|”")
        elif self._line_start == len(self.items):
            self._fault(place, f"“{place.text_at}” has nothing to repeat", "a line of bars before it")
        else:
            body = tuple(self.items[self._line_start :])
            self.items[self._line_start :] = [Repeat(body, times)]
            self._back = len(self.items)

    def end_line(self) -> None:
        """The line of music ends, and with it a last ending."""
        if self._ending and self._endings and self._ending_bars:
            self._end_ending()
            self._finish()

    def end(self) -> tuple[Bar | Repeat, ...]:
        """The section ends.

        Returns:
            Its body.
        """
        if self._ending and self._ending_at:
            if self._ending_bars and self._endings:
                self._end_ending()
            elif self._ending_bars:
                self._unclosed_ending(self._ending_at)
                self._common, self._ending, self._opened = None, (), None
            else:
                message = f"ending {_spoken(self._ending)} holds no bar"
                self._fault(self._ending_at, message, "its bars behind the mark")
                self._ending = ()
        self._finish()
        if self._opened:
            self._fault(self._opened, "“|:” opens a repeat that is never closed", "“:|” in the same section")
        return tuple(self.items)

    def _unclosed_ending(self, place: Place) -> None:
        self.items += [*(self._common or ()), *self._ending_bars]
        if self._opened:
            message = f"the repeat is not closed behind ending {_spoken(self._ending)}"
            self._fault(place, message, "“:|” and the next ending", f":|{max(self._ending) + 1}.")
        else:
            message = f"an ending without a repeat: “{place.text_at}” is never closed"
            self._fault(place, message, "“:|” and the next ending", f":|{max(self._ending) + 1}.")
        self._opened = None

    def _end_ending(self) -> None:
        self._endings.append(Ending(self._ending, tuple(self._ending_bars)))
        self._ending = ()

    def _finish(self) -> None:
        """A repeat with endings is complete."""
        if self._common is None:
            return
        place = self._ending_at
        assert place is not None
        played = {n for ending in self._endings for n in ending.numbers}
        times = max(played | {2})
        said = sum(len(ending.numbers) for ending in self._endings)
        missing = [n for n in range(1, times + 1) if n not in played]
        if missing and said == len(played):
            message = f"the repeat has no ending {_spoken(tuple(missing))}"
            self._fault(place, message, f"an ending for each time from 1 to {times}", f"|{missing[0]}.")
        if self._counted and self._counted[0] != times:
            at = self._counted[1]
            self._fault(at, f"“{at.text_at}” stands behind endings for {times} times", "endings alone", f"x{times}")
        self.items.append(Repeat(self._common, times, tuple(self._endings)))
        self._common, self._endings, self._opened, self._counted = None, [], None, None
        self._back = len(self.items)
