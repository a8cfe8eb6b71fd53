"""The knowledge: read from YAML, checked, and held as frozen values. The first room of the flow."""
