"""The door of the room: a site in, a ledger out that computes each number when it is first asked for."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from benchgalley.records import units
from benchgalley.records.address import Address
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Number, Results, Table
from benchgalley.records.site import Site

from .against_baseline import RELATIONS
from .at_setpoint import quantity_of
from .further import FURTHER
from .sample_numbers import sample_addresses, sample_glossary, sample_number
from .sequence_numbers import count_addresses, count_number, sequence_addresses, sequence_glossary, sequence_number
from .session import Session
from .setpoint_numbers import setpoint_addresses, setpoint_glossary, setpoint_number
from .tabulating import tabulate


class _Ledger:
    """Sessions by write-up and the way from an address to its number."""

    def __init__(self, site: Site, known: Mapping[str, "_Computed"]) -> None:
        self._site = site
        self._known = known
        self._sessions: dict[str, Session | None] = {}
        self._by_card: dict[str, list[Session]] = {}

    def session(self, scope: str) -> Session | None:
        """The session of a write-up; None where the scope is none."""
        if (known := self._known.get(scope)) is not None:
            return known.ledger.session(scope)
        if scope not in self._sessions:
            write_ups = self._site.write_ups
            self._sessions[scope] = Session(write_ups[scope], self._site) if scope in write_ups else None
        return self._sessions[scope]

    def _card_sessions(self, card: str) -> list[Session]:
        if (found := self._by_card.get(card)) is None:
            every = [self.session(write_up.slug) for write_up in self._site.of_card(card)]
            found = self._by_card[card] = [session for session in every if session is not None]
        return found

    def number(self, address: Address) -> Number | None:
        if (known := self._known.get(address.scope)) is not None:
            return known.find(address)
        if (session := self.session(address.scope)) is not None:
            if address.subject in session.write_up.setpoints:
                return setpoint_number(session, address) or count_number(session, address)
            if address.subject in session.write_up.sequences:
                return sequence_number(session, address)
        elif (card := self._site.cards.get(address.scope)) is not None:
            return sample_number(self._card_sessions(card.id), address, f"{card.maker} {card.model}")
        return None

    def addresses(self, scope: str) -> tuple[Address, ...]:
        if (session := self.session(scope)) is not None:
            return (
                *setpoint_addresses(session),
                *count_addresses(session),
                *sequence_addresses(session),
            )
        if scope in self._site.cards:
            return tuple(sample_addresses(self._card_sessions(scope), scope))
        return ()

    def table(self, scopes: Iterable[str], find: Callable[[Address], Number | None]) -> Table:
        wanted = dict.fromkeys(scopes)
        sessions = [session for scope in wanted if (session := self.session(scope)) is not None]
        cards = [scope for scope in wanted if self.session(scope) is None and scope in self._site.cards]
        return tabulate(sessions, {card: self._card_sessions(card) for card in cards}, find)

    def forget(self) -> None:
        """Let go of every session. What it keeps refers back to it, and would stay until cycles are searched for."""
        for session in self._sessions.values():
            if session is not None:
                session.forget()
        self._sessions.clear()
        self._by_card.clear()

    def rivals(self, address: Address) -> tuple[Address, ...]:
        if (session := self.session(address.scope)) is not None:
            names = list(session.write_up.setpoints)
        else:
            sessions = self._card_sessions(address.scope)
            names = list(dict.fromkeys(name for one in sessions for name in one.write_up.setpoints))
        if address.subject not in names:
            return ()
        found = [replace(address, subject=name) for name in names if name != address.subject]
        return tuple(rival for rival in found if self.number(rival) is not None)


class _Computed(Results):
    __slots__ = ("ledger",)

    def __init__(self, ledger: _Ledger) -> None:
        super().__init__(
            compute=ledger.number,
            list_addresses=ledger.addresses,
            rival_groups=ledger.rivals,
            tabulate=ledger.table,
            let_go=ledger.forget,
        )
        self.ledger = ledger


def evaluate(site: Site, known: Mapping[str, Results] | None = None) -> Results:
    """Every number of a site, by address. Nothing is computed before it is asked for.

    Parameters
    ----------
    site : Site
        As read by the intake room.
    known : mapping, optional
        Slug → what this function gave for the same site before: numbers of that write-up are taken from there,
        and numbers over samples are computed from what was found for them.

    Returns
    -------
    Results
        `find` gives a Number for every known address (its value None with a reason where the data do not
        determine it) and None for an address that does not exist.
    """
    own = {slug: found for slug, found in (known or {}).items() if isinstance(found, _Computed)}
    return _Computed(_Ledger(site, own))


def glossary(site: Site) -> tuple[Quantity, ...]:
    """Every quantity and relation the site can print, with definition, formula and source, in table order.

    Relations come last; their keys begin with a slash, as in addresses.
    """
    found = {quantity.key: quantity for quantity in (*setpoint_glossary(), *sequence_glossary())}
    for slug in site.write_ups:
        session = Session(site.write_ups[slug], site)
        for key in found:
            if (here := quantity_of(session, key)) is not None and not here.column:
                found[key] = replace(found[key], unit=here.unit)
    relations = (
        Quantity(
            key=f"/{relation.key}", name=relation.key.replace("-", " "), unit=units.ONE,
            definition=relation.definition, formula=relation.formula, source=relation.source,
        )
        for relation in (*RELATIONS, *FURTHER) if relation.key
    )  # fmt: skip
    over_samples = sample_glossary()
    own = [quantity for quantity in over_samples if not quantity.key.startswith("/")]
    further = [quantity for quantity in over_samples if quantity.key.startswith("/")]
    return (*found.values(), *own, *relations, *further)
