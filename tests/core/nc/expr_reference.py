"""Goal: the exact value of random expressions equals that of Python's rational numbers, and what
controls with binary or decimal arithmetic come to lies as near to it as said.

usage: print_expr SEED COUNT | expr_reference.py
"""

import re
import sys
from decimal import Decimal, DivisionByZero, InvalidOperation, getcontext
from fractions import Fraction

LIMIT = 2**63
# The fewest digits that the rules of values assume: one more than the nine that are kept.
getcontext().prec = 10


def tokens(text):
    return re.findall(r"\*\*|[-+*/\[\]]|\d+\.?\d*|\.\d+", text)


class Reader:
    """The grammar of NISTIR 6556, 3.3.2.3, over any kind of number."""

    def __init__(self, text, number):
        self.t = tokens(text) + ["end"]
        self.at = 0
        self.number = number

    def take(self):
        self.at += 1
        return self.t[self.at - 1]

    def sum(self):
        value = self.product()
        while self.t[self.at] in ("+", "-"):
            value = value + self.product() if self.take() == "+" else value - self.product()
        return value

    def product(self):
        value = self.power()
        while self.t[self.at] in ("*", "/"):
            value = value * self.power() if self.take() == "*" else value / self.power()
        return value

    def power(self):
        value = self.operand()
        while self.t[self.at] == "**":
            self.take()
            value = value ** int(self.take())
        return value

    def operand(self):
        t = self.take()
        if t == "-":
            return -self.operand()
        if t == "[":
            value = self.sum()
            assert self.take() == "]"
            return value
        return self.number(t)


def check(text, kind, num, den, real, off):
    try:
        want = Reader(text, Fraction).sum()
    except ZeroDivisionError:
        want = None
    if want is None:
        # a divisor that a control may hold as a neighbour of zero is unknown
        assert kind in ("alarm", "unknown"), "a division by zero is missed"
        return kind
    assert kind != "alarm", "nothing is divided by zero"
    if kind == "exact":
        assert Fraction(num, den) == want, f"want {want}"
    if kind == "near":
        assert abs(Fraction(real) - want) <= Fraction(off), f"want {want}"
    if kind == "unknown":
        return kind
    for number in (float, Decimal):
        try:
            got = Fraction(Reader(text, number).sum())
        except (ZeroDivisionError, DivisionByZero, InvalidOperation, OverflowError):
            raise AssertionError(f"{number.__name__} does not get that far") from None
        # a number as it was written has a neighbour of its own, which all controls read alike
        allowed = Fraction(off) if off else abs(want) * Fraction(1, 10**9)
        assert abs(got - want) <= allowed, f"{number.__name__} comes to {float(got)!r}"
    return kind


def main():
    count = {}
    for line in sys.stdin:
        text, kind, num, den, real, off = line.rstrip("\n").split("\t")
        try:
            told = check(text, kind, int(num), int(den), float(real), float(off))
        except AssertionError as error:
            print(f"{text}: {kind} {num}/{den} {real} off {off}: {error}")
            return 1
        count[told] = count.get(told, 0) + 1
    print(count)
    # most are exact, and each answer was met
    total = sum(count.values())
    return 0 if count.get("exact", 0) > total * 0.7 and count.get("alarm") else 1


sys.exit(main())
