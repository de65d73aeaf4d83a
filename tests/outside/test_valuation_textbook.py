"""The two ways of valuing stock against a published worked example.

Source: OpenStax, Principles of Accounting, Volume 1: Financial Accounting (Franklin, Graybeal, Cooper), sections 10.2 and
10.3, the example of the Spy Who Loves You Corporation: 150 units at $21 to begin with; 120 sold; 225 bought at $27; 180 sold;
210 bought at $33; sales of $11,340; 285 left.
The book rounds to whole dollars; the exact figures are asserted to the millionth and their roundings to the book's.
"""

from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import pytest

from models.trade.lots import Booking, Lot, Method, put_in, take

SALES = Decimal(11_340)


def dollars(micros: int) -> Decimal:
    return Decimal(micros).scaleb(-6)


def whole(amount: Decimal) -> Decimal:
    return amount.quantize(Decimal(1), rounding=ROUND_HALF_UP)


def run(method: Method) -> tuple[Decimal, Decimal, list[Booking]]:
    """Play the book's year; the cost of goods sold, the closing stock, and the bookings."""
    lots = tuple(Lot(number, date(2019, 7, number), 0, 0) for number in (1, 10, 20))
    bookings: list[Booking] = []

    def book(booking: Booking) -> None:
        nonlocal lots
        lots = booking.lots
        bookings.append(booking)

    book(put_in(lots, 1, 150_000, 150 * 21_000_000, method))
    book(take(lots, 120_000, method))
    book(put_in(lots, 10, 225_000, 225 * 27_000_000, method))
    book(take(lots, 180_000, method))
    book(put_in(lots, 20, 210_000, 210 * 33_000_000, method))
    sold = bookings[1].cost_micros + bookings[3].cost_micros
    closing = sum(lot.value_micros for lot in lots)
    assert dollars(sold + closing) == 16_155  # the book's goods available for sale
    assert sum(lot.quantity_milli for lot in lots) == 285_000
    return dollars(sold), dollars(closing), bookings


def test_first_in_first_out_gives_the_books_figures_exactly() -> None:
    sold, closing, _ = run("fifo")
    assert (sold, closing, SALES - sold) == (7_200, 8_955, 4_140)


def test_the_moving_average_gives_the_books_figures_once_rounded_to_dollars() -> None:
    sold, closing, bookings = run("average")
    # Exact: 120 x 21 = 2,520; 180 x 6,705/255 = 4,732.941176...; the book prints 7,253, 8,902 and 4,087.
    assert bookings[1].cost_micros == 2_520_000_000
    assert bookings[3].cost_micros == 4_732_941_176
    assert sold == Decimal("7252.941176")
    assert closing == Decimal("8902.058824")
    assert (whole(sold), whole(closing), whole(SALES - sold)) == (7_253, 8_902, 4_087)
    # The averages the book prints: $26.29 after the first purchase, $31.24 at the end.
    after_first, last = bookings[2].lots, bookings[4].lots
    for lots, printed, exact in ((after_first, "26.29", "26.2941176"), (last, "31.24", "31.2352941")):
        average = dollars(sum(lot.value_micros for lot in lots)) / (sum(lot.quantity_milli for lot in lots) // 1000)
        assert average.quantize(Decimal("0.01")) == Decimal(printed)
        assert average.quantize(Decimal("0.0000001")) == Decimal(exact)


@pytest.mark.parametrize("method", ["fifo", "average"])
def test_the_last_unit_takes_what_is_left(method: Method) -> None:
    _, closing, bookings = run(method)
    emptied = take(bookings[-1].lots, 285_000, method)
    assert dollars(emptied.cost_micros) == closing
    assert all(lot.value_micros == 0 for lot in emptied.lots)
