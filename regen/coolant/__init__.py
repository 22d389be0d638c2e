"""Property tables of coolants, built in and the user's own."""
