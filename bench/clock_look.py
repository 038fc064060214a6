"""The look of the clock's figures: ink on paper, no colors, no chart furniture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

INK, PAPER, RULE = "#1d1a16", "#faf7f0", "#cfc7b8"


def figure(width: float, height: float, rows: tuple[float, ...] = (1.0,)) -> tuple[Any, list[Any]]:
    """A figure (inches) of plots one below the other, with their relative heights."""
    import fontpkg_atkinson_hyperlegible as font
    import matplotlib
    from matplotlib import font_manager

    matplotlib.use("svg")
    for file in sorted((Path(font.__file__).parent / "files").glob("*.ttf")):
        font_manager.fontManager.addfont(str(file))
    matplotlib.rcParams.update({
        "svg.fonttype": "path", "svg.hashsalt": "tepal", "font.family": ["Atkinson Hyperlegible", "sans-serif"],
        "text.color": INK, "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK, "axes.edgecolor": RULE,
    })  # fmt: skip
    from matplotlib.figure import Figure

    fig = Figure(figsize=(width, height), facecolor=PAPER, layout="constrained")
    plots = list(fig.subplots(len(rows), 1, squeeze=False, height_ratios=rows)[:, 0])
    for axes in plots:
        axes.set_facecolor(PAPER)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        axes.tick_params(length=0)
    return fig, plots


def save(fig: Any, path: Path, title: str) -> None:
    """Write an SVG without a date, so that the same figures give the same file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fig.savefig(path, format="svg", metadata={"Date": None, "Title": title})
    # matplotlib leaves blanks at line ends.
    path.write_text("\n".join(line.rstrip() for line in path.read_text().splitlines()) + "\n")
