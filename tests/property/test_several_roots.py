"""A station whose wall balance has several roots is solved, also where the hottest two meet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from regen.physics import arrays as A
from regen.physics import status as st
from regen.physics.batch import march_all
from regen.solver.models import model_row
from regen.solver.prepare import prepare
from tests.property.trends import box

MEETING = 235  # draw near the critical pressure, found by the trends: its two hottest roots meet
# pairs of roots come and go along the passage: one in sixteen of these runs was lost there
RUNS = 401


def test_no_run_is_lost_where_two_roots_meet():
    design = box.design(MEETING)
    models = replace(design.models, gas_side="bartz", radiation="off")
    prepared = prepare(replace(design, models=models))
    runs = np.repeat(prepared.run, RUNS)
    runs["gas_factor"] = np.linspace(0.8, 1.2, RUNS)
    tables = prepared.gas, prepared.coolant, prepared.walls
    out, status = march_all(prepared.geometry, *tables, runs, np.repeat(model_row(prepared), RUNS))
    assert not np.any(status[:, 0] == st.NO_WALL_ROOT)
    flags = out.station[:, :, A.O_FLAGS].astype(np.int64)
    assert np.any(flags & A.FLAG_SEVERAL_ROOTS)
