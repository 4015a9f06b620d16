"""The generated pages of the documentation: text from the code, so that the two cannot drift apart."""
