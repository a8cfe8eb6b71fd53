"""`python -m nopost_cli` does what `nopost` does."""

from nopost_cli.main import main

main()
