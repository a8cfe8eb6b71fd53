"""Writing knowledge: files made and changed by a program, as a person would have written them.

`yaml_text`: data to YAML in the style of the shipped knowledge. `change_yaml`: one value or entry of a file, everything else to
the letter as it was. `item_files`: new items, their ids, and what is wrong with them. `new_base`: a new knowledge base and what
helps a text editor with it. `shares`: distributions as people type them.
"""
