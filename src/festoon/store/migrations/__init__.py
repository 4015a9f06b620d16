"""Steps from one version of the database to the next, by Alembic."""
