"""The SMBIOS table of a running machine, from a file: entry point, structures, and the few of them that are compared."""
