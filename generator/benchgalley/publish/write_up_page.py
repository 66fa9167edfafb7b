"""The page of a write-up, the page with the working of all its numbers, and the files beside them."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from markupsafe import Markup

from benchgalley.records.address import Address
from benchgalley.records.bench import Outcome, Trial
from benchgalley.records.figure import Figure
from benchgalley.records.findings import Caveat
from benchgalley.records.membership import in_setpoint
from benchgalley.records.quantity import MEASURED, SETTINGS
from benchgalley.records.results import Number
from benchgalley.records.write_up import WriteUp

from . import descriptors, page_paths, prose
from .budgets import Budgets
from .charts_in_pages import as_file, plate
from .corrections import corrections_of, dated_revisions, revision_of
from .dataset import dataset, table_files, tables
from .edition import Edition, last_changed, target
from .headline import headline
from .methods_used import methods_used
from .number_rows import rows_of_results, rows_with_working
from .social import social_picture, social_words
from .typesetting import safe, typeset_safe
from .workings import Bearing, Workings, row_path, run_anchor

_MAIN_RELATIONS = ("", "saved")


def write_up_pages(edition: Edition, write_up: WriteUp) -> Mapping[str, bytes]:
    """One write-up: its page, its numbers, its dataset, tables, charts and pictures."""
    slug = write_up.slug
    downloads = {page_paths.archive(slug): dataset(edition, write_up)}
    downloads |= {page_paths.table(slug, name): content for name, content in table_files(edition, write_up).items()}
    files = dict(downloads)
    files |= {
        page_paths.figure(slug, f.id): as_file(f, source_line(edition, write_up)) for f in edition.figures.get(slug, ())
    }
    files |= {page_paths.image(slug, name): content for name, content in write_up.images.items()}
    if edition.site.settings.address:  # other sites can only find it by an absolute address
        files[page_paths.social(slug)] = social_picture(edition, write_up)
    files[page_paths.write_up(slug)] = _page(edition, write_up, downloads)
    files[page_paths.numbers(slug)] = _numbers_page(edition, write_up)
    return files


def galley_of(edition: Edition, write_up: WriteUp, placed: set[str] | None = None) -> prose.Galley:
    """What the prose of a write-up is set with. Kinds of charts set in the text are noted in `placed`."""
    here = page_paths.write_up(write_up.slug)
    figures = edition.figures.get(write_up.slug, ())
    letters = caveat_letters(edition, write_up)
    bearing = Bearing(edition.cautions(write_up.slug).caveats)

    def marks(address: Address) -> tuple[tuple[str, str, str], ...]:
        number = edition.results.find(address)
        if number is None:
            return ()
        return tuple((letters[c.code], c.code, c.title) for c in bearing.on(number))

    def chart(kind: str, alternative: str, caption: Markup) -> Markup | None:
        figure = next((f for f in figures if kind in (f.kind, f.id)), None)
        if figure is None:
            return None
        if placed is not None and figure.id in placed:
            return Markup('<p><a href="#figure-{}">{}</a> (above)</p>').format(
                page_paths.anchor(figure.id), figure.title
            )
        if placed is not None:
            placed.add(figure.id)
        file = page_paths.figure(write_up.slug, figure.id)
        return plate(
            edition, figure, here, file, source=source_line(edition, write_up), alternative=alternative, caption=caption
        )

    return prose.Galley(
        write_up=write_up,
        claims=edition.claims(write_up.slug),
        marks=marks,
        chart=chart,
        revised=lambda address: revision_of(write_up, address),
    )


def source_line(edition: Edition, write_up: WriteUp) -> str:
    """What a chart taken from the page says about where it comes from."""
    settings = edition.site.settings
    parts = (settings.author, write_up.title.text, last_changed(write_up), settings.data_licence, settings.address)
    return ". ".join(part for part in parts if part) + (" Invented data." if write_up.invented else "")


def caveat_letters(edition: Edition, write_up: WriteUp) -> dict[str, str]:
    """Caveat code → the letter by which the text refers to it."""
    codes = dict.fromkeys(c.code for c in edition.cautions(write_up.slug).caveats)
    return {code: _letter(number) for number, code in enumerate(codes)}


def _caveat_anchor(index: int, caveat: Caveat, caveats: tuple[Caveat, ...]) -> str:
    """Id of a caveat; the first of its code takes the plain one, to which the letters in the text lead."""
    earlier = sum(c.code == caveat.code for c in caveats[:index])
    return page_paths.anchor(f"caveat-{caveat.code}" + (f"-{earlier + 1}" if earlier else ""))


def _letter(number: int) -> str:
    return (_letter(number // 26 - 1) if number >= 26 else "") + chr(ord("a") + number % 26)


def _page(edition: Edition, write_up: WriteUp, downloads: Mapping[str, bytes]) -> bytes:
    here, settings = page_paths.write_up(write_up.slug), edition.site.settings
    placed: set[str] = set()
    galley = galley_of(edition, write_up, placed)
    body = prose.render(galley)
    first_screen = headline(edition, write_up)
    stated = _stated(edition, write_up)
    in_popovers = stated | {f.number.address: f.number for f in (*first_screen.gained, *first_screen.cost)}
    caveats = edition.cautions(write_up.slug).caveats
    columns = _trial_columns(write_up)
    made = Workings(write_up.slug, edition.site.cards, caveats)
    return edition.templates.fill(
        "write-up.html",
        here,
        write_up=write_up,
        # The letters of caveats stand in summary and text; a headline full of them cannot be read.
        title=prose.line(write_up.title, replace(galley, marks=lambda _: ())),
        summary=prose.line(write_up.summary, galley),
        revisions=[(r, anchor, prose.line(r.what, galley)) for r, anchor in dated_revisions(write_up)],
        corrections=corrections_of(edition, write_up),
        methods=methods_used(edition, write_up, in_popovers.values()),
        social=social_words(edition, write_up),
        checksum=descriptors.sha256(downloads[page_paths.archive(write_up.slug)]),
        body=body,
        headline=first_screen,
        caveats=caveats,
        caveat_items=[(c, _caveat_anchor(i, c, caveats)) for i, c in enumerate(caveats)],
        letters=caveat_letters(edition, write_up),
        hazards=edition.cautions(write_up.slug).hazards,
        workings=[made.of(n) for n in in_popovers.values()],
        results=_results(edition, write_up, in_popovers),
        remaining=[
            plate(edition, f, here, page_paths.figure(write_up.slug, f.id), source=source_line(edition, write_up))
            for f in _figures_left(edition, write_up, placed)
        ],
        trial_rows=_trial_rows(write_up, columns),
        failed=[t for t in write_up.trials if t.outcome is not Outcome.COMPLETED],
        excluded=[t for t in write_up.trials if t.excluded],
        trial_columns=columns,
        changed=last_changed(write_up),
        exemptions=_exemptions(edition, write_up),
        downloads={path: len(content) for path, content in downloads.items()},
        json_ld=descriptors.json_ld(write_up, settings, tables(edition, write_up), downloads)
        if settings.address
        else None,
        contents=prose.contents(write_up),
        neighbours=[w for w in edition.write_ups_of(write_up.card.id) if w.slug != write_up.slug],
        working_id=prose.working_id,
    )


def _numbers_page(edition: Edition, write_up: WriteUp) -> bytes:
    here = page_paths.numbers(write_up.slug)
    groups: dict[str, list[Number]] = {}
    absent: dict[str, list[tuple[str, str]]] = {}
    for number in edition.numbers(write_up.slug):
        subject = number.address.subject
        if number.value is None:
            absent.setdefault(subject, []).append((number.address.local(), number.reason))
        else:
            groups.setdefault(subject, []).append(number)
    labels = {name: sequence.label for name, sequence in write_up.sequences.items()}
    labels |= {name: setpoint.label for name, setpoint in write_up.setpoints.items()}
    budgets = Budgets()
    rows = {subject: rows_with_working(numbers, budgets) for subject, numbers in groups.items()}
    return edition.templates.fill("numbers.html", here, write_up=write_up, groups=rows, absent=absent, labels=labels)


def _stated(edition: Edition, write_up: WriteUp) -> dict[Address, Number]:
    """Numbers stated in the write-up, in order of first mention."""
    addresses = dict.fromkeys(c.address for c in edition.claims(write_up.slug) if c.address is not None)
    linked = [
        target(write_up, str(token.attrs.get("href", "")))
        for token in prose.walk(write_up.tokens)
        if token.type == "link_open" and str(token.attrs.get("href", "")).startswith("claim:")
    ]
    texts = (write_up.title, write_up.summary, *(r.what for r in write_up.revisions))
    linked += [
        target(write_up, link.destination)
        for text in texts
        for link in text.links
        if link.destination.startswith("claim:")
    ]
    found = {a: edition.results.find(a) for a in (*addresses, *linked) if a is not None}
    return {address: number for address, number in found.items() if number is not None}


def _results(edition: Edition, write_up: WriteUp, stated: Mapping[Address, Number]) -> list[tuple[str, int, Markup]]:
    """(subject, count of numbers, rows) of the results: first what is stated, then what charts and setpoints show."""
    here, slug = page_paths.write_up(write_up.slug), write_up.slug
    own = page_paths.relative(page_paths.numbers(slug), here)

    def working(address: Address) -> str:
        if address.scope == slug:
            return f"{own}#{address.local()}"
        return page_paths.relative(row_path(address, edition.site.cards), here)

    charted = {address for figure in edition.figures.get(slug, ()) for address in figure.addresses}
    shown = {"": [n for n in stated.values() if n.value is not None]}
    for number in edition.numbers(slug):
        address = number.address
        main = address.relation in _MAIN_RELATIONS and address.subject in write_up.setpoints and not number.exact
        if (main or address.local() in charted) and number.value is not None and address not in stated:
            shown.setdefault(address.subject, []).append(number)
    return [
        (subject, len(group), rows_of_results([(n, working(n.address)) for n in group], slug))
        for subject, group in shown.items()
        if group
    ]


def _figures_left(edition: Edition, write_up: WriteUp, placed: set[str]) -> list[Figure]:
    return [f for f in edition.figures.get(write_up.slug, ()) if f.id not in placed]


def _trial_columns(write_up: WriteUp) -> list[tuple[str, str]]:
    """(column, head) of the table of trials: settings that vary, then what was measured."""
    varying = [s for s in SETTINGS if len({t.settings.get(s.column) for t in write_up.trials}) > 1]
    measured = [q for q in MEASURED if any(q.column in t.measured for t in write_up.trials)]
    heads = [(s.column, _head(s.name, s.unit.symbol if s.unit else "")) for s in varying]
    score = write_up.load.score_unit.symbol
    return heads + [(q.column, _head(q.name, score if q.key == "score" else q.unit.symbol)) for q in measured]


def _head(name: str, unit: str) -> str:
    return f"{name[0].upper()}{name[1:]}" + (f" ({unit})" if unit else "")


def _trial_rows(write_up: WriteUp, columns: Iterable[tuple[str, str]]) -> Markup:
    return Markup("".join([_trial_row(trial, write_up, columns) for trial in write_up.trials]))


def _trial_row(trial: Trial, write_up: WriteUp, columns: Iterable[tuple[str, str]]) -> str:
    failed = trial.outcome is not Outcome.COMPLETED
    kind = ' class="failed"' if failed else ' class="excluded"' if trial.excluded else ""
    at = [safe(s.label) for s in write_up.setpoints.values() if in_setpoint(trial, s, write_up.sequences)]
    cells = "".join([_cell(trial, column) for column, _ in columns])
    return (
        f'<tr id="{run_anchor(trial.id)}"{kind}><th scope="row">{safe(trial.id)}</th>'
        f"<td>{', '.join(at) or safe(trial.sequence)}</td><td>{'✕ ' if failed else ''}{trial.outcome.value}</td>{cells}"
        f"<td>{f'Excluded: {safe(trial.excluded)} ' if trial.excluded else ''}{typeset_safe(trial.note)}</td></tr>\n"
    )


def _cell(trial: Trial, column: str) -> str:
    """One cell, as printed and as sorted."""
    value: float | str | None = trial.measured.get(column)
    if value is None:
        value = trial.settings.get(column)
    if value is None or value == "":
        return '<td class="right">–</td>'
    if isinstance(value, str):
        return f'<td class="right" data-value="{safe(value)}">{safe(value)}</td>'
    if (places := trial.decimals.get(column)) is None:
        places = 0 if column in trial.settings and value == int(value) else 2
    shown = f"{value:.{places}f}".replace("-", "\u2212")
    return f'<td class="right" data-value="{value!r}">{shown}</td>'


def _exemptions(edition: Edition, write_up: WriteUp) -> dict[str, list[str]]:
    """Rule → texts of the prose it lets stand without an address."""
    reading = edition.readings.get(write_up.slug)
    rules: dict[str, list[str]] = {}
    for exemption in reading.exemptions if reading else ():
        words = exemption.text + (f" ({exemption.source})" if exemption.source else "")
        if words not in rules.setdefault(exemption.rule, []):
            rules[exemption.rule].append(words)
    return rules
