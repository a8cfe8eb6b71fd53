"""What the codes of the schemas mean: schema-<rule of JSON Schema that is broken>."""

from __future__ import annotations

from nopost.knowledge.problem import Severity
from nopost.review.explanation import explained

_WHY = "Each kind of file has a schema in schemas/, where every key is described. A file that breaks it is not read further."
_ROWS = (
    ("additionalProperties", "A key that the schema does not know", "Correct the key; the nearest known one is named."),
    ("anyOf", "None of several allowed forms fits", "Write it in one of the forms that the hint names."),
    ("enum", "Not one of the allowed words", "Use one of the words that the hint lists."),
    ("exclusiveMaximum", "A number that is too large", "Stay below the limit in the hint."),
    ("exclusiveMinimum", "A number that is too small", "Go above the limit in the hint."),
    ("maxItems", "A list that is too long", "Shorten the list, or split the item in two."),
    ("maxLength", "A text that is too long", "Shorten it; a title must fit on one line of a screen."),
    ("maxProperties", "Too many keys", "Write each thing as an entry of its own."),
    ("maximum", "A number that is too large", "Stay within the limit in the hint; a probability is at most 1."),
    ("minItems", "A list that is too short", "Name at least as many as the hint says, or leave the key out."),
    ("minLength", "A text that is too short", "Write a full line."),
    ("minProperties", "Too few keys", "Fill it in, or leave the whole key out."),
    ("minimum", "A number that is too small", "Stay within the limit in the hint."),
    ("oneOf", "Not exactly one of several forms", "Keep one of the forms, such as finding: or fact:, not both."),
    (
        "pattern",
        "A text of the wrong shape",
        "Ids have small letters, digits and single hyphens; codes and dates as the hint says.",
    ),
    ("required", "A key is missing", "Add the key that is named; every item needs a source."),
    (
        "type",
        "A value of the wrong kind",
        "Write text, a number, a list or key: value as the hint says; quote text that looks like a number.",
    ),
    ("uniqueItems", "A list that names something twice", "Keep one of them."),
    ("dependentRequired", "A key without the key it belongs to", "Add the other key, or take both out."),
    ("const", "Not the one allowed value", "Write the value in the hint."),
    ("not", "Something that is not allowed here", "Take it out, as the hint says."),
)
SCHEMA_CODES = explained(Severity.ERROR, tuple((f"schema-{rule}", short, _WHY, mend) for rule, short, mend in _ROWS))
"""Code -> explanation."""
