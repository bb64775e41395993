"""How `who` tells what is wanted of a place, and the changes that would bring it there."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from render.cli.paper import plain_table, signed, spoken
from render.plan.changes.settings import so_many
from render.plan.who.cheapest import NO_LIGHT, Verdict
from render.plan.who.trials import Cure
from render.report.held import ALL


def verdict_line(verdict: Verdict) -> str:
    """What is wanted, what it is and the cheapest change, in a line."""
    where = spoken(verdict.points[0]) if len(verdict.points) == 1 else "the backdrop"
    alone = "" if verdict.lights == ALL else f" of the {verdict.lights} light alone"
    told = f"{verdict.wanted}: {verdict.wanted_shown}{alone} at {where}; it has {verdict.shown}"
    if verdict.met:
        return f"{told}, near enough." if round(verdict.off_stops, 1) else f"{told}."
    if verdict.shown != NO_LIGHT:
        told += f", {so_many(verdict.off_stops)} too {_way(verdict)}"
    told += "."
    best = verdict.cures[0] if verdict.cures else None
    if best is None:
        return f"{told} Nothing that was tried can be done here."
    if not best.meets:
        return f"{told} Nothing that was tried is enough; nearest: {best.name}: {_comes(best)}."
    past = f", {so_many(best.off_stops)} past it" if round(best.off_stops, 1) else ""
    upset = f", but it upsets {', '.join(best.upsets)}" if best.upsets else ""
    return f"{told} Cheapest: {best.name}: {_comes(best)}{past}{upset}."


def _way(verdict: Verdict) -> str:
    if verdict.code is None:
        return "bright" if verdict.off_stops > 0 else "dark"
    return "light" if verdict.off_stops > 0 else "dark"


def _comes(cure: Cure) -> str:
    return cure.shown if cure.code is None else f"code {cure.code:.0f}"


def cures_table(verdict: Verdict, first: int) -> Table:
    """The cures, numbered from `first`."""
    toned = verdict.code is not None
    table = plain_table(
        f"What helps {verdict.wanted}, least work first; each one placed and measured again"
    )
    table.add_column("no.", justify="right", no_wrap=True)
    table.add_column("change")
    table.add_column("enough", no_wrap=True)
    table.add_column("code" if toned else "reads", justify="right", no_wrap=True)
    if toned:
        table.add_column("comes out", no_wrap=True)
    table.add_column("off by", justify="right", no_wrap=True)
    table.add_column(f"power of {verdict.key}", no_wrap=True)
    table.add_column("face", justify="right", no_wrap=True)
    upsets = any(cure.upsets for cure in verdict.cures)
    if upsets:
        table.add_column("upsets")
    for number, cure in enumerate(verdict.cures, first):
        clean = toned and all(place.clean for place in cure.points)
        cells = [str(number), cure.name, "yes" if cure.meets else "no"]
        cells.append(f"{cure.code:.0f}" if cure.code is not None else cure.shown)
        cells += [f"{cure.word}, clean" if clean else str(cure.word)] if toned else []
        cells += [signed(cure.off_stops), cure.key_power_shown, signed(cure.face_stops, 2)]
        table.add_row(*cells, *([", ".join(cure.upsets)] if upsets else []))
    return table


def print_left_out(console: Console, verdict: Verdict) -> None:
    """What cannot be done here, and why."""
    if verdict.left_out:
        words = "; ".join(verdict.left_out)
        console.print(f"Left out for {verdict.wanted}: {words}.", highlight=False)


def print_notes(console: Console, verdicts: tuple[Verdict, ...]) -> None:
    """What the columns of the tables mean, and what was not looked for."""
    if not any(verdict.cures for verdict in verdicts):
        return
    several = any(len(verdict.points) > 1 for verdict in verdicts)
    place = "of several places, of the one that is farthest off; " if several else ""
    console.print(
        f"Off by: stops outside what is wanted, {place}enough: within 0.1 of it, or past it. "
        "The power keeps the face reading, in the head's steps; face: what is "
        "left over. Upsets: other wishes that are missed by more then. Which change is less work "
        "than another is common practice, no source. Of all else that a change can bring about, a "
        "new flag or a moved light in the picture is all that was looked for.",
        highlight=False,
    )
