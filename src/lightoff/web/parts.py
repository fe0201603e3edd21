"""Parts of a heater with their lives, the exchange of one on a visit, and the shop's stock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff.ground.errors import Refusal
from lightoff.ground.values import dataclass
from lightoff.records import body_of
from lightoff.terms.entry import Entry
from lightoff.terms.part import Bin, MoveKind
from lightoff.terms.shelf import PartType
from lightoff.wear.lives import Clock
from lightoff.web.forms import Typed, id_of_words, new_id
from lightoff.web.page import Page, subscripted
from lightoff.web.rooms import Rooms
from lightoff.work.advise_parts import Fitted, advise_parts
from lightoff.work.move_part import Exchange, move_part, stock_of
from lightoff.work.part_lines import newest_of
from lightoff.work.pieces import Piece, Where
from lightoff.work.units import unit_of

rooms = Rooms()
MOST_PIECES = 9_999
FATES = {
    "": "fate_stays",
    MoveKind.SCRAPPED.value: "scrapped",
    MoveKind.KEPT.value: "kept_as_spare",
    MoveKind.FAILED.value: "failed",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One fitted piece as the page shows it."""

    kind: str
    name: Markup
    line: Markup
    says: tuple[Markup, ...]
    spares: tuple[Markup, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelved:
    """One bin as the page shows it: what is left in it, and of all at the place that serves in its stead.

    `heir` is the part type that has taken the place of its own, "" where none has.
    """

    bin: Bin
    name: Markup
    left: int
    alike: int
    heir: str

    @property
    def is_short(self) -> bool:
        """Whether less is at hand than the least, what replaced it counted."""
        return self.alike < self.bin.minimum


@rooms.get("/heaters/{id}/parts")
def show_parts(request: Request, id: str) -> Response:  # noqa: A002
    """What is fitted, what is carried, and what to do."""
    page = Page.of(request)
    running = next((each for each in reversed(page.book.visits_of(id)) if each.closed_at is None), None)
    return _page(page, id, visit=running.id if running else "")


@rooms.get("/visits/{id}/parts")
def show_parts_on_a_visit(request: Request, id: str) -> Response:  # noqa: A002
    """The same, with the form that records an exchange."""
    page = Page.of(request)
    return _page(page, page.book.visit(id).heater, visit=id)


@rooms.post("/visits/{id}/parts")
async def exchange_part(request: Request, id: str) -> Response:  # noqa: A002
    """What became of the old piece, and what went in."""
    page = Page.of(request)
    typed = await Typed.of(request)
    visit = page.book.visit(id)
    source = typed.line("source")
    fate = typed.line("fate")
    try:
        stamped = typed.line("stamped")
        done = Exchange(
            kind=typed.line("kind"),
            fate=MoveKind(fate) if fate else None,
            spare=source.removeprefix("spare ") if source.startswith("spare ") else "",
            bin=source.removeprefix("bin ") if source.startswith("bin ") else "",
            fits_new=source != "nothing",
            why=typed.line("why"),
            condition=typed.line("condition"),
            cause=typed.line("cause") if fate == MoveKind.FAILED.value else "",
            stamped_on=date.fromisoformat(stamped) if stamped else None,
        )
        author = visit.technician or page.shop.technician
        boxes = ("kind", "fate", "source", "why", "condition", "cause", "stamped")
        words = [typed.line(each) for each in boxes]
        move_part(
            page.house.workshop,
            id,
            done,
            page.now,
            author=author,
            new_id=lambda: new_id(page.now),
            exchange_id=id_of_words(typed.line("exchange"), id, *words),
        )
    except (Refusal, ValueError) as fault:
        said = fault.message if isinstance(fault, Refusal) else None
        problem = page.speaker.say(said) if said else page.speaker.text("web_part.bad_date")
        return _page(page, visit.heater, visit=id, problem=problem, status=422)
    return RedirectResponse(f"/visits/{id}/parts#kind-{done.kind}", status_code=303)


@rooms.get("/stock")
def show_stock(request: Request) -> Response:
    """Bins of van and shop."""
    return _stock(Page.of(request))


@rooms.post("/stock")
async def count_stock(request: Request) -> Response:
    """A bin counted again, or a new one."""
    page = Page.of(request)
    typed = await Typed.of(request)
    at = typed.line("bin") or id_of_words(
        typed.line("new_bin"), *(typed.line(each) for each in ("kind", "place"))
    )
    standing = next((each for each in page.book.bins() if each.id == at), None)
    try:
        kind = standing.kind if standing else typed.line("kind")
        if kind not in page.shelf.part_types:
            return _stock(
                page, problem=page.speaker.text("part_move.unknown_kind", kind=kind[:60]), status=422
            )
        price = typed.line("price")
        counted = Bin(
            id=standing.id if standing else (at or new_id(page.now)),
            kind=kind,
            place=standing.place if standing else (typed.line("place") or "van"),
            counted=_count(typed.line("counted")),
            counted_at=page.now,
            minimum=_count(typed.line("minimum") or str(standing.minimum if standing else 0)),
            price=_price(price) if price else (standing.price if standing else None),
        )
    except (ValueError, InvalidOperation):
        return _stock(page, problem=page.speaker.text("web_part.bad_count"), status=422)
    before = page.book.standing("bin", counted.id)
    page.book.keep(
        [
            Entry(
                id=new_id(page.now),
                subject=counted.id,
                field="bin",
                value=body_of(counted),
                author=page.shop.technician,
                at=page.now,
                corrects=before[0].id if before else None,
            )
        ]
    )
    return RedirectResponse("/stock", status_code=303)


def _count(typed: str) -> int:
    """A whole number, none below nought. Raises ValueError."""
    count = int(typed)
    if not 0 <= count <= MOST_PIECES:
        raise ValueError(typed)
    return count


def _price(typed: str) -> Decimal:
    """A price, none below nought. Raises ValueError or InvalidOperation."""
    price = Decimal(typed)
    if not price.is_finite() or price < 0:
        raise ValueError(typed)
    return price


def _page(page: Page, heater_id: str, *, visit: str, problem: str = "", status: int = 200) -> Response:
    workshop = page.house.workshop
    line = page.book.line(heater_id)
    fitted = advise_parts(workshop, heater_id, page.now)
    unit = unit_of(workshop, heater_id, page.now)
    spares = [each for each in unit.pieces if each.where is Where.SPARE]
    was = {each.id: each.kind for each in page.book.parts(heater_id)}
    return page.show(
        "parts.html",
        status=status,
        line=line,
        visit=visit,
        problem=problem,
        rows=[_row(page, each, was[each.piece.part.id]) for each in fitted],
        spares=[(each.part.id, each.part.kind, _spare(page, each)) for each in spares],
        kinds=[(key, _name(page, kind)) for key, kind in page.shelf.part_types.items()],
        fates=[(value, page.text(f"web_part.{key}")) for value, key in FATES.items()],
        sources=_sources(page, spares),
        causes=[
            (fault, key, page.text_or(f"fault.{fault}", fault))
            for key, kind in page.shelf.part_types.items()
            for fault in kind.faults
        ],
        kept={key for key, kind in page.shelf.part_types.items() if kind.kept},
        alike=lambda kind: " ".join(_alike(page, kind)),
        picked=page.request.query_params.get("kind", ""),
        exchange=new_id(page.now),
    )


def _row(page: Page, fitted: Fitted, was: str) -> Row:
    clock = Clock(fitted.kind.clock)
    used = fitted.piece.used.get(clock)
    day = page.speaker.date_of(fitted.piece.since)
    line = (
        page.text("web_part.used", used=f"{used.value:,.0f}", clock=_clock(page, clock), day=day)
        if used
        else page.text("web_part.used_unknown", day=day)
    )
    says = (
        tuple(subscripted(page.speaker.say(each)) for each in fitted.advice.says())
        if fitted.advice
        else (page.text("web_part.advice_unknown"),)
    )
    if was != fitted.kind.key:
        line = Markup("{}, {}").format(line, page.text("web_part.older", part=_kind_name(page, was)))
    return Row(
        kind=fitted.kind.key,
        name=_name(page, fitted.kind),
        line=line,
        says=says,
        spares=tuple(_spare(page, each) for each in fitted.spares),
    )


def _spare(page: Page, piece: Piece) -> Markup:
    kind = page.shelf.part_types.get(piece.part.kind)
    clock = Clock(kind.clock) if kind else Clock.MONTHS
    used = piece.used.get(clock)
    return page.text(
        "web_part.spare_used",
        day=page.speaker.date_of(piece.since),
        used=f"{used.value:,.0f}" if used else "?",
        clock=_clock(page, clock),
    )


def _sources(page: Page, spares: Sequence[Piece]) -> list[tuple[str, str, Markup]]:
    """Where a new piece may come from: value, part type it is for ("" for all), words."""
    found = [("new", "", page.text("web_part.new_brought"))]
    bins = page.book.bins()
    left = stock_of(bins, page.book.taken())
    found += [
        (
            f"bin {each.id}",
            each.kind,
            page.text("web_part.from_bin", place=each.place, count=left[each.id]),
        )
        for each in bins
        if left[each.id] > 0
    ]
    for each in spares:
        found.append((f"spare {each.part.id}", each.part.kind, _spare(page, each)))
    found.append(("nothing", "", page.text("web_part.nothing_in")))
    return found


def _alike(page: Page, kind: str) -> Iterator[str]:
    """The part types in whose place a piece of this one serves: all of its line."""
    kinds = page.shelf.part_types
    return (key for key in kinds if newest_of(key, kinds) == newest_of(kind, kinds))


def _stock(page: Page, *, problem: str = "", status: int = 200) -> Response:
    bins = page.book.bins()
    left = stock_of(bins, page.book.taken())
    kinds = page.shelf.part_types
    lines: dict[tuple[str, str], int] = {}
    for each in bins:
        line = (each.place, newest_of(each.kind, kinds))
        lines[line] = lines.get(line, 0) + left[each.id]
    return page.show(
        "stock.html",
        status=status,
        problem=problem,
        bins=[
            Shelved(
                bin=each,
                name=_kind_name(page, each.kind),
                left=left[each.id],
                alike=lines[each.place, newest_of(each.kind, kinds)],
                heir="" if newest_of(each.kind, kinds) == each.kind else newest_of(each.kind, kinds),
            )
            for each in bins
        ],
        kinds=[(key, _name(page, kind)) for key, kind in page.shelf.part_types.items()],
        new_bin=new_id(page.now),
    )


def _kind_name(page: Page, key: str) -> Markup:
    kind = page.shelf.part_types.get(key)
    return _name(page, kind) if kind else Markup.escape(key)


def _name(page: Page, kind: PartType) -> Markup:
    return page.text_or(f"part.{kind.key}", kind.label or kind.key)


def _clock(page: Page, clock: Clock) -> str:
    return page.speaker.text(f"wear_clock.{clock.value}")
