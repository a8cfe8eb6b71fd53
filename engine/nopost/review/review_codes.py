"""What the codes of the closer look mean: errors make a part of the knowledge useless or unsafe, warnings weaken it."""

from __future__ import annotations

from nopost.knowledge.problem import Severity
from nopost.review.explanation import explained

_ERRORS = explained(
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
_WARNINGS = explained(
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
REVIEW_CODES = {**_ERRORS, **_WARNINGS}
"""Code -> explanation."""
