"""Readings from a surface scan: teeth, margins, zeniths, papillae, each with its error. Knows nothing of plans."""
