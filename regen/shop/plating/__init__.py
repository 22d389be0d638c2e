"""The plating plan: layers, baths, hours, stress, bond."""
