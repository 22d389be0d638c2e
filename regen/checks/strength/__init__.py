"""Stresses, strains and allowables of liner, lands, bond and jacket."""
