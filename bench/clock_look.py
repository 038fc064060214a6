"""The look of the clock's figures: ink on paper, one accent, no chart furniture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

INK, PAPER, RULE, MADDER = "#1d1a16", "#faf7f0", "#cfc7b8", "#8c1c3a"


def figure(width: float, height: float) -> tuple[Any, Any]:
    """A figure of one plot, in inches."""
    import matplotlib

    matplotlib.use("svg")
    matplotlib.rcParams.update({
        "svg.fonttype": "none", "svg.hashsalt": "tepal", "font.family": ["Atkinson Hyperlegible", "sans-serif"],
        "text.color": INK, "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK, "axes.edgecolor": RULE,
    })  # fmt: skip
    from matplotlib.figure import Figure

    fig = Figure(figsize=(width, height), facecolor=PAPER, layout="constrained")
    axes = fig.add_subplot(facecolor=PAPER)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=0)
    return fig, axes


def save(fig: Any, path: Path, title: str) -> None:
    """Write an SVG without a date, so that the same figures give the same file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fig.savefig(path, format="svg", metadata={"Date": None, "Title": title})
    # matplotlib leaves blanks at line ends.
    path.write_text("\n".join(line.rstrip() for line in path.read_text().splitlines()) + "\n")
