"""What the drafted mapping gets right, wrong and leaves open, over many header styles."""

from collections import Counter
from collections.abc import Iterator

from header_styles import STYLES, VALUES, WORDS, Style
from lengthwise.dictionary import schema
from lengthwise.ingest.draft import CERTAIN, LIKELY, Proposal, propose
from lengthwise.ingest.recodes import recodes_of


def verdicts(style: Style) -> list[tuple[str, Proposal]]:
    """Return (right, wrong, open, 'certain and wrong') with the proposal, for every column."""
    found = []
    for header, (name, constants) in style.columns.items():
        proposal = propose(header, VALUES[name])
        decided = proposal.status in (CERTAIN, LIKELY)
        right = (proposal.field, proposal.constants) == (name, constants)
        verdict = "open" if not decided else "right" if right else "wrong"
        if verdict == "wrong" and proposal.status == CERTAIN:
            verdict = "certain and wrong"
        found.append((verdict, proposal))
    return found


def word_verdicts() -> list[tuple[str, str]]:
    """Return every word of a column with its verdict: right, wrong, open, certain and wrong."""
    found = []
    for (export, name), words in WORDS.items():
        recodes = recodes_of(schema(export).field(name), list(words), export)
        for one in recodes.items if recodes else ():
            right = one.to == (words[one.word],)
            verdict = "open" if one.status == "question" else "right" if right else "wrong"
            if verdict == "wrong" and one.status == "certain":
                verdict = "certain and wrong"
            found.append((one.word, verdict))
    return found


_VERDICTS = ("right", "wrong", "open", "certain and wrong")


def run() -> Iterator[dict[str, object]]:
    """Yield the rows of the table: headers by style, then the words of columns."""
    total: Counter[str] = Counter()
    for style in STYLES:
        counts = Counter(verdict for verdict, _ in verdicts(style))
        total += counts
        yield {"style": style.name, **{name: counts[name] for name in _VERDICTS}}
    yield {"style": f"all {len(STYLES)} styles", **{name: total[name] for name in _VERDICTS}}
    words = Counter(verdict for _, verdict in word_verdicts())
    yield {"words of columns": sum(words.values()), **{name: words[name] for name in _VERDICTS}}
