"""nopost: find why a machine does not start, in as few, cheap and safe steps as can be."""

__version__ = "0.1.0"
