"""The database of cases, readings, plans and signatures, its trail and its files."""
