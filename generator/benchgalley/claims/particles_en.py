"""English: what stands round up, down, off, below and their like, and with which verbs they claim nothing.

Data only; `particles.py` says how it is used. A word is added here and gets a case in `tests/claims/corpus/`.
"""

from .vocabulary import words_of

BASES = words_of("stock stock's baseline baseline's default factory reference")
"""What a setpoint is set against: "below stock", "up on the baseline"."""

HANDLED: dict[str, str] = {
    "up": "set sets hook hooks hooked plugged lined look looks looked looking make makes made making add adds "
    "added adding sum sums summed split clean cleaned cleaning follow follows followed write writes wrote written give "
    "gives gave given giving start starts started boot boots booted call called type typed tidied packed wrapped screw "
    "end ends ended ending "
    "screwed bolted show shows showed shown pick picks picked mix mixed hang hung sit sits sat stand stood round "
    "rounds rounded",
    "down": "write writes wrote written writing note notes noted noting jot jots jotted put puts putting set sets "
    "break breaks broke broken lay laid copy copied mark marked pinned sit sits sat "
    "screwed bolted lie lies tied strip stripped powered close closed look looked round rounds rounded",
    "off": "switch switches switched switching turn turns turned turning shut shuts shutting read reads reading start "
    "started call called log logged sign signed trade traded trades run runs ran feed fed round rounded write wrote "
    "written powered pay paid leave left finish finished drew drawn plot plotted set sets carry carries carried lead "
    "leads led",
    "over": "bend bends bent carry carries carried look looked hand handed",
    "below": "see list listed shown given told plotted printed drawn row rows column columns line lines",
    "above": "see list listed shown given told plotted printed drawn row rows column columns line lines",
    "under": "see list listed shown given told plotted printed filed row rows column columns line lines",
    "short": "",
}  # fmt: skip
"""Word of place → verbs that take it to tell of work at the bench or the desk: "set up", "wrote the score down"."""

LISTS: dict[str, str] = {
    "down-or-up": "down up",
    # work on a setting: what such a verb sets has not been measured ("walked the voltage down")
    "hand": "walk walks walked walking step steps stepped stepping dial dials dialled dialling turn turns turned "
    "turning wind winds wound nudge nudged nudging shut shuts shutting",
    # what something does by itself, without an object: "warmed up", "the fans spin down"; not "cools the core down"
    "by-itself": "cool cools cooled cooling warm warms warmed warming spin spins spun wind winds wound blow blows blew",
    "set-by-hand": "voltage fan fans speed speeds clock clocks power",
    # told of, they go up and down; a fan is a part too, and is taken off or is over something
    "moving": "frames rate usage utilisation hotspot core rpm points",
    "parts": "fan fans",
    # "the score picked up": beside a quantity it went up, elsewhere something was lifted
    "picks": "pick picks picked picking",
    # behind a quantity these are things: "put the temperature probe up"
    "things": "probe probes sensor sensors cable cables meter meters supply connector connectors plug plugs stage "
    "stages sheet sheets table tables curve curves log logs slot setting settings step",
    # behind a quantity these are as much as it: "noise levels are down"
    "amounts": "level levels speed speeds rate rates reading readings figure figures number numbers",
    # between a quantity and its word of place beside copulas: "is well down", "came right down"
    "how-far": "all almost back clearly further just much only quite right sharply slightly slowly so straight way "
    "well too up a bit lot touch little",
    # "power was off", "the fans stay off": a state, and no comparison
    "states": "is are was were be been being went goes go stay stays stayed kept keeps remain remains remained",
    # behind up, down and off a clause may go on with these; before a noun they are something else: "the power-up time"
    "goes-on": "across after again all also and as at because before both but by during each even every everywhere for "
    "from further here if in nicely now once over overall since slightly so than there though through throughout till "
    "too under until well when where whereas which while with within without yet",
    "how-much": "lot bit touch little shade hair notch fair tad good whole",
    # "is down to the fan", "comes down to taste": a cause, not a level
    "causes": "is are was were be been come comes put puts boil boils",
    "articles-and-owners": "the a an its their this that these those some my your our his her any board wall core "
    "whole same card's fan's",
    "of-what": "of on from about for at in",
    # a noun behind one of these prepositions belongs to the one before it: "a table of scores"
    "no-noun": "of on in at to by for from with and or but than as if when while that which who i we you it he she "
    "they the a an not no never",
    "went": "went goes go came comes",
    # "down on the other sample": what a thing of the bench is set against
    "compared": "sample samples setting settings setpoint setpoints other others",
    # "down a degree": units told in words
    "told-in": "degree degrees kelvin kelvins decibel decibels volt volts millivolt millivolts megahertz joule joules "
    "kilojoule kilojoules revolution revolutions point points percent percentage",
    # "stayed below those of stock", "ended up above where it was"
    "level-told": "that those what where",
    "stays": "stay stays stayed staying keep keeps kept remain remains remained end ends ended finish finishes "
    "finished settle settles settled turn turns turned out up well",
    "falls-short": "fall falls fell fallen come comes came stop stops stopped up",
    # no comparison behind a place: "went up on the wall"
    "shelves": "bench shelf wall desk table floor page site stand screen rack line web mirror card slot paper",
}  # fmt: skip
