"""From a design to solved runs: tables, nominal, band, flow split, worst channel."""
