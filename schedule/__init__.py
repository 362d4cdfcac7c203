"""A classified network in, a fabrication schedule out."""
