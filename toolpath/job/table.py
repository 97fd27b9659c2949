"""A typed view on one table of a job file, which collects faults instead of stopping.

A value that is missing or wrong leaves one fault and a stand-in: NaN for numbers, None for
choices, nothing for texts. No comparison with NaN is true, so checks between values need not
ask which of them were good; a job with a fault is never handed on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Any, TypeVar

from toolpath.errors import Fault, FaultsError
from toolpath.job.keys import Keys
from toolpath.job.limits import MAX_ENTRIES, MAX_FAULTS, MAX_KEYS, MAX_TEXT, Limits
from toolpath.job.model import Warned
from toolpath.job.words import escaped, number_text, quoted, suggestion, value_text
from toolpath.units import UNIT_NAMES, Unit, parse_length

E = TypeVar("E", bound=Enum)

_LONGEST_LENGTH = 40
_LENGTH_FORM = 'a length such as 6, "6 mm" or "1/4 in"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What one reading of a job gathers; `unit` is that of bare lengths and of messages."""

    file: Path
    unit: Unit = Unit.MM
    faults: list[Fault] = field(default_factory=list)
    warnings: list[Warned] = field(default_factory=list)
    sources: dict[Path, str] = field(default_factory=dict)

    def fault(self, where: str, message: str) -> None:
        """Note a fault; past `MAX_FAULTS` of them FaultsError ends the reading."""
        self.faults.append(Fault(file=str(self.file), where=where, message=message))
        if len(self.faults) >= MAX_FAULTS:
            stop = f"reading stopped after {MAX_FAULTS} faults: mend these first"
            raise FaultsError([*self.faults, Fault(file=str(self.file), where="", message=stop)])

    def show(self, mm: float) -> str:
        """A length as the maker writes it: in mm, or in inches with the mm beside."""
        if self.unit is Unit.MM:
            return f"{number_text(mm)} mm"
        return f"{number_text(mm / Unit.INCH.mm, 4)} in = {number_text(mm)} mm"

    def show_feed(self, mm_per_min: float) -> str:
        """A feed as the maker writes it."""
        if self.unit is Unit.MM:
            return f"{number_text(mm_per_min)} mm/min"
        inches = number_text(mm_per_min / Unit.INCH.mm, 4)
        return f"{inches} in/min = {number_text(mm_per_min)} mm/min"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table; `where` is its key path, empty at the top. A `void` table stands for one that
    is absent or no table at all: every key gives its default or stand-in, without a fault."""

    reading: Reading
    where: str
    values: Mapping[str, Any]
    void: bool = False

    # -- where things stand ---------------------------------------------------------------

    def path(self, key: str) -> str:
        """The key path of a key of this table."""
        return f"{self.where}: {escaped(key)}" if self.where else escaped(key)

    def fault(self, key: str, message: str) -> None:
        """Note a fault of a key; of the table itself where the key is empty."""
        self.reading.fault(self.path(key) if key else self.where, message)

    def warn(self, key: str, message: str, *, note: bool = False) -> None:
        """Note what the maker should know of a key, which stops nothing."""
        where = self.path(key) if key else self.where
        self.reading.warnings.append(Warned(where=where, message=message, note=note))

    def has(self, key: str) -> bool:
        """Whether the key stands in the file."""
        return key in self.values

    def allow(self, keys: Keys) -> None:
        """Fault every key that does not belong here, and answer those for later."""
        if len(self.values) > MAX_KEYS:
            self.fault("", f"has {len(self.values)} keys; at most {MAX_KEYS} are read")
            return
        for key, value in self.values.items():
            if key in keys.later:
                self._later(key, value, keys.later[key])
            elif key in keys.elsewhere:
                self.fault(key, f"belongs to {keys.elsewhere[key]}: leave it out here")
            elif key not in keys.now:
                self.fault(key, f"unknown key: {suggestion(key, keys.now)}")

    def _later(self, key: str, value: object, neutral: object) -> None:
        if neutral is None:
            self.fault(key, "not yet: this key comes with a later version; leave it out")
        elif not _same(value, neutral):
            taken = value_text(neutral)
            self.fault(key, f"not yet: {value_text(value)} comes with a later version; use {taken}")

    def _take(self, key: str, form: str, optional: bool) -> Any:
        """The raw value, or None with a fault where it must be there."""
        if key in self.values:
            return self.values[key]
        if not optional and not self.void:
            self.fault(key, f"missing: give {form}")
        return None

    # -- tables in it ---------------------------------------------------------------------

    def table(self, key: str, *, optional: bool = False) -> Table:
        """The table under a key; void where it is absent (a fault unless optional)."""
        raw = self._take(key, "this table", optional)
        return self.view(self.path(key), raw, self._form(key))

    def _form(self, key: str) -> str:
        return f"{key} = {{ … }}" if self.where else f"[{key}]"

    def view(self, where: str, raw: object, form: str) -> Table:
        """A raw value as a table written as `form`; void, with a fault, where it is none."""
        if raw is not None and not isinstance(raw, dict):
            self.reading.fault(where, f"{value_text(raw)} is not a table: write {form}")
        values = raw if isinstance(raw, dict) else {}
        return Table(
            reading=self.reading, where=where, values=values, void=not isinstance(raw, dict)
        )

    def tables(self, key: str) -> list[Table]:
        """The entries of ``[[key]]``, which may be absent, each named by place and name."""
        raw = self.values.get(key, [])
        if not isinstance(raw, list):
            self.fault(key, f"{value_text(raw)} where a list should stand: write [[{key}]]")
            return []
        return [
            self.view(f"{key}[{place}]{_named(entry)}", entry, f"[[{key}]]")
            for place, entry in enumerate(self._few(key, raw), start=1)
        ]

    def array(self, key: str, form: str, *, optional: bool = False) -> list[Any]:
        """A raw array; empty, with a fault, where there is none."""
        raw = self._take(key, form, optional)
        if raw is None:
            return []
        if not isinstance(raw, list):
            self.fault(key, f"{value_text(raw)} is not an array: give {form}")
            return []
        return self._few(key, raw)

    def _few(self, key: str, raw: list[Any]) -> list[Any]:
        if len(raw) <= MAX_ENTRIES:
            return raw
        self.fault(key, f"has {len(raw)} entries; at most {MAX_ENTRIES} are read")
        return []

    # -- plain values ---------------------------------------------------------------------

    def flag(self, key: str, default: bool) -> bool | None:
        """true or false; None after a fault."""
        raw = self.values.get(key, default)
        if isinstance(raw, bool):
            return raw
        self.fault(key, f"{value_text(raw)} is not true or false: write {key} = true or false")
        return None

    def text(self, key: str, form: str, default: str | None = None) -> str:
        """A line of text; empty after a fault."""
        raw = self._take(key, form, default is not None)
        if raw is None:
            return default or ""
        if not isinstance(raw, str):
            self.fault(key, f"{value_text(raw)} is not a text: give {form} in quotes")
            return ""
        return raw if self._printable(key, raw) else ""

    def _printable(self, key: str, text: str) -> bool:
        trouble = None
        if not text.strip():
            trouble = "is empty: write something between the quotes"
        elif len(text) > MAX_TEXT:
            trouble = f"has {len(text)} characters; at most {MAX_TEXT} are read"
        elif any(_is_control(ch) for ch in text):
            trouble = f"{quoted(text)} holds a control character: take it out"
        if trouble:
            self.fault(key, trouble)
        return trouble is None

    def choice(
        self, key: str, kind: type[E], default: E | None = None, later: Sequence[str] = ()
    ) -> E | None:
        """A word of an enum; None after a fault. Words in `later` are answered "not yet"."""
        words = [member.value for member in kind]
        word = self.word(key, words, None if default is None else default.value, later)
        return kind(word) if word else None

    def word(
        self, key: str, words: Sequence[str], default: str | None, later: Sequence[str] = ()
    ) -> str:
        """One of the words; empty after a fault."""
        raw = self._take(key, f"one of {', '.join(words)}", default is not None)
        if raw is None:
            return default or ""
        if isinstance(raw, str) and raw in words:
            return raw
        if isinstance(raw, str) and raw in later:
            use = ", ".join(quoted(word) for word in words)
            self.fault(key, f"not yet: {quoted(raw)} comes with a later version; use {use}")
            return ""
        hint = suggestion(raw if isinstance(raw, str) else "", words)
        self.fault(key, f"{value_text(raw)} is not understood: {hint}")
        return ""

    # -- numbers --------------------------------------------------------------------------

    def number(self, key: str, limits: Limits, unit: str, default: float | None = None) -> float:
        """A plain number in its own unit (``"deg"``, ``"rev/min"``, or empty)."""
        raw = self._take(key, "a number" + (f" in {unit}" if unit else ""), default is not None)
        if raw is None:
            return math.nan if default is None else default
        value = self._finite(key, raw, "write a plain number, without quotes")
        return self._within(key, value, limits, _Show(unit=unit))

    def degrees(self, key: str, limits: Limits, default: float | None = None) -> float:
        """An angle in degrees, as radians."""
        return math.radians(self.number(key, limits, "degrees", default))

    def whole(self, key: str, limits: tuple[int, int], default: int | None = None) -> int:
        """A whole number; the lower limit after a fault."""
        low, high = limits
        raw = self._take(key, f"a whole number from {low} to {high}", default is not None)
        if raw is None:
            return low if default is None else default
        value = self._finite(key, raw, "write a whole number, without quotes")
        if math.isnan(value):
            return low
        if value != math.floor(value) or not low <= value <= high:
            text = number_text(value, 6)
            self.fault(key, f"{text} must be a whole number from {low} to {high}")
            return low
        return int(value)

    def length(self, key: str, limits: Limits, default: float | None = None) -> float:
        """A length in mm; `default` is in mm already."""
        raw = self._take(key, _LENGTH_FORM, default is not None)
        if raw is None:
            return math.nan if default is None else default
        return self.as_length(key, raw, limits)

    def feed(self, key: str, limits: Limits, default: float | None = None) -> float:
        """A feed in mm/min; bare numbers are in the job's unit per minute."""
        raw = self._take(key, "a feed, a length per minute", default is not None)
        if raw is None:
            return math.nan if default is None else default
        value = self._measure(key, raw, self.reading.unit.mm, ("/min",))
        return self._within(key, value, limits, _Show(feed=True))

    def acceleration(self, key: str, limits: Limits, default: float) -> float:
        """An acceleration in mm/s², bare numbers too, whatever the job's unit."""
        if not self.has(key):
            return default
        value = self._measure(key, self.values[key], 1.0, ("/s²", "/s^2", "/s2"))
        return self._within(key, value, limits, _Show(unit="mm/s²"))

    def as_length(self, key: str, raw: object, limits: Limits) -> float:
        """A raw value as a length in mm."""
        value = self._measure(key, raw, self.reading.unit.mm, ())
        return self._within(key, value, limits, _Show(length=True))

    def lengths(self, key: str, form: str, limits: Limits) -> tuple[float, ...]:
        """The lengths of an array as long as the names in `form`, ``[x, y, z]``."""
        raw = self._take(key, form, False)
        if raw is None:
            return (math.nan,) * (form.count(",") + 1)
        return self.as_lengths(key, raw, form, limits)

    def as_lengths(self, key: str, raw: object, form: str, limits: Limits) -> tuple[float, ...]:
        """A raw value as an array of lengths."""
        entries = self._count(key, raw, form, "lengths")
        if entries is None:
            return (math.nan,) * (form.count(",") + 1)
        return tuple(
            self.as_length(f"{key}[{place}]", entry, limits)
            for place, entry in enumerate(entries, start=1)
        )

    def numbers(self, key: str, form: str, limits: Limits, unit: str) -> tuple[float, ...]:
        """The plain numbers of an array as long as the names in `form`."""
        raw = self._take(key, f"{form} in {unit}", False)
        entries = None if raw is None else self._count(key, raw, form, f"numbers in {unit}")
        if entries is None:
            return (math.nan,) * (form.count(",") + 1)
        values = []
        for place, entry in enumerate(entries, start=1):
            value = self._finite(f"{key}[{place}]", entry, "write plain numbers")
            values.append(self._within(f"{key}[{place}]", value, limits, _Show(unit=unit)))
        return tuple(values)

    def _measure(self, key: str, raw: object, mm: float, suffixes: tuple[str, ...]) -> float:
        """mm of a bare number (in units of `mm`) or of a text with its own unit."""
        if not isinstance(raw, str):
            return self._finite(key, raw, f"give {_LENGTH_FORM}") * mm
        text = raw
        for suffix in suffixes:
            text = text.strip().removesuffix(suffix)
        try:
            if len(text) > _LONGEST_LENGTH:
                raise ValueError("too long for a length")
            return parse_length(text)
        except ValueError:
            units = ", ".join(UNIT_NAMES)
            self.fault(key, f"{quoted(raw)} is not {_LENGTH_FORM} (units: {units})")
            return math.nan

    def _count(self, key: str, raw: object, form: str, what: str) -> list[Any] | None:
        """An array as long as the names in `form`; None after a fault."""
        count = form.count(",") + 1
        if isinstance(raw, list) and len(raw) == count:
            return raw
        if isinstance(raw, list):
            found = f"{len(raw)} value{'' if len(raw) == 1 else 's'}"
        else:
            found = value_text(raw)
        self.fault(key, f"{found} where {form} should stand: {count} {what}")
        return None

    def _finite(self, key: str, raw: object, mend: str) -> float:
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            self.fault(key, f"{value_text(raw)} is not a number: {mend}")
            return math.nan
        try:
            value = float(raw)
        except OverflowError:
            value = math.inf
        if math.isfinite(value):
            return value
        self.fault(
            key,
            f"{number_text(raw)} is not a finite number: {mend.removesuffix(', without quotes')}",
        )
        return math.nan

    def _within(self, key: str, value: float, limits: Limits, show: _Show) -> float:
        breach = limits.breach(value)
        if breach is None:
            return limits.settle(value)
        words, limit = breach
        self.fault(
            key, f"{show.text(self.reading, value)} {words} {show.text(self.reading, limit)}"
        )
        return math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class _Show:
    """How a number is shown: as a length, a feed, or with its own unit."""

    length: bool = False
    feed: bool = False
    unit: str = ""

    def text(self, reading: Reading, value: float) -> str:
        if self.length:
            return reading.show(value)
        if self.feed:
            return reading.show_feed(value)
        return f"{number_text(value, 6)} {self.unit}".rstrip()


def _same(value: object, neutral: object) -> bool:
    """Whether a value is the one that changes nothing: 0 may be written 0.0 or "0 mm"."""
    if isinstance(neutral, bool) or isinstance(value, bool):
        return value is neutral
    if isinstance(value, str) and len(value) <= _LONGEST_LENGTH:
        try:
            return parse_length(value) == neutral
        except ValueError:
            return False
    return value == neutral


def _named(entry: object) -> str:
    name = entry.get("name") if isinstance(entry, dict) else None
    return f" {quoted(name)}" if isinstance(name, str) and name else ""


def _is_control(ch: str) -> bool:
    """Control characters, line breaks of any script, and marks that turn the reading order."""
    code = ord(ch)
    controls = code < 32 or 127 <= code < 160 or code in (0x2028, 0x2029)
    return controls or 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069
