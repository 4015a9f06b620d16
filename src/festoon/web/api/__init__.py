"""The typed REST API. It computes nothing: every route is one call of the workflow."""
