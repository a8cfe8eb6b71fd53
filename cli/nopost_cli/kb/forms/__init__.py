"""The questions of `nopost kb add` and of an empty knowledge base.

`item_form` leads from the questions of one item to its file and keeps a draft on the way; `shared_questions` are those
that several kinds of item have. The other modules hold the questions of each kind as three functions: KIND_steps (step
-> question), KIND_item (answers -> data of the file) and KIND_follow (what else is changed once it is written). A new kind is
three more of these, and its name in `KINDS` of the command.
"""
