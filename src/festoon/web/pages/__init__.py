"""The pages: rendered here from what the workflow answers; the components in them write through the API."""
