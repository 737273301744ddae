"""The results as JUnit XML, for a build server."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

if TYPE_CHECKING:
    from warmstead.corpus.report import Report, Result

_ELEMENT = {"failed": "failure", "no_answer": "error", "left_out": "skipped", "not_asked": "skipped"}


def junit(report: Report) -> str:
    """Return the XML: a wrong answer is a failure, no answer an error, what was left out or not asked skipped."""
    root = ElementTree.Element("testsuites", name="reference cases")
    for question in sorted({result.case.question for result in report.results}):
        results = [result for result in report.results if result.case.question == question]
        kinds = [_ELEMENT.get(result.outcome) for result in results]
        suite = ElementTree.SubElement(
            root,
            "testsuite",
            name=question,
            tests=str(len(results)),
            failures=str(kinds.count("failure")),
            errors=str(kinds.count("error")),
            skipped=str(kinds.count("skipped")),
            time=f"{sum(result.seconds for result in results):.3f}",
        )
        for result in results:
            _add_case(suite, result)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True)


def _add_case(suite: ElementTree.Element, result: Result) -> None:
    case = result.case
    element = ElementTree.SubElement(
        suite, "testcase", classname=case.question, name=case.id, time=f"{result.seconds:.3f}"
    )
    if result.outcome != "passed":
        told = [str(check) for check in result.failures]
        message = result.reason or told[0]
        told_in_full = ElementTree.SubElement(element, _ELEMENT[result.outcome], message=message)
        told_in_full.text = "\n".join([f"{case.title} ({case.provenance}, {case.source.key})", *told])
