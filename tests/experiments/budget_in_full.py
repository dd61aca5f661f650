"""One budget in full, as a table for people: `python -m tests.experiments.budget_in_full RECORD.json`.

The record is what `photomeasure measure ... --monte-carlo --json RECORD.json` writes; nothing is computed here but the
sensitivities (effect over u) and the shares.
"""

from __future__ import annotations

import sys
from pathlib import Path

from photomeasure.record.schema import InputRow, Record, read_record


def _row(row: InputRow, variance: float) -> str:
    kind = f"{row.distribution}, {row.evaluation}" if row.evaluation else row.distribution
    slope = "-" if row.evaluation == "A" else f"{row.height_u_mm / row.u:+.4g}"
    return (
        f"| {row.quantity} | {row.value:.6g} {row.unit} | {row.u:.3g} {row.unit} | {kind} | {slope} "
        f"| {abs(row.height_u_mm):.3f} | {100 * row.height_u_mm**2 / variance:.1f} | {row.source} |"
    )


def table(record: Record) -> str:
    """Rows by contribution, the largest first, and the statement that they lead to."""
    variance = sum(row.height_u_mm**2 for row in record.inputs)
    lines = [
        "| input quantity | value | u | distribution, type | mm per unit | u of the height, mm | share, % | where it comes from |",
        "|---|---|---|---|---|---|---|---|",
        *(_row(row, variance) for row in sorted(record.inputs, key=lambda row: -abs(row.height_u_mm))),
        f"| **together** | | | | | **{variance**0.5:.3f}** | 100.0 | root of the sum of squares |",
        "",
    ]
    if record.height_mm is not None and record.U_mm is not None and record.interval_mm is not None:
        low, high = record.interval_mm
        lines.append(
            f"Height {record.height_mm:.2f} mm, u = {record.u_mm:.3f} mm, U = {record.U_mm:.2f} mm "
            f"({low:.2f} to {high:.2f} mm). {record.coverage_sentence}"
        )
    if record.monte_carlo is not None:
        check = record.monte_carlo
        low, high = check.interval_mm
        lines.append(f"{check.sentence} {check.height_mm:.2f} mm, u = {check.u_mm:.3f} mm, {low:.2f} to {high:.2f} mm.")
    return "\n".join(lines)


def main() -> None:
    print(table(read_record(Path(sys.argv[1]))))


if __name__ == "__main__":
    main()
