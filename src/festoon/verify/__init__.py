"""Chairside and recall: readings of today against the plan. Informs a licensed clinician; decides nothing."""
