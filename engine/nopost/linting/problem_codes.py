"""Every problem code with its explanation: the one table that is printed, and from which SARIF rules are made.

Codes of the loader keep a knowledge base from being used at all. Codes of the closer look: errors make a part of the
knowledge useless or unsafe, warnings weaken it. Codes of the schemas stand in `nopost.knowledge.schema`.
"""

from __future__ import annotations

from types import MappingProxyType

from nopost.knowledge.problem import Explanation, Severity, explained
from nopost.knowledge.schema import SCHEMA_CODES

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


_CLOSER_LOOK_ERRORS = explained(
    Severity.ERROR,
    (
        (
            "no-caution",
            "A step without a caution that its hazard asks for",
            "A hazard's applies says by words, tools, parts and power which steps it threatens. This one comes unwarned.",
            "Add the hazard to the step; or, when the step is not meant, make the words in the hazard's applies narrower.",
        ),
        (
            "variant-twice",
            "Two board records for one variant",
            "Images and releases are judged by the variant. With two records of it, the wrong one may be taken.",
            "Write the variant as it is printed on this board, with every suffix; or delete one of the records.",
        ),
        (
            "shows-twice",
            "Two causes that show the very same",
            "Mostly one was copied and its numbers not changed yet. The two share one chance, and no answer can part them.",
            "Change what differs with it; or make one cause of the two, when one fix serves both.",
        ),
        (
            "never-asked",
            "A question that nobody is ever asked",
            "Its when asks for an answer that nothing gives, or its test is never offered, so its answers never help.",
            "Correct its when, or let a rule open it.",
        ),
        (
            "never-offered",
            "An action that is never offered",
            "Its when asks for an answer that nothing gives, or the rules that would open it never fire.",
            "Correct its when, or the rule that opens it.",
        ),
        (
            "never-fires",
            "A rule that can never fire",
            "Its conditions exclude each other, or ask for answers that no question, rule or record gives.",
            "Correct the conditions, or delete the rule.",
        ),
        (
            "never-seen",
            "A finding that nobody can answer",
            "It has no question, no rule derives it, no instrument reads it and no code tells it.",
            "Add question:, or a rule that derives it; or delete it.",
        ),
        (
            "no-open-fix",
            "A cause that is found and cannot be mended",
            "None of its fixes can ever be offered, so all that is left is the workshop.",
            "Name another fix, or correct the when of one of them.",
        ),
        (
            "rule-contradicts",
            "Two rules that contradict each other",
            "One opens what the other closes, weighs for what the other rules out, or derives another answer from it.",
            "Give one of them a condition that excludes the other.",
        ),
        (
            "list-name",
            "A name in checklist.yaml that leads nowhere",
            "The fixed checklist, against which the advice is measured, asks for a finding, answer or fix that there is not.",
            "Correct the name, or take the entry out.",
        ),
        (
            "list-answers",
            "Answers in checklist.yaml without a finding or a fix",
            "is says after which answers to look the fix under do is done; without both of them it says nothing.",
            "Write look, is and do, or leave is out.",
        ),
        (
            "title-twice",
            "Two items of one kind with the same title",
            "A person sees titles only and cannot tell which is meant.",
            "Say in each title what sets it apart.",
        ),
        (
            "answer-order",
            "A graded finding whose answers seem to run backwards",
            "Answers go from least to most abnormal. When the last one is the usual one, no cause can push it any further.",
            "Turn the order round, and check the numbers of the causes.",
        ),
    ),
)
_CLOSER_LOOK_WARNINGS = explained(
    Severity.WARNING,
    (
        (
            "cause-twins",
            "Two causes that are mended differently and that nothing tells apart",
            "Expected weight of evidence: under 3 decibans (two to one) in the best look, or under 10 in all together.",
            "Give the finding that is named more different numbers where the trade knows them, or add a finding that differs.",
        ),
        (
            "never-so",
            "A value in a condition that never happens",
            "Nothing gives this answer, so the condition is narrower than it looks.",
            "Take the value out, or let a question or rule give it.",
        ),
        (
            "never-together",
            "A rule whose conditions cannot be met in one sitting",
            "One of its questions is only asked when another of its conditions does not hold.",
            "Take one of the two conditions out, or widen the when of the question.",
        ),
        (
            "rule-shadowed",
            "A rule that says what a broader rule says already",
            "Whenever it fires, the other one has fired too. The next editor changes one of them and wonders.",
            "Delete the consequence here, or narrow the broader rule.",
        ),
        (
            "weight-sum",
            "Weights that are not of a thousand machines",
            "Only their ratios count, but a person who writes the next cause thinks of a thousand machines.",
            "Multiply all of them by the factor in the hint.",
        ),
        (
            "weight-share",
            "A cause with most of the weight, or with next to none",
            "A cause with a fifth of all faults is a group of several; one under a two-thousandth is never asked about.",
            "Split it, or join it to a cause that is mended alike.",
        ),
        (
            "unused-finding",
            "A finding that bears on nothing",
            "No cause names it and no condition asks for it, so its answer changes nothing.",
            "Name it in the causes that it tells of, or delete it.",
        ),
        ("unused-hazard", "A hazard that is never shown", "No step names it and no rule raises it.", "Name it, or delete it."),
        ("unused-tool", "A tool that nothing needs", "No finding or action asks for it.", "Name it under needs:, or delete it."),
        ("unused-part", "A part to which nothing belongs", "No item has this part.", "Delete it from base.yaml."),
        (
            "code-twice",
            "A code that stands twice in its table with the same meaning",
            "The second row adds nothing and may be edited in the belief that it counts.",
            "Keep one of the rows.",
        ),
        (
            "title-near",
            "Two titles made of the same words",
            "They are taken for each other on a screen.",
            "Say in each title what sets it apart.",
        ),
        (
            "hard-text",
            "A text that is hard to read",
            "Flesch-Kincaid grade over 8 (Kincaid et al. 1975). People read it under stress, many in a foreign language.",
            "Shorter sentences, shorter words, one thought each.",
        ),
        (
            "long-sentence",
            "A sentence of more than 25 words",
            "Its beginning is forgotten at its end.",
            "Make two sentences of it.",
        ),
        (
            "long-question",
            "A question of more than 20 words",
            "It must be kept in mind while looking at the machine.",
            "Move what explains it to look:.",
        ),
        (
            "double-question",
            "Two questions in one",
            "The answer to one of them is lost.",
            "Ask one thing; make another finding of the rest.",
        ),
        (
            "double-negative",
            "Two negations in one question",
            "People answer the opposite of what they mean.",
            "Ask it the other way round.",
        ),
        (
            "vague-source",
            "A source that says nothing",
            "A number is only worth what can be looked up behind it.",
            "Name a published source, or say: common practice, no source; or: judgement.",
        ),
    ),
)
CLOSER_LOOK_CODES = {**_CLOSER_LOOK_ERRORS, **_CLOSER_LOOK_WARNINGS}
"""Code -> explanation."""


EXCEPTION_CODES = explained(
    Severity.ERROR,
    (
        (
            "bad-exception",
            "An exception for a code that cannot be excepted",
            "Only what the closer look reports can be excepted; what keeps a knowledge base from loading must be mended.",
            "Correct the code, or delete the entry and mend what it is about.",
        ),
        (
            "idle-exception",
            "An exception that takes nothing off any more",
            "What it excused was mended, renamed or never there. Left standing, it would excuse the next mistake unseen.",
            "Delete the entry in exceptions.yaml, or correct the items under about.",
        ),
    ),
)
EXPLANATIONS: MappingProxyType[str, Explanation] = MappingProxyType(
    dict(sorted({**LOADER_CODES, **SCHEMA_CODES, **CLOSER_LOOK_CODES, **EXCEPTION_CODES}.items()))
)
"""Code -> explanation, in order of code."""
