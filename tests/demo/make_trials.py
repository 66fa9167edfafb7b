"""Write every trials.csv and sensor log of the demo: `python -m tests.demo.make_trials [CONTENT]`.

Same bytes on every run and platform; tests/demo/test_demo_data.py compares them with what is committed.
"""

import csv
import io
import math
import sys
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from .bench_model import Setting, SteadyState, failure_kind, failure_probability, steady_state
from .instruments import readings
from .invented_cards import CARDS, SAMPLES
from .noise import Noise
from .plan import PLANS, Plan, PlannedRun, Session
from .sensor_log import Stretch, as_desk_csv, as_plain_csv, record

PAUSE_S = 40
RESTART_S = 260
"""After a failed run the machine is restarted and warmed up again."""
HOTSPOT_ABORT_C = 94.0
"""The tester stops a run by hand when the hotspot passes this."""
LOGGERS = {"curlew-millrace": as_desk_csv, "plover-millrace": as_plain_csv}


@dataclass(frozen=True, kw_only=True, slots=True)
class MadeRun:
    """One run with its row."""

    row: dict[str, str]
    start: datetime
    duration_s: int
    state: SteadyState
    setting: Setting
    ambient_c: float


def files() -> dict[str, bytes]:
    """Every generated file: path relative to content/write-ups → bytes."""
    made: dict[str, bytes] = {}
    for plan in PLANS:
        made.update(_write_up_files(plan))
    return made


def _write_up_files(plan: Plan) -> dict[str, bytes]:
    noise = Noise(plan.seed)
    made: dict[str, bytes] = {}
    rows: list[dict[str, str]] = []
    for session in plan.sessions:
        runs = _session_runs(plan, session, noise, len(rows))
        rows += [run.row for run in runs]
        if session.log:
            card, sample = CARDS[plan.card], SAMPLES[plan.card, plan.sample]
            found = record(_stretches(runs), card, sample, plan.bench, noise)
            made[f"{plan.slug}/{session.log}"] = LOGGERS[plan.slug](found)
    made[f"{plan.slug}/trials.csv"] = _as_csv(plan, rows)
    return made


def _session_runs(plan: Plan, session: Session, noise: Noise, already: int) -> list[MadeRun]:
    block = noise.shuffled(session.block) if session.shuffled else list(session.block)
    runs: list[MadeRun] = []
    clock = session.start
    for planned in (*session.before, *block, *session.after):
        hours = (clock - session.start).total_seconds() / 3600.0
        trial = f"{plan.sample}{already + len(runs) + 1:02d}"
        ambient_c = session.ambient_c + 0.18 * hours + 0.25 * math.sin(1.9 * hours) + plan.disturbed.get(trial, 0.0)
        run = _make_run(plan, session, planned, trial, clock, ambient_c, hours, noise)
        runs.append(run)
        failed = run.row["outcome"] not in ("completed", "aborted")
        clock += timedelta(seconds=run.duration_s + (RESTART_S if failed else PAUSE_S))
    return runs


def _make_run(
    plan: Plan, session: Session, planned: PlannedRun, trial: str, start: datetime, ambient_c: float, hours: float,
    noise: Noise,
) -> MadeRun:  # fmt: skip
    sample, setting = SAMPLES[plan.card, plan.sample], planned.setting
    state = steady_state(CARDS[plan.card], sample, plan.load, setting, ambient_c)
    score = state.score * (1 + plan.score_noise * noise.normal()) * (1 - 0.0002 * hours)
    values = readings(plan.bench, sample, state, ambient_c, score, noise)
    chance, draw, part = noise.uniform(), noise.uniform(), noise.uniform()
    outcome, duration_s, note = "completed", planned.duration_s, ""
    if chance < failure_probability(sample, setting, planned.duration_s):
        outcome, duration_s = failure_kind(sample, setting, draw), max(9, int(part * planned.duration_s))
        note = {"crashed": "driver reset", "hung": "picture stood still, restart needed"}.get(outcome, "")
        note = note or ("wrong tiles in the output check" if session.log else "flashing triangles on the screen")
    elif state.hotspot_temp_c > HOTSPOT_ABORT_C:
        outcome, duration_s = "aborted", 70 + int(part * 40)
        note = "stopped by hand, hotspot near its limit"
    row = {
        "trial": trial, "started": start.isoformat(), "power_limit_pct": f"{setting.power_limit_pct:g}",
        "voltage_offset_mv": f"{setting.voltage_offset_mv:g}",
        "memory_offset_mhz": f"{setting.memory_offset_mhz:g}", "fan_mode": setting.fan_mode,
        "sequence": planned.sequence, "outcome": outcome, "duration_s": str(duration_s), "driver": plan.driver,
        "log": session.log, "excluded": plan.excluded.get(trial, ""), "note": note,
    }  # fmt: skip
    kept = values if outcome == "completed" else {"ambient_c": values["ambient_c"]}
    for column, value in kept.items():
        row[column] = _printed(value / plan.divisors.get(column, 1.0), plan.decimals[column])
    return MadeRun(row=row, start=start, duration_s=duration_s, state=state, setting=setting, ambient_c=ambient_c)


def _printed(value: float, decimals: int) -> str:
    return f"{round(value, decimals):.{max(decimals, 0)}f}"


def _stretches(runs: list[MadeRun]) -> list[Stretch]:
    """Runs and the pauses around them, without a second left out."""
    first = runs[0]
    lead = timedelta(seconds=30)
    found = [
        Stretch(start=first.start - lead, duration_s=30, state=None, setting=first.setting, ambient_c=first.ambient_c)
    ]
    for index, run in enumerate(runs):
        found.append(
            Stretch(
                start=run.start, duration_s=run.duration_s, state=run.state, setting=run.setting,
                ambient_c=run.ambient_c,
            )
        )  # fmt: skip
        end = run.start + timedelta(seconds=run.duration_s)
        until = runs[index + 1].start if index + 1 < len(runs) else end + lead
        pause_s = int((until - end).total_seconds())
        found.append(Stretch(start=end, duration_s=pause_s, state=None, setting=run.setting, ambient_c=run.ambient_c))
    return found


def _as_csv(plan: Plan, rows: list[dict[str, str]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([plan.headers.get(column, column) for column in plan.columns])
    for row in rows:
        writer.writerow([row.get(column, "") for column in plan.columns])
    return out.getvalue().encode("utf-8")


def main() -> None:
    """Write the files below the content folder (default: `content`)."""
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "content") / "write-ups"
    for name, data in files().items():
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


if __name__ == "__main__":
    main()
