"""Routes: from the release that a board has to the CPU that it shall run."""
