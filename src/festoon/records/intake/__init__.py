"""A practice's tables: read, understood aloud, and refused where a number could mean two things."""
