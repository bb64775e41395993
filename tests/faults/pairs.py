"""Two at once: on one cache, on one scene, on one file."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from render.page.conflicts import ConflictError
from render.page.document import open_document
from render.page.naming import tables_of
from render.scenefile import load_scene
from tests.faults.jobs import JOBS, STOOL, Job, contents
from tests.faults.runs import BRIEF, Bench, Case, Ended, run

LONGER = Job("look", (*BRIEF.words, "--quality", "96"), BRIEF.results, BRIEF.lay)
SERIES = next(job for job in JOBS if job.name == "series")
BALANCE = next(job for job in JOBS if job.name == "balance --write")
DOCTOR = ("render", "doctor", "--clear", "--json")
SAVES = 200
TITLE = "Two lamps and a stool"


def pairs(bench: Bench) -> Iterator[Case]:
    """Each ends as if it were alone; of two who save, one is told of the other."""
    for name, jobs in (
        ("two looks of one scene", (BRIEF, BRIEF)),
        ("two looks, one longer", (BRIEF, LONGER)),
        ("look and series", (BRIEF, SERIES)),
        ("four looks", (BRIEF,) * 4),
    ):
        yield _together(bench, name, jobs)
    yield _cleared(bench)
    yield _balanced(bench)
    yield saved_by_two(bench.folder / "two-pages")


def _together(bench: Bench, name: str, jobs: Sequence[Job]) -> Case:
    places = [bench.fresh(job) for job in jobs]
    cache = places[0][1]
    works = [work for work, _ in places]
    for case in _judged(bench, name, jobs, works, _at_once(jobs, works, cache)):
        if case.fault:
            return case
    return bench.again(Case(name), BRIEF, works[0], cache)


def _at_once(jobs: Sequence[Job], works: Sequence[Path], cache: Path) -> list[Ended]:
    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(lambda job, work: run(job.words, work, cache), jobs, works))


def _judged(
    bench: Bench, name: str, jobs: Sequence[Job], works: Sequence[Path], ended: Sequence[Ended]
) -> Iterator[Case]:
    for job, work, each in zip(jobs, works, ended, strict=True):
        if job is LONGER:  # has no undisturbed result to compare with
            yield Case(name, "" if each.code == 0 else each.said[-300:])
        else:
            yield bench.judged(name, job, work, each, refuse=False)


def _cleared(bench: Bench) -> Case:
    """`doctor --clear` again and again while a look is traced."""
    name = "look and doctor --clear"
    work, cache = bench.fresh(BRIEF)
    over, ended = threading.Event(), []

    def clear() -> None:
        while not over.is_set():
            ended.append(run(DOCTOR, work, cache))

    clearing = threading.Thread(target=clear)
    clearing.start()
    look = run(BRIEF.words, work, cache)
    over.set()
    clearing.join()
    case = bench.judged(name, BRIEF, work, look, refuse=False)
    wrong = [each.said[-300:] for each in ended if each.code != 0]
    return Case(name, f"doctor: {wrong[0]}") if wrong and not case.fault else case


def _balanced(bench: Bench) -> Case:
    """Two that write one scene."""
    work, cache = bench.fresh(BALANCE)
    both = _at_once((BALANCE, BALANCE), (work, work), cache)
    for each in both:
        case = bench.judged("two balance --write", BALANCE, work, each)
        if case.fault:
            return case
    return Case("two balance --write")


def saved_by_two(folder: Path, saves: int = SAVES) -> Case:
    """Two pages save one file at once: whole, and no change of the other is lost in silence.

    Each puts its own next number into the title; a save that is not refused must stand upon the
    last one that was not refused, whoever made it.
    """
    name = "two pages save one scene"
    folder.mkdir()
    file = folder / "stool.toml"
    file.write_text(STOOL.replace(TITLE, "save 0"))
    conflicts, saved, wrong = [0, 0], [0, 0], list[str]()

    def page(k: int) -> None:
        document = open_document(file, None)
        for _ in range(saves):
            count = int(document.setup(tables_of(document.text)).scene.title.split()[-1])
            document.take(document.edited({"title": f"save {count + 1}"}))
            try:
                document.save()
                saved[k] += 1
            except ConflictError:
                conflicts[k] += 1
                document = open_document(file, None)
            contents(file)  # raises where it is not whole

    threads = [threading.Thread(target=page, args=(k,)) for k in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if not any(conflicts):
        wrong.append("the two never met")
    # Who comes too late in a race is chance, so each does once more, in turn.
    for late in range(2):
        count = int(load_scene(file).scene.title.split()[-1])
        both = [open_document(file, None) for _ in range(2)]
        for document in both:
            document.take(document.edited({"title": f"save {count + 1}"}))
        both[1 - late].save()
        saved[1 - late] += 1
        try:
            both[late].save()
            saved[late] += 1
        except ConflictError:
            conflicts[late] += 1
    count = int(load_scene(file).scene.title.split()[-1])
    if count != sum(saved):
        wrong.append(f"{sum(saved)} saves were taken, {count} are in the file")
    if not all(conflicts):
        wrong.append(f"conflicts told: {conflicts}")
    return Case(name, wrong[0] if wrong else "")
