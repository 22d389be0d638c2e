"""From a solved design to the shop: closing the slots, cutting them, drawings."""
