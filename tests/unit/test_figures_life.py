"""The figure of life: drawn where life is known, and only there."""

from dataclasses import replace

import numpy as np

from regen.design import Life
from regen.output.figures import life as figures_life


def test_no_figure_where_no_life_is_known(drawn_result):
    assert not figures_life.known(drawn_result)
    blank = dict.fromkeys(figures_life.LOOKS, np.full(9, np.nan))
    assert not figures_life.known(replace(drawn_result, checked=blank))


def test_both_lives_and_what_is_asked(drawn_result, drawn_design):
    lives = np.geomspace(50.0, 900.0, 9)
    columns = dict(zip(figures_life.LOOKS, (lives, 30.0 * lives), strict=True))
    result = replace(drawn_result, checked=columns)
    assert figures_life.known(result)
    figure = figures_life.draw(result, replace(drawn_design, life=Life(firings=20)))
    lines = {line.get_label(): line.get_ydata() for line in figure.axes[0].lines}
    assert np.array_equal(lines["conservative"], lives)
    assert np.array_equal(lines["optimistic"], 30.0 * lives)
    assert list(lines["20 firings, 4 times over"]) == [80.0, 80.0]
