"""Height grids, cutter profiles, dilation and sweeps: the numbers under everything."""
