"""Readings from a photograph: calibrated, corrected for the camera, each with its error. Knows nothing of plans."""
