"""The findings as a forest: each has at most one parent among them, besides the hypothesis.

Reports of a tree are dependent given the hypothesis. Their joint probability, and the distribution of any finding of the tree
given them, come from summing out what is not observed: messages go from the reports up to the root and from there down to the
finding that is asked for (Pearl 1988, "Probabilistic Reasoning in Intelligent Systems", chapter 4). This is exact. It is done for
K hypotheses at once; only the part of the tree between reports, root and what is asked for takes part.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.finding_node import FindingNode, HypothesisRows, child_node, instrument_node, root_node
from nopost.diagnosis.belief.hypotheses import Floats, Hypotheses, Ints
from nopost.diagnosis.belief.likelihood import LARGEST_CACHED_ARRAY, AnswerLikelihood, build_answer_likelihood
from nopost.knowledge.model import Knowledge

Weights = Mapping[str, Floats]
"""Finding -> (answers,) P(all reports of it | true answer)."""


MOST_JOINT_CLASSES = 2_000
"""So many sets of findings have their joint classes kept (judgement: a few megabytes)."""


class FindingForest:
    """The forest of one knowledge base; nodes are built on first use.

    Attributes:
        parent: id of a finding -> id of its parent, "" for a root.
        root: id of a finding -> id of the root of its tree.
    """

    def __init__(self, knowledge: Knowledge, hypotheses: Hypotheses) -> None:
        """Raises nothing on knowledge that passed its checks; a circle of parents would not end."""
        self._knowledge, self._hypotheses = knowledge, hypotheses
        self.parent = {f.id: f.parent_finding for f in knowledge.findings.values()}
        self._paths = {name: self._path(name) for name in self.parent}
        self.root = {name: path[0] for name, path in self._paths.items()}
        self._likelihoods: dict[str, AnswerLikelihood] = {}
        self._nodes: dict[str, FindingNode] = {}
        self._classes: dict[tuple[str, ...], Ints] = {}

    def _path(self, finding: str) -> tuple[str, ...]:
        """From the root of the tree to the finding."""
        path = [finding]
        while self.parent[path[0]]:
            path.insert(0, self.parent[path[0]])
        return tuple(path)

    def descendants(self, finding: str) -> tuple[str, ...]:
        """All findings below it."""
        return tuple(name for name, path in self._paths.items() if finding in path[:-1])

    def with_ancestors(self, findings: Iterable[str]) -> tuple[str, ...]:
        """These findings and all above them, parents before children."""
        involved = {name for finding in findings for name in self._paths[finding]}
        return tuple(sorted(involved, key=lambda name: (len(self._paths[name]), name)))

    def path(self, finding: str) -> tuple[str, ...]:
        """From the root of its tree to the finding, both included."""
        return self._paths[finding]

    def answer_likelihood(self, finding: str) -> AnswerLikelihood:
        """P(true answer | hypothesis) as the causes give it, of a finding that is no instrument.

        It is the distribution of the true answer as long as nothing is known of a parent only for a root.
        """
        if finding not in self._likelihoods:
            knowledge = self._knowledge
            item = knowledge.findings[finding]
            likelihood = build_answer_likelihood(item, knowledge.causes, self._hypotheses, knowledge.base)
            if likelihood.by_class_pair.size > LARGEST_CACHED_ARRAY:
                return likelihood
            self._likelihoods[finding] = likelihood
        return self._likelihoods[finding]

    def node(self, finding: str) -> FindingNode:
        """The node of a finding."""
        if finding not in self._nodes:
            node = self._build(finding)
            if node.size > LARGEST_CACHED_ARRAY:
                return node
            self._nodes[finding] = node
        return self._nodes[finding]

    def _build(self, finding: str) -> FindingNode:
        knowledge = self._knowledge
        item = knowledge.findings[finding]
        if not item.parent_finding:
            return root_node(item, self.answer_likelihood(finding))
        parent = knowledge.findings[item.parent_finding]
        if item.reads:
            return instrument_node(item, parent, len(self._hypotheses.causes))
        causes = [knowledge.causes[name] for name in self._hypotheses.causes]
        return child_node(
            item,
            parent,
            causes,
            self.answer_likelihood(finding),
            self.joint_classes([parent.id]),
            lambda rows: self.true_answers(rows, {}, [parent.id])[parent.id],
        )

    def joint_classes(self, findings: Iterable[str]) -> Ints:
        """(C,) classes of causes that have the same effect on all of these findings and on those above them."""
        involved = self.with_ancestors(findings)
        if involved not in self._classes:
            classes = np.zeros(len(self._hypotheses.causes), dtype=np.intp)
            for name in involved:
                node = self.node(name)
                classes = np.unique(classes * node.classes + node.class_of_cause, return_inverse=True)[1].reshape(-1)
            if len(self._classes) >= MOST_JOINT_CLASSES:
                self._classes.clear()
            self._classes[involved] = classes
        return self._classes[involved]

    def conditional_of_single_causes(self, finding: str) -> Floats:
        """(C, the parent's answers, answers) P(true answer | this cause alone, the parent's answer)."""
        return self.conditional(finding, HypothesisRows.single(len(self._hypotheses.causes)))

    def conditional(self, finding: str, rows: HypothesisRows) -> Floats:
        """(K, the parent's answers, answers) P(true answer | hypothesis, the parent's answer)."""
        node = self.node(finding)
        return node.conditional(node.places(rows))

    def trees(self, weights: Weights) -> dict[str, dict[str, Floats]]:
        """Root -> the weights of its tree."""
        result: dict[str, dict[str, Floats]] = {}
        for name, weight in weights.items():
            result.setdefault(self.root[name], {})[name] = weight
        return result

    def likelihood(self, rows: HypothesisRows, weights: Weights) -> Floats:
        """(K,) P(reports of one tree | hypothesis)."""
        return TreePass(self, rows, weights).likelihood()

    def true_answers(self, rows: HypothesisRows, weights: Weights, findings: Collection[str]) -> dict[str, Floats]:
        """For each of these findings of one tree (K, answers) P(true answer | hypothesis, reports of the tree)."""
        return TreePass(self, rows, weights).true_answers(findings)


@dataclass
class TreePass:
    """Messages through one tree for K hypotheses, given the weights of its reports (of no other tree)."""

    forest: FindingForest
    rows: HypothesisRows
    weights: Weights

    def __post_init__(self) -> None:
        self._nodes: dict[str, FindingNode] = {}
        self._places: dict[str, Ints] = {}
        self._children: dict[str, list[str]] = {}
        self._to_parent: dict[str, Floats] = {}
        for name in reversed(self.forest.with_ancestors(self.weights)):
            if parent := self.forest.parent[name]:
                node, places = self._node(name)
                self._to_parent[name] = node.to_parent(places, self._from_below(name))
                self._children.setdefault(parent, []).append(name)

    def _node(self, name: str) -> tuple[FindingNode, Ints]:
        """A node and (K,) its rows of the hypotheses."""
        if name not in self._nodes:
            self._nodes[name] = self.forest.node(name)
            self._places[name] = self._nodes[name].places(self.rows)
        return self._nodes[name], self._places[name]

    def _from_below(self, name: str, without: str = "") -> Floats:
        """(answers,) or (K, answers) P(reports of the finding and below it | its true answer); one child may be left out."""
        weight = self.weights.get(name)
        for child in self._children.get(name, ()):
            if child != without:
                message = self._to_parent[child]
                weight = message if weight is None else weight * message
        return np.ones(1) if weight is None else weight

    def likelihood(self) -> Floats:
        """(K,) P(reports | hypothesis)."""
        if not self.weights:
            return np.ones(len(self.rows.first))
        root = self.forest.root[next(iter(self.weights))]
        node, places = self._node(root)
        weight = self._from_below(root)
        if weight.ndim == 1:
            return np.asarray((node.ratios @ weight).take(places))
        return np.asarray((node.prior(places) * weight).sum(axis=1))

    def true_answers(self, findings: Collection[str]) -> dict[str, Floats]:
        """For each finding (K, answers) P(true answer | hypothesis, reports)."""
        from_above: dict[str, Floats] = {}
        result = {}
        for name in findings:
            for step in self.forest.path(name):
                if step not in from_above:
                    from_above[step] = self._from_above(step, from_above)
            joint = from_above[name] * self._from_below(name)
            result[name] = joint / joint.sum(axis=1, keepdims=True)
        return result

    def _from_above(self, name: str, from_above: Mapping[str, Floats]) -> Floats:
        """(K, answers) P(true answer, reports that are not of the finding nor below it | hypothesis), scaled by any factor."""
        node, places = self._node(name)
        parent = self.forest.parent[name]
        if not parent:
            return node.prior(places)
        return node.from_parent(places, from_above[parent] * self._from_below(parent, without=name))


def largest_differences(forest: FindingForest, findings: Sequence[str]) -> dict[str, float]:
    """The most that the probability of any reported answer differs between two hypotheses, 0 to 1, for each finding.

    A finding counts as differing as much as the parent does when that is more and its answers depend on the parent's.
    """
    result: dict[str, float] = {}
    for name in forest.with_ancestors(findings):
        node, parent = forest.node(name), forest.parent[name]
        own = node.ratios / node.ratios.sum(axis=1, keepdims=True) if parent else node.ratios
        difference = float(np.ptp(own @ node.misreports, axis=0).max())
        if node.given is not None and node.special is not None:
            through_parent = min(result[parent], float(np.ptp(node.given, axis=0).max()))
            outright = float(np.ptp(node.special, axis=0).max()) if len(node.special) else 0.0
            difference = max(difference, through_parent, outright)
        result[name] = difference
    return {name: result[name] for name in findings}
