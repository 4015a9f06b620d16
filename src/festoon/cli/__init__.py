"""The command line: parse, call the workflow, print."""
