"""Cases judged one by one, counted, and printed as a table."""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from proof.asked import Answer, ask
from proof.jobs import Case, random_case, truth_again
from proof.nouns import Job
from proof.planned import planned_program
from proof.spoil import SPOILS, spoiled
from proof.truth import Truth, truth_of
from proof.words import UnreadError

SHOULD_FIND = 0.01
"""Spoiled programs that breach by more, mm, must be found."""
TRIES = 5
"""Ways to spoil a program that are tried for one that breaches."""


@dataclass(frozen=True)
class Result:
    """What came of a case: `word` of the check, what is false about it, and its margins, mm."""

    seed: int
    kind: str
    shape: str
    word: str
    false: str = ""
    breach: float = float("nan")
    spare: float = float("nan")
    why: str = ""


def judged(case: Case) -> Result:
    answer = ask(case.job, case.text)
    return _result(case.seed, case.aimed, case.job.cutter.shape, answer, case.truth)


def _result(seed: int, kind: str, shape: str, answer: Answer, truth: Truth) -> Result:
    false = ""
    if answer.word == "clear" and truth.breach > 0.0:
        false = "false clear"
    # Of a break-through or a rapid in stock the truth knows nothing.
    if answer.word == "refused" and truth.spare > 0.0 and answer.codes & {"piece", "clamp"}:
        false = "false refusal"
    if answer.word == "error":
        false = "defect"
    why = answer.why or " ".join(sorted(answer.codes))
    return Result(seed, kind, shape, answer.word, false, truth.breach, truth.spare, why)


def one(seed: int) -> Result:
    """The random case of a number."""
    try:
        return judged(random_case(seed))
    except Exception as error:
        return _crash(seed, error)


def _crash(seed: int, error: Exception) -> Result:
    """A run goes on after a case that breaks something; the case counts as false."""
    return Result(seed, "crash", "crash", "crash", "crash", why=f"{type(error).__name__}: {error}")


def one_spoiled(seed: int) -> Result | None:
    """A clear program, spoiled; None where the number gives none that is clear."""
    try:
        return _one_spoiled(seed)
    except Exception as error:
        return _crash(seed, error)


def _one_spoiled(seed: int) -> Result | None:
    rng = np.random.default_rng([777, seed])
    found = planned_program(rng, seed) if seed % 4 == 0 else _clear_case(rng, seed)
    if found is None:
        return None
    job, text = found
    kind = list(SPOILS)[int(rng.integers(len(SPOILS)))]
    changed, truth = _worst_spoil(rng, job, text, kind)
    if changed is None:
        return None
    answer = ask(job, changed)
    shape = ("planned " if seed % 4 == 0 else "") + job.cutter.shape
    if truth is None:
        false = "" if answer.word in ("unread", "refused") else "not read by the truth"
        return Result(seed, kind, shape, answer.word, false, why=answer.why)
    result = _result(seed, kind, shape, answer, truth)
    if result.false == "false clear" and truth.breach <= SHOULD_FIND:
        return Result(seed, kind, shape, "clear", "false clear below 0.01")
    return result


def _worst_spoil(rng, job: Job, text: str, kind: str) -> tuple[str | None, Truth | None]:
    """The first of some tries that breaches, else the last that changed anything; no truth where
    it means nothing."""
    changed, truth = None, None
    for _ in range(TRIES):
        tried = spoiled(rng, text, kind)
        if tried is None:
            continue
        changed = tried
        try:
            truth = truth_of(job, changed)
        except UnreadError:
            truth = None
            continue
        if truth.breach > SHOULD_FIND:
            break
    return changed, truth


def _clear_case(rng, seed: int):
    """A random program with its needs set so that it is just clear, or clear by some tenths."""
    case = random_case(10_000_000 + seed)
    spare = float(rng.choice([0.005, 0.03, 0.1, 0.5]))
    pieces = []
    lows = {n.name: n.low for n in case.truth.near}
    for piece in case.job.pieces:
        if piece.name in lows:
            need = max(lows[piece.name] - spare - case.job.path_error, 0.0)
            piece = replace(piece, clearance=need)
        pieces.append(piece)
    job = replace(case.job, pieces=tuple(pieces))
    if "clamp 1" in lows:
        job = replace(job, clearance=max(lows["clamp 1"] - spare - job.path_error, 0.0))
    if min((n.low - n.need for n in truth_again(job, case.truth).near), default=0.0) < 0.0:
        return None
    return job, case.text


def table(results: list[Result], key: str) -> str:
    """Counts by `kind` or `shape`."""
    names = sorted({getattr(r, key) for r in results})
    head = ["", "programs", "clear", "refused", "unread", "false clear", "false refusal", "other"]
    head += ["breach", "found", "least of clear", "most of refused"]
    rows = [head]
    for name in [*names, "all"]:
        mine = [r for r in results if name in (getattr(r, key), "all")]
        words, false = Counter(r.word for r in mine), Counter(r.false for r in mine if r.false)
        other = sum(false.values()) - false["false clear"] - false["false refusal"]
        clear = [-r.breach for r in mine if r.word == "clear" and np.isfinite(r.breach)]
        refused = [r.spare for r in mine if r.word == "refused" and np.isfinite(r.spare)]
        breach = [r for r in mine if r.breach > SHOULD_FIND]
        found = sum(r.word in ("refused", "unread") for r in breach)
        rows.append(
            [
                name,
                *map(str, (len(mine), words["clear"], words["refused"], words["unread"])),
                *map(str, (false["false clear"], false["false refusal"], other)),
                str(len(breach)),
                str(found),
                f"{min(clear):+.4f}" if clear else "",
                f"{max(refused):+.4f}" if refused else "",
            ]
        )
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    return "\n".join(
        "  ".join(
            cell.rjust(w) if i else cell.ljust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        )
        for row in rows
    )
