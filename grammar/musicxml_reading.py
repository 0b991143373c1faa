"""Reads a MusicXML score, plain or compressed, as a chart.

Conventions:
    * The chords are those of the part that has most; repeats, jumps, rehearsal marks and the tempo are that part's too,
      or, where it has none, those of the first part that has some. A measure is as long as its longest part.
    * One measure is one bar. A measure shorter or longer than its metre (a pickup) has a metre of its own; so has one
      between measures that share another metre. A chord holds until the next one, through rests.
    * A signature without a mode is major or its relative minor: the one on whose triad the tune ends, else the one
      whose tonic and dominant sound longer (common practice). A remark says which was taken.
    * Sections are those of the rehearsal marks (see ``grammar.musicxml_order``). Sections that come back unchanged are
      written once, and ``form:`` says when they are played.

Source: W3C, MusicXML 4.0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from grammar.bar_content import INEXACT, MOST_CELLS, Content, Run, content_of, partial_metre
from grammar.building import DraftBar, DraftRepeat, DraftSection, build_chart, header_value
from grammar.musicxml_files import line_of, score_of, text_at
from grammar.musicxml_harmony import key_of
from grammar.musicxml_measures import Measure, Part, Signature, read_part
from grammar.musicxml_order import MOST_MEASURES, Played, TooLongError, sections_of
from shared.chart import Metre
from shared.chord import Chord
from shared.errors import Fault, ReadingError
from shared.foreign import ForeignTune
from shared.key import Key
from shared.pitch import Degree, Pitch
from shared.quality import Third

#: Headers of ours that a score may carry as miscellaneous fields.
KEPT_FIELDS = ("style", "level", "year", "tags")
_BY = ("composer", "lyricist", "poet", "")


def read_musicxml(content: bytes) -> tuple[ForeignTune, ...]:
    """The tune that a MusicXML file holds.

    Args:
        content: The bytes of a ``.musicxml``, ``.xml`` or ``.mxl`` file.

    Returns:
        One tune, with a chart wherever there is a chord.
    """
    try:
        score = score_of(content)
        parts = [read_part(measures) for measures in _parts(score)]
    except ReadingError as error:
        return (ForeignTune("1", None, None, error.faults),)
    title = _title(score)
    if not any(part.count[0] for part in parts):
        fault = Fault("no chords", line_of(score), expected="harmony elements, which hold the chord symbols")
        remarks = max(parts, key=lambda part: part.count).remarks if parts else ()
        return (ForeignTune("1", title, None, (fault,), remarks),)
    return (_Reader(score, title, parts).tune(),)


def _parts(score: Element) -> list[list[Element]]:
    """The measures of every part, in a score written part by part or measure by measure."""
    if score.tag == "score-partwise":
        return [part.findall("measure") for part in score.iterfind("part")]
    if score.tag != "score-timewise":
        message = f"“{score.tag[:40]}” is no MusicXML score"
        raise ReadingError([Fault(message, line_of(score), expected="score-partwise or score-timewise")])
    parts: dict[str, list[Element]] = {}
    for measure in score.iterfind("measure"):
        for part in measure.iterfind("part"):
            part.set("number", measure.get("number", ""))
            parts.setdefault(part.get("id", ""), []).append(part)
    return list(parts.values())


def _title(score: Element) -> str | None:
    credited = (text_at(c, "credit-words") for c in score.iterfind("credit") if text_at(c, "credit-type") == "title")
    found = (text_at(score, "work/work-title"), text_at(score, "movement-title"), *credited)
    return header_value(next(filter(None, found), "")) or None


class _Reader:
    """Makes the chart of a score."""

    def __init__(self, score: Element, title: str | None, parts: Sequence[Part]) -> None:
        self._score, self._title, self._parts = score, title, parts
        self._part = max(parts, key=lambda part: part.count)
        self._measures = self._part.measures
        self._remarks = list(self._part.remarks)
        self._drafts: dict[int, DraftBar] = {}

    def tune(self) -> ForeignTune:
        """The tune."""
        self._lengthen()
        self._take_signs()
        try:
            sections, said = sections_of([measure.signs for measure in self._measures])
        except TooLongError:
            message = f"the repeats written out hold more than {MOST_MEASURES:,} measures"
            return ForeignTune("1", self._title, None, (Fault(message, line_of(self._score)),))
        self._remarks += [self._at(self._measures[index], message) for index, message in said]
        keys = self._keys([index for section in sections for index in _played(section)])
        self._bars(keys)
        drafts = [DraftSection(section.label, tuple(self._items(section))) for section in sections]
        drafts, form = _formed(drafts)
        chart = build_chart(self._headers(), drafts, form)
        remarks = tuple(sorted(self._remarks, key=lambda remark: remark.line))
        return ForeignTune("1", self._title, chart, (), remarks)

    def _at(self, measure: Measure, message: str) -> Fault:
        return Fault(f"measure {measure.number}: {message}", measure.line)

    def _headers(self) -> list[tuple[str, str]]:
        creators = [(c.get("type", ""), header_value("".join(c.itertext()))) for c in self._score.iter("creator")]
        by = dict.fromkeys(name for kind in _BY for each, name in creators if each == kind and name)
        fields = {f.get("name", ""): header_value(f.text or "") for f in self._score.iter("miscellaneous-field")}
        tempo = next((part.tempo for part in (self._part, *self._parts) if part.tempo), "")
        kept = [(name, fields.get(name, "")) for name in KEPT_FIELDS]
        return [("title", self._title or ""), ("by", ", ".join(by)), ("tempo", tempo), *kept]

    def _lengthen(self) -> None:
        """Gives every measure the length of its longest part."""
        for index, measure in enumerate(self._measures):
            found = [part.measures[index].content for part in self._parts if index < len(part.measures)]
            measure.content = max((length for length in found if length is not None), default=None)

    def _take_signs(self) -> None:
        """Takes signs of order from the first part that has them, where the part of the chords has none."""
        for names in (("forward", "times", "after_jump", "ending", "ending_stops"), ("label",), _JUMPS):
            holder = next((p for p in (self._part, *self._parts) if any(_said(m, names) for m in p.measures)), None)
            if holder is not None and holder is not self._part:
                for measure, other in zip(self._measures, holder.measures, strict=False):
                    for name in names:
                        setattr(measure.signs, name, getattr(other.signs, name))

    def _keys(self, played: Sequence[int]) -> dict[Signature, Key | None]:
        """The key of every signature; that of one without a mode from the chords that are played in it."""
        keys: dict[Signature, Key | None] = {}
        for index in played:
            signature = self._measures[index].signature
            if signature is None or signature in keys:
                continue
            keys[signature] = signature.key
            if signature.key is None:
                within = [i for i in played if self._measures[i].signature == signature]
                minor = _is_minor(signature.fifths, [chord for i in within for chord in self._sounding(i)])
                key = keys[signature] = key_of(signature.fifths, "minor" if minor else "major")
                message = f"the key signature names no mode; by its chords it is taken for {key}"
                self._remarks.append(self._at(self._measures[index], message))
        self._fill_signatures(played)
        return keys

    def _fill_signatures(self, played: Sequence[int]) -> None:
        """Puts measures before the first signature under it where they are played again behind it."""
        signatures = [self._measures[index].signature for index in played]
        first = next((signature for signature in signatures if signature), None)
        if first and None in signatures[signatures.index(first) :]:
            for measure in self._measures:
                measure.signature = measure.signature or first

    def _sounding(self, index: int) -> Iterator[tuple[Chord, Fraction]]:
        """The chords that begin in a measure and how long they last in it, in quarter notes."""
        measure = self._measures[index]
        end = measure.content or (measure.metre or Metre()).length
        for placed in reversed(measure.chords):
            if placed.read.chord is not None:
                yield placed.read.chord, end - placed.position
            end = placed.position

    def _bars(self, keys: dict[Signature, Key | None]) -> None:
        """The bars of all measures, as written."""
        metres = [self._metre(measure) for measure in self._measures]
        _own_single_metres(metres)
        sounding: Chord | None = None
        begun = False
        before_endings: tuple[Chord | None, bool] = (None, False)
        open_endings = False
        for index, measure in enumerate(self._measures):
            signs = measure.signs
            if signs.ending and not open_endings:
                before_endings, open_endings = (sounding, begun), True
            elif signs.ending:
                sounding, begun = before_endings
            chords = [(placed.position, placed.read.chord) for placed in measure.chords]
            if not chords and measure.again and index >= measure.again:
                before = self._drafts[index - measure.again].content
                content = self._again(before, metres[index][0], metres[index - measure.again][0], sounding, begun)
            else:
                content = self._content(measure, chords, metres[index][0], sounding, begun)
            key = keys.get(measure.signature) if measure.signature else None
            self._drafts[index] = DraftBar(content, *metres[index], key)
            for run in content.runs:
                if run.struck:
                    sounding, begun = run.chord, True
            if open_endings and (signs.times or signs.ending_stops):
                following = self._measures[index + 1].signs if index + 1 < len(self._measures) else None
                open_endings = following is not None and bool(following.ending)

    @staticmethod
    def _metre(measure: Measure) -> tuple[Metre, bool]:
        """The metre of a measure, and whether it is for that measure alone."""
        metre = measure.metre or Metre()
        if measure.content is None or measure.content == metre.length:
            return metre, measure.metre is None
        own = partial_metre(metre, measure.content * metre.unit / 4)
        return (own, True) if own else (metre, measure.metre is None)

    def _content(
        self,
        measure: Measure,
        chords: Sequence[tuple[Fraction, Chord | None]],
        metre: Metre,
        sounding: Chord | None,
        begun: bool,
    ) -> Content:
        """What a bar holds."""
        if len(chords) > MOST_CELLS:
            self._remarks.append(self._at(measure, f"{len(chords)} chords, more than {MOST_CELLS}, are silent"))
            chords = [(Fraction(0), None)]
        starts = [position * metre.unit / 4 for position, _ in chords if position < metre.length]
        chords = chords[: len(starts)]
        bounds = [*starts, Fraction(metre.beats)]
        runs = []
        if bounds[0] > 0:
            runs.append(Run(sounding, bounds[0], struck=not begun or sounding is None))
        runs += [Run(chord, bounds[i + 1] - bounds[i]) for i, (_, chord) in enumerate(chords)]
        content = content_of(runs, metre)
        if not content.exact:
            self._remarks.append(self._at(measure, INEXACT))
        return content

    @staticmethod
    def _again(before: Content, metre: Metre, old: Metre, sounding: Chord | None, begun: bool) -> Content:
        """What a bar that is played again holds."""
        runs = list(before.runs) if metre == old else [replace(before.runs[0], beats=Fraction(metre.beats))]
        if not runs[0].struck:
            runs[0] = replace(runs[0], chord=sounding, struck=not begun or sounding is None)
        return content_of(runs, metre)

    def _items(self, section: Played) -> Iterator[DraftBar | DraftRepeat]:
        """The bars and repeats of a section.

        Where the key or metre changes inside the last ending, what follows is put behind the repeat: it plays the same,
        and there our notation has room for the change.
        """
        for item in section.items:
            if isinstance(item, int):
                yield self._drafts[item]
                continue
            endings = [(numbers, [self._drafts[i] for i in measures]) for numbers, measures in item.endings]
            behind: list[DraftBar] = []
            if endings and endings[-1][0] == (item.times,):
                last = endings[-1][1]
                first = last[0]
                here = (first.key, None if first.own else first.metre)
                change = next((i for i, bar in enumerate(last) if i and _changes(bar, *here)), len(last))
                behind, endings[-1] = last[change:], (endings[-1][0], last[:change])
            body = tuple(self._drafts[i] for i in item.body)
            yield DraftRepeat(body, item.times, tuple((numbers, tuple(bars)) for numbers, bars in endings))
            yield from behind


def _changes(bar: DraftBar, key: Key | Pitch | None, metre: Metre | None) -> bool:
    """Whether a bar is in another key or metre; a metre of its own is no other metre."""
    return bar.key != key or (not bar.own and bar.metre != metre)


_JUMPS = ("segno", "coda", "tocoda", "fine", "jump")


def _said(measure: Measure, names: Sequence[str]) -> bool:
    return any(getattr(measure.signs, name) not in (None, False, 0, ()) for name in names)


def _played(section: Played) -> Iterator[int]:
    for item in section.items:
        if isinstance(item, int):
            yield item
        else:
            for time in range(1, item.times + 1):
                yield from item.pass_of(time)


def _is_minor(fifths: int, chords: Sequence[tuple[Chord, Fraction]]) -> bool:
    """Whether the chords under a signature are rather those of its minor key."""
    major, minor = Pitch.at(fifths), Pitch.at(fifths + 3)
    if chords:
        last = chords[-1][0]
        for tonic, third in ((major, Third.MAJOR), (minor, Third.MINOR)):
            if last.root.pitch_class == tonic.pitch_class and last.quality.third is third:
                return tonic is minor
    lengths = {major: Fraction(0), minor: Fraction(0)}
    for chord, length in chords:
        for tonic, third in ((major, Third.MAJOR), (minor, Third.MINOR)):
            dominant = tonic.up(Degree(5))
            on_tonic = chord.root.pitch_class == tonic.pitch_class and chord.quality.third is third
            on_dominant = chord.root.pitch_class == dominant.pitch_class and chord.quality.third is Third.MAJOR
            if on_tonic or on_dominant:
                lengths[tonic] += length
    return lengths[minor] > lengths[major]


def _own_single_metres(metres: list[tuple[Metre, bool]]) -> None:
    """Makes a metre that holds for one bar between bars of another one that bar's own."""
    for index in range(1, len(metres)):
        before, (here, own) = metres[index - 1], metres[index]
        behind = metres[index + 1] if index + 1 < len(metres) else before
        if not own and not before[1] and before == behind and here != before[0]:
            metres[index] = here, True


def _formed(drafts: Sequence[DraftSection]) -> tuple[list[DraftSection], tuple[str, ...]]:
    """The sections each written once, and the form; as they are where labels would not tell them apart."""
    labelled = [draft for index, draft in enumerate(drafts) if index or draft.label is not None]
    once: dict[str, DraftSection] = {}
    for draft in labelled:
        if draft.label is None:
            return list(drafts), ()
        first = once.setdefault(draft.label.casefold(), draft)
        if first is not draft and _held(first.body) != _held(draft.body):
            return list(drafts), ()
    if len(once) == len(labelled):
        return list(drafts), ()
    opening = [draft for draft in drafts[:1] if draft.label is None]
    form = tuple(once[draft.label.casefold()].label or "" for draft in labelled if draft.label is not None)
    return [*opening, *once.values()], form


def _held(body: Sequence[DraftBar | DraftRepeat]) -> list[object]:
    """What bars and repeats hold, for comparison."""
    held: list[object] = []
    for item in body:
        if isinstance(item, DraftBar):
            held.append((item.content.cells, item.metre, item.own, item.key))
        else:
            endings = [(numbers, _held(bars)) for numbers, bars in item.endings]
            held.append((_held(item.body), item.times, endings))
    return held
