"""The nouns that people enter and records store. Frozen; no behaviour beyond looking up."""
