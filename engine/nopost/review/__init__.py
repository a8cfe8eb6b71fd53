"""A closer look at a knowledge base that loads: rules that cannot work, causes nobody can tell apart, cautions left out."""
