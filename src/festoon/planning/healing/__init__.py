"""What healing is expected to make of the margins, from published cohorts."""
