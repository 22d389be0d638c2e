"""From a solved design to the shop: cutters, plating, drawings."""
