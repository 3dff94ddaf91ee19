"""What the cases of uart.sh share: programs, a machine's settings, and what the carrier has to say at its end.

Sources: DC1 and DC3 are ISO 646 / ECMA-6 positions 1/1 and 1/3. % stands only at the ends of a program, ISO 6983-1. A
16550 holds 16 characters (its data sheet)."""
import re
from uart_guest import Failed, Trouble

DC1, DC3 = b'\x11', b'\x13'
FIFO = 16  # characters of a 16550

printable = ''.join(chr(c) for c in range(0x20, 0x7f) if chr(c) != '%')
EVERY = '%\nO4417\n' + printable[:48] + '\n' + printable[48:] + '\nM30\n%\n'
LONG = '%\nO4417\n' + ''.join(f'N{n} G1 X{n}.5 Z-{n % 90}.25 F0.2\n' for n in range(10, 170)) + 'M30\n%\n'
SOME = LONG[:LONG.index('N40')] + 'M30\n%\n'
PROGRAMS = {'every': EVERY, 'some': SOME, 'long': LONG}
STUMP = 'a part of the new program: do not run it'


def want(true, *said):
    if not true:
        raise Failed(': '.join(str(s).strip() for s in said))


def told(said, pattern):
    found = re.search(pattern, said)
    return found and found.group(1)


def on_line(text, eob=b'\n'):
    return text.encode().replace(b'\n', eob)


class Bench:
    """A machine on one port of the guest."""

    def __init__(self, guest, address, **settings):
        self.g = guest
        lines = {'kind': 'serial', 'address': address, 'baud': 9600, 'framing': '7e1', 'code': 'ascii',
                 'wait_dc1': 'no', 'stall_ms': 20000, **settings}
        self.lines = [f'{k} = {v}' for k, v in lines.items()]
        self.write(self.lines)

    def write(self, lines):
        words = ' '.join(f"'{line}'" for line in ['[line]', *lines])
        status, said = self.g.run(f"printf '%s\\n' {words} >M.conf")
        if status:
            raise Trouble(said)

    def lower(self, address):
        """The lower channel has a port of its own."""
        self.write([*self.lines, '[line lower]', f'address = {address}'])

    def send(self, name, lower=None):
        self.g.begin(f'yoke-carrier send M.conf upper=/{name}' + (f' lower=/{lower}' if lower else ''))

    def done(self):
        status, said = self.g.end()
        want(status == 0 and 'holds the new program' in said, f'not done, status {status}', said)
        want('not read back' in said and 'read back and' not in said, 'called read back without a copy', said)
        return said

    def not_done(self, *words):
        status, said = self.g.end()
        want(status == 1, f'status {status}', said)
        want('holds the new program' not in said, 'called done', said)
        for w in words:
            want(w in said, f'not told: {w}', said)


def line_bits(framing):
    """Start, data, parity and stop bits of a character."""
    return 1 + int(framing[0]) + (framing[1] != 'n') + int(framing[2])
