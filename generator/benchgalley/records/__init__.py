"""The nouns. Every room imports these; this package imports no room."""
