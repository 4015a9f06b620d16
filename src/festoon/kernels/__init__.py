"""Arrays and floats in, arrays and floats out: no files, no teeth."""
