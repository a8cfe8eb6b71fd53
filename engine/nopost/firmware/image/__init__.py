"""A firmware image: what it is made of, which boards it names, and whether it fits the board.

`image_parts` holds the values; `firmware_volumes` finds the volumes and counts
their files, `image_reader` the capsules and the flash descriptor around them and what lies between; `board_names`
looks for the names of the record in the bytes; `image_check` compares all that with the record. Any bytes give an
image: no length is trusted and every search is bounded.
"""
