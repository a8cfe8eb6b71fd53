"""An assessment of given answers on screen: causes, the next step, and the steps after it."""

from __future__ import annotations

from nopost.advice.assess import Assessment, Assessor
from nopost.advice.effort import rate
from nopost.advice.outlook import outlook
from nopost.advice.step import StepKind
from nopost.cases.plan_offer import plan_offer
from nopost.cases.session import Session
from nopost.cases.summary import step_title
from nopost_cli import screens
from nopost_cli.ending import show_offer
from nopost_cli.step_screen import record_line
from nopost_cli.terminal import make_console

SHOWN = 6


def show_assessment(assessor: Assessor, session: Session, assessment: Assessment) -> None:
    """Print it."""
    knowledge = assessor.knowledge
    console = make_console()
    step = assessment.advice.step
    console.print(screens.heading(console, "Causes"))
    console.print(screens.ranking(console, knowledge, assessment, SHOWN))
    for doubt in screens.doubts(knowledge, assessment):
        console.print(doubt)
    if assessment.outcome.firings:
        console.print(screens.rule_chain(console, knowledge, assessment))
    console.print(screens.heading(console, "Next step"))
    for part in screens.cautions(knowledge, assessment, step):
        console.print(part)
    prospects = outlook(assessor.model, assessment, step.id) if step.kind is StepKind.ASK else []
    why = screens.why_now(knowledge, step, prospects, assessment.advice.now, rate(knowledge, session.person))
    for part in screens.step_body(knowledge, step, session.person, session.currency, why):
        console.print(part)
    for part in record_line(knowledge, session, step):
        console.print(part)
    show_offer(console, plan_offer(knowledge, session, assessment))
    if assessment.advice.plan:
        console.print(screens.heading(console, "If nothing more is asked: fixes in this order"))
        fixes = [f"{knowledge.actions[a].title}{_reached(share)}" for a, share in assessment.advice.plan]
        console.print(screens.ordered(fixes))
    if assessment.advice.others:
        console.print(screens.heading(console, "Other good steps"))
        console.print(screens.ordered([step_title(knowledge, other) for other in assessment.advice.others[:3]]))


def _reached(share: float) -> str:
    """How often one gets as far as this fix in the plan."""
    return "" if share > 0.995 else f" (in {share * 100:.0f} of 100 such cases)"
