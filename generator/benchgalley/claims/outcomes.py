"""What failed and what came through: "nothing failed down to −120 mV" is held against the runs made there.

Nobody need link such a sentence, for its words say all: a setting, and an outcome. The runs say the rest.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from benchgalley.records.bench import Outcome, Trial
from benchgalley.records.membership import in_setpoint, runs_along
from benchgalley.records.quantity import SETTING_BY_COLUMN
from benchgalley.records.write_up import WriteUp

_SEGMENT_ENDS = re.compile(r"[;:!?()—]|\.(?=\s)|,?\s+(?:and|but|while|whereas|where|which|though|although|because)\s+")
_TOKEN = re.compile(r"[a-z']+")
_THROUGH = frozenset({"came", "come", "comes", "got", "gets", "went", "ran", "runs"})
_LAST_WORDS = 6
"""Words before a setting in which "down to" or "below" is looked for."""
_DENIAL_REACH = 5
"""Words before an outcome in which "nothing" or "never" is looked for."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Told:
    """An outcome that a stretch of a sentence tells."""

    fails: bool
    denied: bool
    word: str


def outcome_fault(
    write_up: WriteUp, lists: Mapping[str, frozenset[str]], column: str, value: float, text: str,
    place: tuple[int, int], sentence: tuple[int, int],
) -> str:  # fmt: skip
    """What the runs say against an outcome told beside a setting; empty where they bear it out or none is told.

    Parameters
    ----------
    write_up : WriteUp
        Whose runs are meant.
    lists : mapping
        Word lists of the language: `outcome-fails`, `outcome-passes`, `nothing`.
    column, value
        The setting.
    text : str
    place, sentence : (int, int)
        Stretch of the setting, and of its sentence.
    """
    low, high = _segment(text, place, sentence)
    before, behind = text[low : place[0]].lower(), text[place[1] : high].lower()
    told = _told(before, behind, lists)
    if told is None:
        return ""
    groups = [[t for t in runs_along(q, write_up.trials) if not t.excluded]
              for q in write_up.sequences.values() if q.setting == column]  # fmt: skip
    groups.append([t for t in write_up.trials if not t.excluded])
    chosen = [runs for group in groups if (runs := _chosen(group, column, value, before))]
    if any(_holds(told, runs) for runs in chosen):
        return ""
    said = f"{'nothing ' if told.denied else ''}{told.word}"
    if not chosen:
        return f"no run was made there, and prose says {said!r} of it"
    runs = chosen[0]
    failed = sum(_failed(t) for t in runs)
    passed = sum(t.outcome is Outcome.COMPLETED for t in runs)
    return f"of the runs there {failed} failed and {passed} completed, and prose says {said!r} of it"


def failures_among(write_up: WriteUp, sentence: str) -> str:
    """How many of the runs a sentence speaks of failed; empty where none did.

    It speaks of the setpoints and sequences it names; of every run where it names none.
    """
    runs = [t for t in write_up.trials if not t.excluded]
    chosen = [t for group in _groups_named(write_up, runs, sentence.lower()) for t in group] or runs
    failed = sum(_failed(t) for t in chosen)
    return f"{failed} of the {len(chosen)} runs it speaks of did" if failed else ""


def _groups_named(write_up: WriteUp, runs: Sequence[Trial], lower: str) -> list[list[Trial]]:
    """Runs of the setpoints and sequences named; the longest names first, so that "soak" is not the short soak."""
    names: dict[str, list[Trial]] = {}
    for setpoint in write_up.setpoints.values():
        own = [t for t in runs if in_setpoint(t, setpoint, write_up.sequences)]
        names |= dict.fromkeys((setpoint.name, setpoint.label), own)
    for sequence in write_up.sequences.values():
        along = list(runs_along(sequence, runs))
        names |= dict.fromkeys((sequence.name, sequence.label), along)
        names.setdefault(sequence.name.rpartition("-")[2], along)  # "the ladder"
    found = []
    for name in sorted(names, key=lambda n: (-len(n), n)):
        spelled = re.escape(name.lower()).replace(r"\-", "[- ]")
        rest = re.sub(rf"(?<![\w-]){spelled}(?![\w-])", " ", lower) if name else lower
        if rest != lower:
            found.append(names[name])
            lower = rest
    return found


def _segment(text: str, place: tuple[int, int], sentence: tuple[int, int]) -> tuple[int, int]:
    """The part of the sentence round a place."""
    low, high = sentence
    for match in _SEGMENT_ENDS.finditer(text, *sentence):
        if match.end() <= place[0]:
            low = match.end()
        elif match.start() >= place[1]:
            return low, match.start()
    return low, high


def _told(before: str, behind: str, lists: Mapping[str, frozenset[str]]) -> _Told | None:
    """The outcome told nearest to a setting."""
    words, after = _TOKEN.findall(before), _TOKEN.findall(behind)
    place = len(words)
    words += after
    found = [(abs(k - place) + (k < place), k) for k in range(len(words)) if _outcome(words, k, lists)]
    if not found:
        return None
    k = min(found)[1]
    fails = words[k] in lists["outcome-fails"]
    lead = words[max(0, k - _DENIAL_REACH) : k]
    denied = any(w in lists["nothing"] or w.endswith("n't") for w in lead)
    if words[max(0, k - 2) : k] in (["failed", "to"], ["fails", "to"], ["failing", "to"]):
        return _Told(fails=False, denied=True, word=words[k])
    return _Told(fails=fails, denied=denied, word=words[k])


def _outcome(words: Sequence[str], k: int, lists: Mapping[str, frozenset[str]]) -> bool:
    if words[k] == "through":
        return k > 0 and words[k - 1] in _THROUGH
    return words[k] in lists["outcome-fails"] or words[k] in lists["outcome-passes"]


def _chosen(runs: Sequence[Trial], column: str, value: float, before: str) -> list[Trial]:
    """Runs at the setting, or on the side of it that "down to" or "below" names."""
    lead = " ".join(re.findall(r"[a-z]+", before)[-_LAST_WORDS:])
    near = re.compile(rf"\b({_SIDES})(?:\s+(?:a|an|the|its|power|voltage|limit|offset|setting|of|at))*$").search(lead)
    side = near.group(1) if near else ""
    default = SETTING_BY_COLUMN[column].default
    stock = float(default) if isinstance(default, int | float) else 0.0
    found = []
    for trial in runs:
        own = trial.settings.get(column)
        if not isinstance(own, int | float):
            continue
        step, reach = abs(own - stock), abs(value - stock)
        same_side = (own - stock) * (value - stock) >= 0
        inside = {
            "": own == value,
            "to": same_side and step <= reach, "as far as": same_side and step <= reach,
            "until": same_side and step < reach, "before": same_side and step < reach,
            "above": own > value, "over": own > value, "below": own < value, "under": own < value,
            "beyond": same_side and step > reach, "past": same_side and step > reach,
            "from": same_side and step >= reach,
        }[side]  # fmt: skip
        if inside:
            found.append(trial)
    return found


_SIDES = "to|as far as|until|before|above|over|below|under|beyond|past|from"


def _failed(trial: Trial) -> bool:
    return trial.outcome not in (Outcome.COMPLETED, Outcome.ABORTED)


def _holds(told: _Told, runs: Sequence[Trial]) -> bool:
    failed = sum(_failed(t) for t in runs)
    passed = sum(t.outcome is Outcome.COMPLETED for t in runs)
    if told.fails:
        return failed == 0 if told.denied else failed > 0
    return passed == 0 if told.denied else passed > 0 and failed == 0
