"""One function per use case; the only place that joins the rooms."""
