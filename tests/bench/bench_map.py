"""What the drafted mapping gets right, wrong and leaves open, over many header styles.

Run as `python -m bench.bench_map` from `tests/`.
"""

from collections import Counter

from header_styles import STYLES, VALUES, Style
from lengthwise.ingest.draft import CERTAIN, LIKELY, Proposal, propose


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


def main() -> None:
    """Print the table."""
    total: Counter[str] = Counter()
    for style in STYLES:
        counts = Counter(verdict for verdict, _ in verdicts(style))
        total += counts
        print(f"{style.name:28} {dict(counts)}")
        for verdict, item in verdicts(style):
            if verdict != "right":
                print(
                    f"    {verdict}: {item.header} -> {item.field} {item.constants} ({item.reason})"
                )
    print(f"{'all':28} {dict(total)}")


if __name__ == "__main__":
    main()
