"""Many cases: planned against cut, sutured and healed, with intervals."""
