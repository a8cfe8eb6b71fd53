"""Writing knowledge: files made and changed by a program, as a person would have written them."""
