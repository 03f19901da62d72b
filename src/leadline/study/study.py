"""A study, ready to be computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from leadline.errors import Issue, StudyError
from leadline.sampling import Input, RankCorrelation
from leadline.study.data_files import DataFolder
from leadline.study.document import Ask, StudyDocument
from leadline.study.mapping import copied
from leadline.study.marked import PracticeNumber, knowledge_of, practices_of
from leadline.study.places import Place, Tree, in_document_order
from leadline.study.reading import Reading, read_value
from leadline.study.replacing import replace_values
from leadline.study.resolved import digest_of, resolved
from leadline.study.suggest import meant, shortened
from leadline.study.understanding import Understood, issues_in_options, issues_in_values, understand
from leadline.vehicle import Mission

__all__ = ["Study"]


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """A study: checked, bound to a mission, and never changed.

    Parameters
    ----------
    document
        The document with everything settled, in SI.
    mission
        What is flown; its columns point into `inputs`.
    inputs
        Every dispersed number with its law: of the elements by name, of the legs in order,
        of the requirements by name.
    correlations
        Rank correlations between inputs.
    notes
        What a reader should know of how the study was understood.
    practices
        Numbers that rest on a practice law, with what the law is.
    knowledge
        Names of the inputs that are fixed and only not known; the others differ from
        flight to flight.
    digest
        SHA-256 of the resolved study; the same for texts that mean the same.
    source_text
        The text it came from; empty where there was none.
    tree, folder
        The study as written, and where its data files lie; options start from them.
    """

    document: StudyDocument
    mission: Mission
    inputs: tuple[Input, ...]
    correlations: tuple[RankCorrelation, ...]
    notes: tuple[str, ...]
    practices: tuple[PracticeNumber, ...]
    knowledge: frozenset[str]
    digest: str
    source_text: str = field(repr=False)
    tree: dict[str, Tree] = field(repr=False)
    folder: DataFolder = field(repr=False)

    @classmethod
    def of(cls, reading: Reading, folder: DataFolder, source_text: str = "") -> Study:
        """Make a study of what was read.

        Raises
        ------
        StudyError
            With everything that is wrong, in the order of the document.
        """
        base = understand(reading.tree, folder)
        issues = [*reading.issues, *base.issues, *issues_in_options(reading.tree, base, folder)]
        if issues:
            raise StudyError(in_document_order(issues, reading.root))
        return _study(base, source_text, reading.tree, folder)

    @property
    def title(self) -> str:
        """What the study is about."""
        return self.document.title

    @property
    def ask(self) -> Ask | None:
        """What counts as good enough: chance and confidence."""
        return self.document.ask

    @property
    def option(self) -> str | None:
        """The option that this study was made from; None for the study itself."""
        return self.document.option

    @property
    def options(self) -> tuple[str, ...]:
        """Names of the options, in the order written."""
        return tuple(self.document.options)

    def resolved(self) -> dict[str, Any]:
        """Write the study in SI with everything that was left unsaid; reading it gives the same digest."""
        return resolved(self.document)

    def with_option(self, name: str) -> Study:
        """Make the study that an option stands for.

        Raises
        ------
        StudyError
            If there is no such option.
        """
        if name not in self.options:
            message = f'There is no option "{shortened(name)}".'
            raise StudyError([Issue(("options",), message, meant(name, self.options, "Options"), "unknown-option")])
        return self._replaced(self.document.options[name], option=name)

    def with_values(self, values: Mapping[str, object]) -> Study:
        """Make the study in which some values are replaced.

        Parameters
        ----------
        values
            New values by their places, such as ``{"tern.dry_mass": "17 t"}``. A text is read
            as it would be in a study; None takes an entry out.

        Raises
        ------
        StudyError
            With the place of every value that does not fit.
        """
        trees: dict[str, Tree] = {}
        issues: list[Issue] = []
        for place, value in values.items():
            try:
                trees[place] = read_value(value) if isinstance(value, str) else copied(value)
            except StudyError as error:
                issues += [Issue((place, *i.path), i.message, i.remedy, i.code) for i in error.issues]
        if issues:
            raise StudyError(issues)
        return self._replaced(trees, option=self.option)

    def _replaced(self, values: Mapping[str, Tree], option: str | None) -> Study:
        replaced = replace_values(self.tree, values)
        tree = replaced.tree if option is None else {**replaced.tree, "option": option}
        understood = understand(tree, self.folder)
        issues = issues_in_values(replaced, understood)
        if issues:
            raise StudyError(in_document_order(issues, Place()))
        return _study(understood, self.source_text, tree, self.folder)


def _study(understood: Understood, source_text: str, tree: dict[str, Tree], folder: DataFolder) -> Study:
    document, bound = understood.document, understood.bound
    if document is None or bound is None:  # without issues there is always a document
        raise StudyError(understood.issues)
    practices = practices_of(understood.marked, bound.inputs)
    return Study(
        document,
        bound.mission,
        bound.inputs,
        understood.correlations,
        notes=(*document.notes, *bound.notes, *(one.note for one in practices)),
        practices=practices,
        knowledge=knowledge_of(understood.marked, bound.inputs),
        digest=digest_of(understood.resolved),
        source_text=source_text,
        tree=tree,
        folder=folder,
    )
