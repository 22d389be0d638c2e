"""What goes to the shop: slots as machined, tolerances, sheets."""
