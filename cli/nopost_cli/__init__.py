"""The command line of nopost: one module per command, rendering in `screens`, no logic."""
