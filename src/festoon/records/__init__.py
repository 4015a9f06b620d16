"""Case files in and out, and the readings of a case brought to one value per quantity."""
