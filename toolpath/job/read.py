"""A job file read into a `Job`, with every fault found in one go."""

from __future__ import annotations

import re
import stat
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from toolpath.drawing.outline import Region
from toolpath.errors import Fault, FaultsError
from toolpath.job.cross import Parts, check_grid, check_names, check_size, warn_dial
from toolpath.job.cuts import read_cut
from toolpath.job.cutters import read_cutter
from toolpath.job.figures import read_material, tell_uses, uses_of
from toolpath.job.files import digest_of
from toolpath.job.keys import TOP
from toolpath.job.limits import MAX_JOB_BYTES, MAX_KEY_PARTS
from toolpath.job.materials import Material
from toolpath.job.measured import read_measured
from toolpath.job.model import Clamp, Cut, Cutter, Job, Machine, Order, Piece
from toolpath.job.parts import read_blank, read_check, read_clamp, read_machine, read_zero
from toolpath.job.pins import Around, read_pins
from toolpath.job.plates import read_plates
from toolpath.job.skims import check_surfaces, read_surfaces, settled
from toolpath.job.solids import read_pieces
from toolpath.job.table import Reading, Table
from toolpath.job.words import escaped
from toolpath.units import Unit

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_LONG_KEY = re.compile(r"(?<![\w\"'-])(?:[\w\"'-]+\.){" + str(MAX_KEY_PARTS) + "}")


def read_job(path: Path) -> Job:
    """The job in a TOML file, in millimetres and radians, valid as far as its words go.

    What needs planning to know (travel, a way in, clearances) is not judged here, and a job
    without cuts is taken: see `require_cuts`.

    Raises
    ------
    FaultsError
        The file cannot be read, is no TOML, or holds faults: all of them, in the order blank,
        faces, machine, check, cutters, pieces, clamps, cuts, plates, pins, measured blank; the
        first `MAX_FAULTS` at most.
    """
    data = _load(path)
    values = _parse(path, _decoded(path, data))
    reading = Reading(file=path, sources={path: digest_of(data)})
    reading = replace(reading, unit=_unit(Table(reading=reading, where="", values=values)))
    job = _job(Table(reading=reading, where="", values=values))
    if reading.faults or job is None:
        raise FaultsError(reading.faults)
    return job


def require_cuts(job: Job) -> None:
    """Raises FaultsError for a job without cuts, which can be checked against, not planned."""
    if not job.cuts:
        message = "missing: a job to plan needs at least one [[cut]]"
        raise FaultsError([Fault(file=str(job.file), where="cut", message=message)])


def _wrong(path: Path, message: str, where: str = "") -> FaultsError:
    return FaultsError([Fault(file=str(path), where=where, message=message)])


def _load(path: Path) -> bytes:
    """The content of the file."""
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise _wrong(path, "is a folder: name the job file in it")
        if not stat.S_ISREG(found.st_mode):
            raise _wrong(path, "is not a plain file: save the job in one")
        if found.st_size > MAX_JOB_BYTES:
            size, most = found.st_size / 1e6, MAX_JOB_BYTES / 1e6
            raise _wrong(path, f"has {size:.1f} MB; a job of at most {most:.0f} MB is read")
        return path.read_bytes()
    except FileNotFoundError:
        raise _wrong(path, "there is no such file: check the name") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise _wrong(path, f"cannot be read: {reason}") from None


def _decoded(path: Path, data: bytes) -> str:
    """The text of the file, without its byte order mark."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _wrong(path, "is not UTF-8 text: save it as UTF-8", f"line {line}") from None


def _parse(path: Path, text: str) -> dict[str, Any]:
    long = _LONG_KEY.search(text)
    if long is not None:
        line = text.count("\n", 0, long.start()) + 1
        message = f"words joined by more than {MAX_KEY_PARTS} dots: shorten the key"
        raise _wrong(path, message, f"line {line}")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(path, str(error), text) from None
    except RecursionError:
        raise _wrong(path, "arrays or tables are nested too deeply: flatten them") from None
    except ValueError as error:
        raise _wrong(path, f"holds a value that cannot be read: {error}") from None


def _syntax(path: Path, reason: str, text: str) -> FaultsError:
    """The fault of a text that is no TOML: the line, and what the parser expected there."""
    match = _PLACE.search(reason)
    said = escaped(reason[: match.start()] if match else reason)
    line = int(match[1]) if match and match[1] else text.rstrip().count("\n") + 1
    column = f" (column {match[2]})" if match and match[2] else ""
    lines = text.splitlines()
    shown = escaped(lines[line - 1].strip()[:80]) if 0 < line <= len(lines) else ""
    mend = "texts and fractions need quotes, numbers a decimal point"
    return _wrong(path, f"not valid TOML: {said}{column}, in: {shown}; {mend}", f"line {line}")


def _unit(top: Table) -> Unit:
    return top.choice("units", Unit) or Unit.MM


def _job(top: Table) -> Job | None:
    reading = top.reading
    top.allow(TOP)
    name = top.text("name", "the name of the job")
    order = top.choice("order", Order, Order.BEST)
    blank_table = top.table("blank")
    blank, drawn = read_blank(blank_table)
    faces = top.table("face", optional=True)
    zero, surfaces = read_zero(faces), read_surfaces(faces)
    machine = read_machine(top.table("machine"))
    check_table = top.table("check")
    check = read_check(check_table)
    if drawn is not None:
        check_grid(check_table, blank.outline, check.cell)
    cutter_tables, cutters = _cutters(top, machine, read_material(blank_table, blank.material))
    pieces = _pieces(top, check.clearance, None if drawn is None else blank.outline)
    clamps = [read_clamp(table, place) for place, table in enumerate(top.tables("clamp"), 1)]
    cut_tables = top.tables("cut")
    parts = Parts(blank=blank, drawn=drawn, machine=machine, cutters=cutters)
    cuts = _cuts(cut_tables, parts)
    names = (str(table.values.get("name")) for table in cut_tables)
    plates = read_plates(top.tables("plate"), dict(zip(names, cuts, strict=True)), parts)
    around = _around(cuts, clamps, check.clearance)
    good = around.cuts
    pins = read_pins(top.table("pins", optional=True), around, parts)
    check_surfaces(faces, surfaces, good, machine.safe_height)
    measured = read_measured(top.table("measured", optional=True), around, parts)
    tell_uses(cutter_tables, uses_of(good, plates, blank.material), machine)
    if reading.faults:
        return None
    return Job(
        file=reading.file,
        name=name,
        unit=reading.unit,
        blank=blank,
        zero=zero,
        machine=machine,
        check=check,
        cutters=cutters,
        pieces=pieces,
        clamps=around.clamps,
        cuts=(*pins[1], *good) if pins else good,
        plates=tuple(plates),
        pins=pins[0] if pins else None,
        measured=measured,
        order=order or Order.BEST,
        surfaces=surfaces,
        warnings=tuple(reading.warnings),
        sources=reading.sources,
    )


def _around(cuts: list[Cut | None], clamps: list[Clamp | None], clearance: float) -> Around:
    """The cuts and clamps that are without fault."""
    good = tuple(cut for cut in cuts if cut is not None)
    return Around(
        cuts=good,
        clamps=tuple(clamp for clamp in clamps if clamp is not None),
        clearance=clearance,
        whole=len(good) == len(cuts),
    )


def _cuts(tables: list[Table], parts: Parts) -> list[Cut | None]:
    """All cuts in the order of the job; None for a faulty one."""
    check_names(tables, "cut")
    return settled([read_cut(table, parts) for table in tables], tables, parts.blank)


def _pieces(top: Table, clearance: float, outline: Region | None) -> tuple[Piece, ...]:
    """All pieces, those repeated one by one; `outline` is the blank's, None after a fault."""
    tables = top.tables("piece")
    check_names(tables, "piece")
    groups = read_pieces(tables, clearance)
    if outline is not None:
        for table, group in zip(tables, groups, strict=False):
            check_size(table, group, outline)
    return tuple(piece for group in groups for piece in group)


def _cutters(
    top: Table, machine: Machine, material: Material | None
) -> tuple[dict[str, Table], dict[str, Cutter]]:
    """Tables and cutters by name."""
    tables = top.tables("cutter")
    if not tables and not top.has("cutter"):
        top.fault("cutter", "missing: give at least one [[cutter]]")
    check_names(tables, "cutter")
    named: dict[str, Cutter] = {}
    places: dict[str, Table] = {}
    for table in tables:
        cutter = read_cutter(table, machine, material)
        warn_dial(table, cutter, machine)
        named.setdefault(cutter.name, cutter)
        places.setdefault(cutter.name, table)
    named.pop("", None)
    return places, named
