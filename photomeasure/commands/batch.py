"""`photomeasure batch FOLDER|LIST.csv --out DIR`: many rigs, one record each and one table."""

from __future__ import annotations

import contextlib
import os
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from calib.words.said import joined, said, said_many
from photomeasure.commands.exit_codes import EXIT_DONE, EXIT_INTERRUPTED, EXIT_REFUSED

if TYPE_CHECKING:
    from photomeasure.asked.stated import Stated
    from photomeasure.batch.rigs import Grouping, Rig
    from photomeasure.batch.rows import Done, Row
    from photomeasure.batch.run import Batch
    from photomeasure.batch.tasks import Task
    from photomeasure.shown.page_of_text import PageOfText

TABLE_NAME = "table.csv"
_SHOWN_RIGS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchOptions:
    """The command line as typed; what is said here holds for every rig of which the list says nothing else."""

    source: Path
    out: Path
    said: Stated
    jobs: int | None = None
    monte_carlo: bool = False
    pictures: bool = False
    cluster: str | None = None
    photos_shared: bool = False


def run(options: BatchOptions) -> int:
    """Measure every rig, write records and the table; returns the exit code. Raises InputError for wrong usage."""
    if options.cluster is None:
        from photomeasure.batch.workers import ready

        ready()
    from calib.outcome.files import check_writable, is_folder, write_output
    from photomeasure.batch.alone import alone_in
    from photomeasure.batch.cluster import check_cluster, run_on_cluster
    from photomeasure.batch.elsewhere import check_readers
    from photomeasure.batch.rig_list import read_rig_list
    from photomeasure.batch.rigs import rigs_in
    from photomeasure.batch.rows import rows_of, table
    from photomeasure.batch.run import run as run_all
    from photomeasure.batch.tasks import Wanted, tasks_of
    from photomeasure.batch.work import still_there
    from photomeasure.commands.progress import progress
    from photomeasure.shown.page_of_text import PageOfText

    jobs = _jobs(options.jobs)
    check_cluster(options.cluster, options.jobs, photos_shared=options.photos_shared)
    _check_out(options)
    grouping = rigs_in(options.source, options.out) if is_folder(options.source) else read_rig_list(options.source)
    wanted = Wanted(monte_carlo=options.monte_carlo, pictures=options.pictures)
    tasks = tasks_of(grouping.rigs, options.said, options.out, wanted)
    if options.photos_shared:
        tasks = [task.shared() for task in tasks]
    elif options.cluster is None:
        check_readers(place for task in tasks for place in task.elsewhere.values())
    _check_records(tasks)
    page = PageOfText()
    _show_grouping(page, grouping)
    with alone_in(options.out), progress(said("measuring"), len(tasks)) as step:
        check_writable(options.out, TABLE_NAME)

        def finished(done: Done) -> None:
            step(done.row.rig)

        if options.cluster is None:
            batch = run_all(tasks, jobs, finished)
        else:
            batch = run_on_cluster(tasks, options.cluster, finished)
    if batch.full or batch.lost:
        _give_up(options, batch)
    batch = replace(batch, done=tuple(still_there(task, done) for task, done in zip(tasks, batch.done, strict=True)))
    write_output(options.out / TABLE_NAME, table(rows_of(batch.done)), [options.source])
    _show(page, options.out, tasks, batch)
    if batch.interrupted:
        return EXIT_INTERRUPTED
    measured = all(done is not None and done.row.height_mm for done in batch.done)
    return EXIT_DONE if measured else EXIT_REFUSED


def _give_up(options: BatchOptions, batch: Batch) -> None:
    """What was written stays, and the table, where it finds room. Raises InputError."""
    from calib.outcome.errors import InputError, NoRoomError
    from calib.outcome.files import write_output
    from photomeasure.batch.rows import rows_of, table

    with contextlib.suppress(NoRoomError):  # any other reason is the one that is told
        write_output(options.out / TABLE_NAME, table(rows_of(batch.done)), [options.source])
    written = sum(done is not None and bool(done.row.record) for done in batch.done)
    if batch.lost:
        raise InputError(
            said(
                "The cluster at {address} was lost: {written} of {rigs} rigs have their record in {out}.",
                address=options.cluster,
                written=written,
                rigs=len(batch.done),
                out=options.out,
            ),
            expected=said("a scheduler that runs until the last rig is measured"),
            remedy=said("start it and its workers again; the same command goes on from there"),
        )
    raise NoRoomError(
        said(
            "The disk is full: {written} of {rigs} rigs have their record in {out}.",
            written=written,
            rigs=len(batch.done),
            out=options.out,
        ),
        expected=said("room for about 0.1 MB a rig, more with pictures"),
        remedy=said("make room; the same command goes on from there"),
    )


def _jobs(jobs: int | None) -> int:
    from calib.outcome.errors import InputError

    if jobs is None:
        return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if not 1 <= jobs <= 61:  # the most that one pool can wait for on every system
        raise InputError(
            said("--jobs is {jobs}.", jobs=jobs),
            expected=said("1 to 61 processes"),
            remedy=said("leave it out for all processors"),
        )
    return jobs


def _check_out(options: BatchOptions) -> None:
    """A folder can be written to there; pictures among the photographs would be taken for rigs the next time."""
    from calib.outcome.errors import InputError
    from calib.outcome.files import check_folder, check_output

    check_folder(options.out)
    check_output(options.out / TABLE_NAME, "table", [options.source])
    if options.pictures and options.out.resolve() == options.source.resolve():
        raise InputError(
            said(
                "--pictures would write into {source}, among the photographs that are measured.", source=options.source
            ),
            expected=said("another folder for the records and pictures; it may lie in there"),
            remedy=said("such as --out {value}", value=options.source / "records"),
        )


def _check_records(tasks: list[Task]) -> None:
    """What lies where a rig's record or picture goes is one of ours, before any time is spent."""
    from calib.outcome.files import check_output

    inputs = {path.resolve() for task in tasks for path in task.photos}
    for task in tasks:
        for path, kind in task.files():
            if path.resolve() in inputs:
                check_output(path, kind, [path])
            check_output(path, kind)


def _show_grouping(page: PageOfText, grouping: Grouping) -> None:
    """Which photographs belong to which rig, before any time is spent."""
    photos = sum(len(rig.photos) for rig in grouping.rigs)
    page.heading(
        joined(
            [
                said_many("{count} rig", "{count} rigs", count=len(grouping.rigs)),
                said_many("{count} photograph", "{count} photographs", count=photos),
            ]
        )
    )
    page.lines([grouping.how, *grouping.aside])
    shown = [_rig_line(rig) for rig in grouping.rigs[:_SHOWN_RIGS]]
    more = len(grouping.rigs) - len(shown)
    page.section(
        said("Rigs"),
        [*shown, *([said("and {more} more: the table names the photographs of each", more=more)] if more else [])],
    )


def _rig_line(rig: Rig) -> str:
    return f"{rig.name}: {', '.join(path.name for path in rig.photos)}"


def _show(page: PageOfText, out: Path, tasks: list[Task], batch: Batch) -> None:
    """What needs a person, then one line over all."""
    from photomeasure.batch.rows import rows_of

    rows = rows_of(batch.done)
    page.section(said("Refused"), [_refused(row) for row in rows if row.refusal])
    page.section(said("Failed"), [joined([row.rig, row.error], ": ") for row in rows if row.error])
    page.section(
        said("Photograph and tape disagree"),
        [
            said(
                "{rig}: tape {tape_mm} mm, photograph {height_mm} mm",
                rig=r.rig,
                tape_mm=r.tape_mm,
                height_mm=r.height_mm,
            )
            for r in rows
            if r.tape_agrees == "no"
        ],
    )
    page.section(said("One photograph in several rigs (is it in the right one?)"), _twice(rows))
    page.section(
        said("Measured anew with other options: these replace earlier records"),
        [done.row.rig for done in batch.done if done is not None and done.replaced],
    )
    page.section(
        said("Earlier records of other photographs, kept as"),
        [d.aside for d in batch.done if d is not None and d.aside],
    )
    page.section(said("Pictures of earlier records (--pictures draws them anew)"), _older(tasks, batch))
    page.section(said("Records of rigs that are not in this run"), _of_other_rigs(out, tasks))
    page.heading("")
    page.heading(joined([*_summary(batch), said("Table: {path}", path=out / TABLE_NAME)], " "))
    if batch.interrupted:
        page.lines(
            [said("Interrupted: {left} not begun. The same command goes on from here.", left=len(tasks) - len(rows))]
        )


def _twice(rows: Sequence[Row]) -> list[str]:
    return [said("{rig}: also in {others}", rig=row.rig, others=row.same_photo_as) for row in rows if row.same_photo_as]


def _older(tasks: list[Task], batch: Batch) -> list[str]:
    """Pictures that lie beside newer records and would be taken for theirs."""
    done = [task for task, result in zip(tasks, batch.done, strict=True) if result is not None]
    return [path.name for task in done for path in task.older_pictures()]


def _refused(row: Row) -> str:
    return said("{rig}: {reason} Next: {remedy}", rig=row.rig, reason=row.refusal_reason, remedy=row.refusal_remedy)


def _of_other_rigs(out: Path, tasks: list[Task]) -> list[str]:
    """Records that lie there from an earlier run; audit and verify of the folder would count them."""
    from photomeasure.record.schema import is_record

    here = {task.record_file.name for task in tasks}
    others = [path.name for path in sorted(out.glob("*.json")) if path.name not in here and is_record(path)]
    more = len(others) - _SHOWN_RIGS
    return [*others[:_SHOWN_RIGS], *([said("and {more} more", more=more)] if more > 0 else [])]


def _summary(batch: Batch) -> list[str]:
    """Rigs by headline, and what was kept from an earlier run."""
    from photomeasure.shown.headline import inside_sentence

    rows = [done.row for done in batch.done if done is not None]
    counts = Counter(row.headline for row in rows if not row.error)
    failed = sum(bool(row.error) for row in rows)
    told = [said("{count} {headline}", count=many, headline=inside_sentence(title)) for title, many in counts.items()]
    told += [said("{count} failed", count=failed)] if failed else []
    rigs = said_many("{count} rig", "{count} rigs", count=len(rows))
    kept = sum(done.kept for done in batch.done if done is not None)
    return [
        said("{rigs}: {told}.", rigs=rigs, told=joined(told, "; ") if told else said("none done")),
        *([said("{kept} kept from an earlier run.", kept=kept)] if kept else []),
    ]
