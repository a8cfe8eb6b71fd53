"""What the codes of the loader mean: with any of them the knowledge base is not used at all."""

from __future__ import annotations

from nopost.knowledge.problem import Severity
from nopost.review.explanation import explained

LOADER_CODES = explained(
    Severity.ERROR,
    (
        ("no-folder", "There is no such folder", "There is nothing to read.", "Name the folder that holds base.yaml."),
        (
            "no-file",
            "A file that must be there is missing",
            "base.yaml holds what is true of the whole knowledge base.",
            "Add it.",
        ),
        (
            "not-a-file",
            "Something that is no plain file",
            "A folder, pipe or device cannot be an item.",
            "Put a text file here, or move it away.",
        ),
        (
            "file-name",
            "A file that does not end in .yaml",
            "A file that is passed over in silence is the worst kind of lost work.",
            "Rename it to end in .yaml, or move it out of the folder.",
        ),
        (
            "unknown-folder",
            "A folder for which there is no kind of item",
            "What lies in it would never be read.",
            "Use one of the folders in the hint.",
        ),
        ("unreadable", "A file or folder that cannot be read", "The system refuses it.", "Check its permissions."),
        (
            "link-outside",
            "A link that leaves the knowledge base",
            "A knowledge base from elsewhere could read any file of yours that way.",
            "Put the file itself here.",
        ),
        ("too-large", "A file over 512 KiB", "No item written by people is that long.", "One item per file; split it."),
        (
            "too-many-files",
            "A folder with more files than anyone writes",
            "Reading would never end.",
            "Move away what does not belong.",
        ),
        ("too-many-values", "A file with more than 50000 values", "No item needs that many.", "Split the file."),
        ("too-deep", "Values nested too deep", "No item needs it, and it is hard to read.", "Flatten it."),
        ("binary", "Not a text file", "It holds zero bytes.", "Save it as plain UTF-8 text."),
        ("encoding", "Not UTF-8", "Other encodings turn into wrong letters on other machines.", "Save the file as UTF-8."),
        ("control-character", "A character that controls the terminal", "It could hide text from a reader.", "Delete it."),
        ("empty", "An empty file", "Nothing is in it.", "Fill it in, or delete it."),
        (
            "yaml-syntax",
            "Not well-formed YAML",
            "The reader cannot tell what belongs where.",
            "Check the indentation and the colons; quote text that holds a colon or a #.",
        ),
        ("alias", "An anchor or alias", "What a line means must stand in that line.", "Write the value out, or quote it."),
        ("tag", "A YAML tag", "Only plain text, numbers, lists and keys are used.", "Delete the tag."),
        ("bad-key", "A key that is not a word", "Keys are names.", "Write key: value."),
        ("duplicate-key", "A key that stands twice", "One of the two would be lost in silence.", "Keep one of them."),
        ("two-documents", "A second document in one file", "One file is one item.", "Delete the --- or split the file."),
        (
            "id-file-name",
            "The id is not the file's name",
            "Items are found by their file's name.",
            "Write the name as id, or call the file by its id.",
        ),
        ("unknown-name", "A name that leads nowhere", "What is named does not exist.", "Correct the name, or add the item."),
        (
            "unknown-answer",
            "An answer that its finding does not have",
            "The condition could never hold, or the number would be lost.",
            "Use one of the finding's answers.",
        ),
        (
            "answer-ids",
            "Answer ids that clash",
            "An answer must be known by its id alone.",
            "Use each id once; not the reserved ones.",
        ),
        (
            "no-combine",
            "A finding that says neither what it reads nor how causes meet",
            "Without it nothing can be computed.",
            "Add combine: and baseline:, or reads:.",
        ),
        (
            "reads-combine",
            "An instrument with a way to combine of its own",
            "An instrument takes everything from what it reads.",
            "Delete reads:, or the keys of its own.",
        ),
        (
            "reads-chain",
            "An instrument that reads an instrument",
            "Two tables in a row are not combined.",
            "Read what is behind it.",
        ),
        (
            "reads-row",
            "An instrument without a row for some answer",
            "It must say what it shows for each answer of what it reads.",
            "Add the row.",
        ),
        ("no-question", "A test that ends without a question", "What it shows could not be told.", "Add question:."),
        (
            "instrument-named",
            "A cause that names an instrument",
            "Several instruments of one thing would be counted twice.",
            "Name what the instrument reads.",
        ),
        (
            "wrong-kind",
            "A test where a fix belongs, or the other way",
            "Only fixes mend, only tests show.",
            "Name one of the right kind.",
        ),
        ("sum", "Probabilities that do not add up to 1", "They are shares of one whole.", "Make them add up to 1."),
        (
            "graded-order",
            "A cause that makes a graded finding look healthier than no fault at all",
            "Causes meet by noisy-MAX, in which each can only push towards more abnormal.",
            "Give the first answers less, or do not name the finding.",
        ),
        (
            "history-zero",
            "A baseline of 0 in a history finding",
            "Times as likely as never is still never.",
            "Give it a small share.",
        ),
        (
            "unlisted-share",
            "No room for what nobody wrote down",
            "The true cause may not be listed.",
            "A share of 0.03 is usual.",
        ),
        (
            "no-premise",
            "A rule that asks for nothing",
            "It would fire before anything is known.",
            "Add an all: with what must be known.",
        ),
        (
            "rule-cycle",
            "Rules that depend on their own absence",
            "Nobody can say which of them fires.",
            "Take a none: out of the ring.",
        ),
        ("no-causes", "There is not one cause", "There is nothing to find.", "Add files to causes/."),
        (
            "unused-action",
            "An action that nothing needs",
            "It is never offered.",
            "Name it in a finding or a cause, or delete it.",
        ),
        (
            "never-open",
            "Something that starts closed and that no rule opens",
            "It is never asked or offered.",
            "Add a rule that opens it.",
        ),
        (
            "slot-count",
            "A slot order with too few or too many slots",
            "Each module needs one slot.",
            "Name one slot for each module.",
        ),
        ("release-twice", "A firmware release that stands twice", "A release is known by its version.", "Name each once."),
        ("no-such-day", "A date that no calendar has", "Releases are dated by the day.", "Write the day as 2031-05-17."),
        (
            "limit-order",
            "Limits in the wrong order",
            "Nothing could ever lie within them.",
            "Minimum, nominal, maximum; low level before high level; bands from the highest down.",
        ),
        ("limit-twice", "A rail, signal or contact that stands twice", "A reading must have one limit.", "Keep one of them."),
    ),
)
"""Code -> explanation."""
