"""English: the words that hedge, bound, turn a number round, or claim something by themselves.

Data only. A word is added here and gets a case in `tests/claims/corpus/`.
"""

from typing import Any

from .particles_en import BASES
from .vocabulary import Bound, Category, Hedge, Word, words_of

HEDGES_BEFORE: tuple[tuple[str, Hedge], ...] = (
    ("about", Hedge.ABOUT), ("around", Hedge.ABOUT), ("roughly", Hedge.ABOUT), ("approximately", Hedge.ABOUT),
    ("some", Hedge.ABOUT), ("circa", Hedge.ABOUT), ("close to", Hedge.ABOUT), ("near", Hedge.ABOUT),
    ("more or less", Hedge.ABOUT), ("in the region of", Hedge.ABOUT), ("on the order of", Hedge.ABOUT),
    ("of the order of", Hedge.ABOUT), ("give or take", Hedge.ABOUT), ("near enough", Hedge.ABOUT),
    ("nearly", Hedge.BELOW), ("almost", Hedge.BELOW), ("just under", Hedge.BELOW), ("just below", Hedge.BELOW),
    ("just short of", Hedge.BELOW), ("not quite", Hedge.BELOW), ("a little under", Hedge.BELOW),
    ("slightly under", Hedge.BELOW), ("slightly less than", Hedge.BELOW), ("a little less than", Hedge.BELOW),
    ("just less than", Hedge.BELOW), ("a shade under", Hedge.BELOW), ("close on", Hedge.BELOW),
    ("just shy of", Hedge.BELOW), ("shy of", Hedge.BELOW),
    ("just over", Hedge.ABOVE), ("just above", Hedge.ABOVE), ("a little over", Hedge.ABOVE),
    ("slightly over", Hedge.ABOVE), ("slightly more than", Hedge.ABOVE), ("a little more than", Hedge.ABOVE),
    ("just more than", Hedge.ABOVE), ("a shade over", Hedge.ABOVE), ("barely", Hedge.ABOVE),
)  # fmt: skip
"""Standing before a number."""

HEDGES_AFTER: tuple[tuple[str, Hedge], ...] = (
    ("or so", Hedge.ABOUT), ("or thereabouts", Hedge.ABOUT), ("give or take", Hedge.ABOUT),
    ("more or less", Hedge.ABOUT), ("roughly", Hedge.ABOUT), ("approximately", Hedge.ABOUT),
)  # fmt: skip

BOUNDS_BEFORE: tuple[tuple[str, Bound], ...] = (
    ("at least", Bound.AT_LEAST), ("no less than", Bound.AT_LEAST), ("not less than", Bound.AT_LEAST),
    ("no fewer than", Bound.AT_LEAST), ("no lower than", Bound.AT_LEAST), ("upwards of", Bound.AT_LEAST),
    ("a minimum of", Bound.AT_LEAST), ("not below", Bound.AT_LEAST), ("never below", Bound.AT_LEAST),
    ("at most", Bound.AT_MOST), ("no more than", Bound.AT_MOST), ("not more than", Bound.AT_MOST),
    ("up to", Bound.AT_MOST), ("a maximum of", Bound.AT_MOST), ("no higher than", Bound.AT_MOST),
    ("not above", Bound.AT_MOST), ("never above", Bound.AT_MOST), ("not over", Bound.AT_MOST),
    ("no greater than", Bound.AT_MOST), ("at the most", Bound.AT_MOST), ("at the least", Bound.AT_LEAST),
    ("more than", Bound.MORE_THAN), ("over", Bound.MORE_THAN), ("above", Bound.MORE_THAN),
    ("greater than", Bound.MORE_THAN), ("higher than", Bound.MORE_THAN), ("better than", Bound.MORE_THAN),
    ("in excess of", Bound.MORE_THAN), ("exceeding", Bound.MORE_THAN), ("exceeds", Bound.MORE_THAN),
    ("well over", Bound.MORE_THAN), ("well above", Bound.MORE_THAN), ("beyond", Bound.MORE_THAN),
    ("less than", Bound.LESS_THAN), ("under", Bound.LESS_THAN), ("below", Bound.LESS_THAN),
    ("fewer than", Bound.LESS_THAN), ("lower than", Bound.LESS_THAN), ("smaller than", Bound.LESS_THAN),
    ("well under", Bound.LESS_THAN), ("well below", Bound.LESS_THAN), ("short of", Bound.LESS_THAN),
    ("within", Bound.WITHIN), ("to within", Bound.WITHIN),
)  # fmt: skip
"""Standing before a number."""

BOUNDS_AFTER: tuple[tuple[str, Bound], ...] = (
    ("or more", Bound.AT_LEAST), ("or above", Bound.AT_LEAST), ("or over", Bound.AT_LEAST),
    ("or higher", Bound.AT_LEAST), ("at least", Bound.AT_LEAST), ("at the least", Bound.AT_LEAST),
    ("or better", Bound.AT_LEAST), ("or less", Bound.AT_MOST), ("or fewer", Bound.AT_MOST),
    ("or below", Bound.AT_MOST), ("or under", Bound.AT_MOST), ("or lower", Bound.AT_MOST),
    ("at most", Bound.AT_MOST), ("at the most", Bound.AT_MOST), ("and more", Bound.AT_LEAST),
)  # fmt: skip
"""Standing after a number and its unit."""

_DETERMINERS = words_of(
    "the a its this that each every stock card's cards' maker's air fan slot big small large bigger "
    "better same own aftermarket water shared whose your my our their his her new old standard fitted"
)
_TRADE_NOUNS = words_of(
    "power heat noise watt watts temperature temperatures clock clocks score scores performance energy "
    "speed speeds fan fans sound efficiency efficient consumption draw headroom throughput rise voltage "
    "wattage points frames cost noisy loud hot warm cool quiet fast slow temp temps fps"
)
_SPENT = words_of("power heat noise watts performance energy efficiency consumption score throughput money fps")
"""What is saved, gained or lost without a figure."""
_SETTING_NOUNS = words_of(
    "limit limits power-limit offset offsets setting settings setpoint setpoints step steps sequence end"
)
_CONDITIONS = words_of(
    "bench rig card sample copy driver load version preset day session room case supply meter sensor "
    "instrument order setting settings setpoint setpoints offset offsets limit limits way time run runs "
    "procedure method power-limit voltage machine test tests clamp channel chair desk table chart figure "
    "page rule rules afternoon evening morning hour week model maker family host software file files "
    "reason thing direction kind sort ambient background air word words mistake sequence interval data "
    "unit units scale scene manner steps conditions place spot"
)
_OUTCOMES = words_of(
    "crash crashed crashes crashing fail failed fails failing hang hung hangs complete completed "
    "completes passed passes pass survive survived manage manages managed reach reaches reached hold "
    "holds held throttled throttles cooler hotter quieter louder faster slower stable draws draw drew "
    "stays stayed exceeded exceeds rose dropped fell lost gained saved saves artefacts"
)
_SAME_AS = words_of("stock stock's baseline baseline's")
_WHO = words_of(
    "card cards sample samples copy copies unit units owner owners reader readers game games load loads "
    "chip chips setting settings setpoint setpoints maker makers"
)


def _less(words: str, kind: str = "any", **rules: Any) -> Word:
    return _word(words, Category.DIRECTION, -1, kind, **rules)


def _more(words: str, kind: str = "any", **rules: Any) -> Word:
    return _word(words, Category.DIRECTION, 1, kind, **rules)


def _word(words: str, category: Category, sign: int = 0, kind: str = "any", **rules: Any) -> Word:
    return Word(words=tuple(words.replace("-", " - ").split()), category=category, sign=sign, kind=kind, **rules)


def _words(category: Category, phrases: str) -> tuple[Word, ...]:
    """Words and phrases without rules of their own, parted by bars."""
    return tuple(_word(phrase, category) for phrase in phrases.split("|"))


def _neutral(words: str, sign: int, *, by_only: bool = True, **rules: Any) -> Word:
    rules.setdefault("only_next", _TRADE_NOUNS)
    rules.setdefault("unless_within", _SETTING_NOUNS)
    return _word(words, Category.DIRECTION, sign, strict=False, by_only=by_only, **rules)


def _change(words: str, sign: int) -> tuple[Word, ...]:
    """Verbs and nouns of change: read with a number; alone they claim something only before a trade noun."""
    return tuple(
        _word(w, Category.CHANGE, sign, strict=False, unless_within=_SETTING_NOUNS, only_next=_SPENT)
        for w in words.split()
    )


def _superlative(words: str, sign: int, kind: str = "any", **rules: Any) -> Word:
    if kind == "any":  # "the lowest limit" is one; "the quietest setting" claims to be one
        rules.setdefault("unless_within", _SETTING_NOUNS)
    return _word(words, Category.SUPERLATIVE, sign, kind, **rules)


CLAIM_WORDS: tuple[Word, ...] = (
    # direction, with what they may speak of
    _less("cooler", "temperature", unless_before=_DETERMINERS), _less("colder", "temperature"),
    _more("hotter", "temperature"), _more("warmer", "temperature"),
    _less("quieter", "sound"), _less("less noisy", "sound"), _less("less noise", "sound"),
    _more("louder", "sound"), _more("noisier", "sound"), _more("more noise", "sound"),
    _more("faster", "speed"), _more("quicker", "speed"), _less("slower", "speed"),
    _more("more efficient", "efficiency"), _more("more efficiently", "efficiency"),
    _less("less efficient", "efficiency"), _less("less efficiently", "efficiency"),
    _less("cheaper", "money"), _more("dearer", "money"), _more("costlier", "money"),
    _more("superior", "good"), _less("inferior", "good"),
    _more("outperforms", "good"), _more("outperform", "good"), _more("outperformed", "good"),
    *(_more(w, "good") for w in ("beats", "beat", "outruns", "outpaces", "surpasses", "trumps")),
    _less("beaten", "good"), _more("wins", "good"),
    _more("better", "good", only_next=_TRADE_NOUNS), _more("worse", "bad", only_next=_TRADE_NOUNS),
    _neutral("less", -1), _neutral("lower", -1, unless_next=frozenset({"the", "it", "them"})),
    _neutral("fewer", -1), _neutral("smaller", -1), _neutral("below", -1, only_next=BASES),
    _neutral("under", -1, only_next=BASES), _neutral("down", -1, only_next=frozenset({"on"})),
    _neutral("off", -1, only_next=BASES), _neutral("short", -1, only_next=frozenset({"of"})),
    _neutral("more", 1), _neutral("higher", 1), _neutral("greater", 1),
    _neutral("larger", 1), _neutral("above", 1, only_next=BASES),
    _neutral("over", 1, only_next=BASES), _neutral("up", 1, only_next=frozenset({"on"})),
    _neutral("extra", 1),
    # change by verb or noun
    *_change(
        "saved saves save saving savings cut cuts cutting drop drops dropped dropping fell falls fall fallen lose "
        "loses lost losing loss losses decrease decreases decreased decreasing reduce reduces reduced reducing "
        "reduction lowered lowers lowering shed sheds shaved shaves trimmed trims slowed cooled spared spares",
        -1,
    ),
    *_change(
        "gain gains gained gaining rise rises rose risen rising increase increases increased increasing raised raises "
        "raising grew grows added adds climbed climbs",
        1,
    ),
    _word("all but", Category.CHANGE, -1, strict=False, only_next=_SPENT),
    *(
        _word(w, Category.CHANGE, 1, "good", strict=False, only_clause=_TRADE_NOUNS | _SPENT)
        for w in ("improve", "improves", "improved", "improving", "improvement")
    ),
    _word("boosts", Category.CHANGE, 1, strict=False, only_next=_SPENT),
    _word("cost", Category.CHANGE, -1, strict=False, only_next=frozenset({"performance"})),
    _word("costs", Category.CHANGE, -1, strict=False, only_next=frozenset({"performance"})),
    # equality
    _word("the same", Category.EQUALITY, unless_next=_CONDITIONS),
    _word("same", Category.EQUALITY, unless_next=_CONDITIONS),
    _word("identical", Category.EQUALITY, unless_next=_CONDITIONS),
    *_words(
        Category.EQUALITY,
        "identically | unchanged | no loss | no difference | no audible difference | no measurable difference | no "
        "noticeable difference | no visible difference | no measurable loss | no noticeable loss | "
        "no change | no cost | without loss | without "
        "losing | for free | no slower | no hotter | no louder | as fast as | as quiet as | as cool as | "
        "indistinguishable | equal | equals | equivalent | lossless | free of cost",
    ),
    *_words(
        Category.EQUALITY,
        "no penalty | no performance penalty | no performance loss | zero loss | on par | as good as | "
        "as efficient as | negligible | within error | within the error | within the errors | within noise | "
        "within the noise | within run-to-run variation | a tie | statistically tied | "
        "statistically equal | statistically identical",
    ),
    _word("as much as", Category.EQUALITY, only_next=_SAME_AS),
    _word("as little as", Category.EQUALITY, only_next=_SAME_AS),
    *_words(Category.EQUALITY, "loses nothing | lost nothing"),
    _word("tied", Category.EQUALITY, unless_next=frozenset({"to", "up", "down", "together"})),
    _word("matches", Category.EQUALITY, only_next=_SAME_AS), _word("match", Category.EQUALITY, only_next=_SAME_AS),
    _word("matched", Category.EQUALITY, only_next=_SAME_AS),
    *(_word(w, Category.EQUALITY, strict=False, only_next=_SAME_AS) for w in ("hold", "holds", "held")),
    # stability
    *_words(
        Category.STABILITY,
        "stable | stably | rock solid | rock-solid | crash-free | no crash | no crashes | no failure | no "
        "failures | without a crash | without a failure | without crashing | without failure | reliable | "
        "reliably | flawless | flawlessly | error-free | bulletproof | no artefacts | rock-steady",
    ),
    *(
        _word(f"{who} {what}", Category.NO_FAILURE)
        for who in ("nothing", "none", "no run", "no runs")
        for what in ("failed", "crashed", "hung", "froze")
    ),
    *_words(Category.INSTABILITY, "unstable | instability"),
    # superlatives
    _word("best", Category.SUPERLATIVE, 1, "good",
          unless_before=words_of("at do did your its my our"),
          unless_next=words_of("practice guess effort read told done kept left seen")),
    _word("worst", Category.SUPERLATIVE, 1, "bad", unless_before=frozenset(["at"]), unless_next=frozenset(["case"])),
    _superlative("lowest", -1), _superlative("highest", 1), _superlative("coolest", -1, "temperature"),
    _superlative("hottest", 1, "temperature"), _superlative("warmest", 1, "temperature"),
    _superlative("quietest", -1, "sound"), _superlative("loudest", 1, "sound"),
    _superlative("fastest", 1, "speed"), _superlative("slowest", -1, "speed"),
    _superlative("most efficient", 1, "efficiency"), _superlative("least efficient", -1, "efficiency"),
    _superlative("cheapest", -1, "money"),
    *(_superlative(w, 1, "good", only_next=words_of("table list chart charts field")) for w in ("tops", "topped")),
    _word("most", Category.SUPERLATIVE, 1, unless_before=frozenset({"at", "the-most"}),
          only_next=_TRADE_NOUNS | frozenset({"of", "work"})),
    _word("least", Category.SUPERLATIVE, -1, unless_before=frozenset({"at", "the-least"}), only_next=_TRADE_NOUNS),
    _word("optimal", Category.SUPERLATIVE, 1, "good"), _word("optimum", Category.SUPERLATIVE, 1, "good"),
    _word("ideal", Category.SUPERLATIVE, 1, "good"), _word("sweet spot", Category.SUPERLATIVE, 1, "good"),
    _word("unbeatable", Category.SUPERLATIVE, 1, "good"),
    # absolutes
    _word("always", Category.ABSOLUTE, only_clause=_OUTCOMES), _word("never", Category.ABSOLUTE, only_clause=_OUTCOMES),
    _word("the only", Category.ABSOLUTE, only_next=_WHO | frozenset({"one"})),
    _word("only", Category.ABSOLUTE, only_next=_WHO),
    _word("every", Category.EVERY, only_next=_WHO | frozenset({"run"}), only_clause=_OUTCOMES),
    _word("all", Category.EVERY, only_next=_WHO | frozenset({"runs"}), only_clause=_OUTCOMES),
    _word("any", Category.EVERY, only_next=frozenset(["card", "sample", "copy", "unit"]), only_clause=_OUTCOMES),
    *_words(
        Category.PROOF,
        "guarantee | guarantees | guaranteed | proves | proven | proved | prove | proof | certainly | undoubtedly | "
        "definitely | inaudible | inaudibly | noiseless | whisper-quiet | order of magnitude | orders of magnitude",
    ),
    _word("silent", Category.PROOF, unless_next=_CONDITIONS | words_of("mode profile bios switch position")),
    _word("silently", Category.PROOF, only_clause=words_of("fan fans card runs ran run cooler spins spin")),
    *_words(Category.AVERAGE, "on average"),
    _word("significant", Category.SIGNIFICANCE, unless_next=frozenset({"digit", "digits"})),
    *_words(Category.SIGNIFICANCE, "significantly"),
    *_words(Category.EQUALITY, "insignificant | insignificantly"),
)  # fmt: skip

NUMBER_WORDS: dict[str, int] = {
    "zero": 0, "nought": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50,
    "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90, "dozen": 12,
}  # fmt: skip
SCALES: dict[str, int] = {"hundred": 100, "thousand": 1000}
VAGUE: dict[str, int] = {"tens": 10, "dozens": 12, "hundreds": 100, "thousands": 1000}
FRACTIONS: dict[str, tuple[int, int]] = {
    "half": (1, 2), "third": (1, 3), "thirds": (1, 3), "quarter": (1, 4), "quarters": (1, 4),
    "fifth": (1, 5), "fifths": (1, 5), "sixth": (1, 6), "sixths": (1, 6), "eighth": (1, 8), "eighths": (1, 8),
    "tenth": (1, 10), "tenths": (1, 10),
}  # fmt: skip
MULTIPLES: dict[str, tuple[int, int]] = {
    "twice": (2, 1), "thrice": (3, 1), "double": (2, 1), "doubled": (2, 1), "doubles": (2, 1), "doubling": (2, 1),
    "triple": (3, 1), "tripled": (3, 1), "triples": (3, 1), "treble": (3, 1), "trebled": (3, 1), "quadruple": (4, 1),
    "quadrupled": (4, 1), "twofold": (2, 1), "threefold": (3, 1), "fourfold": (4, 1), "fivefold": (5, 1),
    "tenfold": (10, 1), "halved": (1, 2), "halves": (1, 2), "halving": (1, 2),
}  # fmt: skip

LISTS: dict[str, str] = {
    # a number after one of these is a level, not a difference: "fell to 214 W"
    "levels": "to at from until till with reaching",
    # a number right after one of these, with no word of direction and no base beside it, is a level: "drew 214 W"
    "level-verbs": "draw draws drew drawing use uses used using keep keeps kept keeping retain retains retained hold "
    "holds held make makes made score scores scored reach reaches reached need needs needed runs ran",
    # before "to" these give a sum, not a level: "the saving comes to 41 W"
    "sums": "come comes came coming amount amounts amounted close thanks due equal owing next",
    # a percentage behind "at" in a clause with one of these is no setting: "the fans ran at 84 %"
    "not-a-setting": "score scores efficiency fan fans power noise sound clock clocks temperature share usage "
    "utilisation memory voltage draw drew draws scored kept keeps",
    # "worth more than it looks": no quantity is compared
    "no-measure": "worth say says said ask asks asked nothing anything something mean means meant",
    # a difference set against these is said to be one
    "against": "against versus vs over on compared relative under below above than",
    # the search for a direction word before a number stops here
    "stops": "and but while whereas which so although though because if when where then for at from with",
    # may stand between a direction verb and the number it governs
    "joins": "by of was is were are about around only another a an the some roughly nearly almost just",
    # nouns that turn a number into a count
    "counted": "run runs trial trials repeat repeats sample samples card cards copy copies setting settings setpoint "
    "setpoints limits offsets steps failure failures crash crashes hang hangs reading readings session sessions times",
    # between a count and its noun no such word may stand
    "no-adjective": "of and or to in at on by with for from than the a an is was were are per that which as it had "
    "has have out",
    # words before a number that make it a name, not a quantity
    "numbered": "step steps section sections figure figures fig chart charts table tables run runs trial trials issue "
    "issues page pages chapter chapters appendix note notes item items no number row rows line lines column columns "
    "part parts clause equation sample release build ansi iso iec edition volume sweep point points rule rules",
    "versions": "version v driver drivers release build bios firmware revision",
    "months": "january february march april may june july august september october november december jan feb mar apr "
    "jun jul aug sep sept oct nov dec",
    "day-parts": "am pm",
    # between a quantity and what is said of it: "noise is lower", "the score went up"
    "copulas": "is are was were be been went goes go gone got gets has have had also even then just much far still "
    "slightly noticeably clearly did does do not never came comes",
    # behind such a word its clause may go on
    "after-a-move": "at in with on for as too again here there further slightly sharply noticeably clearly by when "
    "than",
    "articles": "a an",
    # with a unit behind them these state a number, if a vague one: "a few watts"
    "few": "few several",
    # beside one of these a vague number is a possibility, not a claim: "may be off by several percent"
    "modals": "may might could would can",
    # a fraction before one of these states a share, and "twice" before one of those a multiple
    "after-a-fraction": "of less more lower higher off the as fewer again",
    "after-a-multiple": "the that as what stock its",
    # verbs that state a multiple by themselves: "power halved"
    "factors": "factor ratio multiple",
    "moves": "twofold threefold fourfold fivefold tenfold halved halves halving doubled doubles doubling trebled "
    "triples tripled quadrupled",
    "quantities": "power draw consumption watts watt heat noise sound temperature temperatures score scores "
    "performance efficiency energy speed clock clocks fan fans bill cost costs voltage wattage throughput rise it temp "
    "temps fps",
    # outcomes told of a setting: "nothing failed down to −120 mV"
    "outcome-fails": "fail fails failed failing failures crash crashed crashes crashing hung hang hangs froze "
    "freezes artefacts triangles",
    "outcome-passes": "complete completes completed survive survives survived passes passed held holds",
    "nothing": "nothing none no never not without neither nobody nor cannot",
    # words that put a number in the power-limit or offset setting
    "limit": "limit limits limited target slider power-limit",
    "offset": "offset offsets undervolt undervolted undervolting overclock curve",
    "interval": "interval intervals confidence confident",
    "estimate": "estimate estimates estimated estimating model modelled models predicted predicts prediction expected "
    "expect expects would law laws calculated reckoned",
    # words that name the base of a percentage
    "base": "stock baseline default reference standard factory base untouched",
    # words that deny what follows in their clause, and words at which the search for one stops
    "deniers": "not cannot never hardly scarcely neither nor",
    "denial-ends": "and but while whereas which so although though because if since until unless why how that what who "
    "whether when where then",
    # "more than one row", "more than once": no comparison with another setting
    "no-comparison": "one once two three four five a an any anything enough ever that this i you we they usual half "
    "what needed necessary most many words nothing",
    # a sum in one of these sentences may be one a year: "57.8 EUR for the card each year"
    "yearly": "year yr yearly annual annually annum",
    # calendar spans: no quantity here is measured in them
    "calendar": "day days week weeks month months year years",
}
