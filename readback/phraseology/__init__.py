"""Phraseology: spoken numbers and letters, the grammar, text to calls and calls to text."""
