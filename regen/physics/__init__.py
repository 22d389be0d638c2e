"""The compiled core: correlations, wall form and the march."""
