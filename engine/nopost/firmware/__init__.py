"""Board and CPU records, and what they settle."""
