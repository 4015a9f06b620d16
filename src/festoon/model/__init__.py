"""The shared vocabulary: teeth, sites, readings, the case and the plan. Frozen, validated types; no algorithms."""
