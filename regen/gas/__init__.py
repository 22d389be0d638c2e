"""Hot gas: equilibrium, nozzle, feeds, radiation, film, and what lies beside the wall."""
