"""From a mouth as known to a surgical plan: targets, limits, the programme in ranks, and its explanation."""
