"""The season as a picture: the shares of a field's plants past each threshold by day. Ink on paper, no colors."""

from __future__ import annotations

import io
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tepal.cli._files import write_whole
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.clock import Forecast
    from tepal.words import Words

INK, PAPER, RULE = "#1d1a16", "#faf7f0", "#cfc7b8"
FORMATS = (".svg", ".png", ".pdf")


def check_name(path: Path) -> None:
    """Refuse a file name whose format cannot be drawn, before any work is done."""
    if path.suffix.lower() not in FORMATS:
        raise Refused(
            f"picture {path.name}", where="--draw", rule=f"A picture ends in {', '.join(FORMATS)}.",
            step="Name it so.",
        )  # fmt: skip
    if not path.parent.is_dir():
        raise Refused(
            f"folder {path.parent}", where="--draw", rule="The picture's folder must be there.", step="Make it first.",
        )  # fmt: skip


def draw(found: Forecast, path: Path, words: Words, *, name: str) -> None:
    """Draw a forecast to a file: a strip for each threshold, its middle line and shade for four futures of five."""
    days = _span(found)
    x = [day.toordinal() for day in days]
    strips = (
        (words.t("Seedlings up"), [found.share_up(day) for day in days]),
        (words.t("Of those up, over {height}", height=words.length(0.1)), _reached(found, "height_10_cm", days)),
        (words.t("In flower"), _reached(found, "flowers", days)),
        (words.t("With seed that can grow"), _reached(found, "viable_seed", days)),
    )
    fig, plots = figure(7.2, 5.4, (1.0,) * len(strips))
    firsts = [day for month in range(1, 13) if days[0] <= (day := date(found.start.year, month, 1)) <= days[-1]]
    shares_of = {0: words.t("none"), 0.5: words.t("half"), 1: words.t("all")}
    for axes, (label, shares) in zip(plots, strips, strict=True):
        low, middle, high = np.quantile(np.array(shares), (0.1, 0.5, 0.9), axis=1)
        axes.fill_between(x, low, high, facecolor=RULE, linewidth=0, zorder=1)
        axes.plot(x, middle, color=INK, linewidth=1.8, zorder=3, clip_on=False)
        axes.axhline(0.1, color=INK, linewidth=0.5, linestyle=(0, (2, 3)), zorder=2)
        axes.set_title(label, loc="left", fontsize=10, pad=4, color=INK)
        axes.set_yticks(list(shares_of), list(shares_of.values()), fontsize=9)
        axes.set_ylim(0, 1)
        axes.set_xlim(x[0], x[-1])
        axes.set_xticks([day.toordinal() for day in firsts], [""] * len(firsts))
        axes.grid(visible=True, axis="x", color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.axvline(found.as_of.toordinal(), color=INK, linewidth=0.9, zorder=2)
    plots[-1].set_xticks([day.toordinal() for day in firsts], [words.day_month(day) for day in firsts], fontsize=9)
    plots[0].annotate(
        words.day_month(found.as_of), (found.as_of.toordinal(), 1.06), ha="center", fontsize=10, color=INK,
        annotation_clip=False,
    )  # fmt: skip
    fig.supxlabel(
        words.t(
            "Line: the middle of what may come. Band: four times in five. Dotted line: one plant in ten. "
            "Upright line: {day}.", day=words.day_month(found.as_of),
        ), fontsize=9, color=INK, x=0.02, ha="left",
    )  # fmt: skip
    save(fig, path, words.t("Shares of {name} past each threshold by day", name=name))


def _reached(found: Forecast, event: str, days: list[date]) -> list[Any]:
    return [found.share_reached(event, day) for day in days]


def _span(found: Forecast) -> list[date]:
    """Every second day from shortly before the first seedlings until most plants have seed, or the year ends."""
    end_of_year = date(found.start.year, 12, 31)
    first = (found.event("emerges_10").quantile(0.1) or found.start + timedelta(days=120)) - timedelta(days=25)
    last = (found.event("viable_seed").quantile(0.9) or end_of_year) + timedelta(days=30)
    first, last = max(min(first, found.as_of), found.start), min(max(last, found.as_of), end_of_year)
    return [first + timedelta(days=i) for i in range(0, (last - first).days + 1, 2)]


def figure(width: float, height: float, rows: tuple[float, ...] = (1.0,)) -> tuple[Any, list[Any]]:
    """A figure (inches) of plots one below the other, with their relative heights."""
    import fontpkg_atkinson_hyperlegible as font
    import matplotlib as mpl
    from matplotlib import font_manager
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    for file in sorted((Path(font.__file__).parent / "files").glob("*.ttf")):
        font_manager.fontManager.addfont(str(file))
    mpl.rcParams.update({
        "svg.fonttype": "path", "svg.hashsalt": "tepal", "font.family": ["Atkinson Hyperlegible", "sans-serif"],
        "text.color": INK, "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK, "axes.edgecolor": RULE,
    })  # fmt: skip
    layout = ConstrainedLayoutEngine(w_pad=0.12, h_pad=0.08)
    fig = Figure(figsize=(width, height), facecolor=PAPER, layout=layout)
    plots = list(fig.subplots(len(rows), 1, squeeze=False, height_ratios=rows)[:, 0])
    for axes in plots:
        axes.set_facecolor(PAPER)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        axes.tick_params(length=0)
    return fig, plots


def save(fig: Any, path: Path, title: str) -> None:
    """Write the file; an SVG without a date, so that the same figures give the same file."""
    suffix, out = path.suffix.lower(), io.BytesIO()
    if suffix == ".png":
        fig.savefig(out, format="png", dpi=200, metadata={"Title": title})
    elif suffix == ".pdf":
        fig.savefig(out, format="pdf", metadata={"Title": title, "CreationDate": None})
    else:
        fig.savefig(out, format="svg", metadata={"Date": None, "Title": title})
        # matplotlib leaves blanks at line ends.
        lines = out.getvalue().decode().splitlines()
        out = io.BytesIO(("\n".join(line.rstrip() for line in lines) + "\n").encode())
    write_whole(path, out.getvalue())
