"""The cases of uart.sh. usage: uart_cases.py programs ROOT | run [--short] SCRATCH KERNEL INITRD MODEM

Sources: even parity in bit 8 is ISO 840; the frames are start, data, parity and stop bits. What a control says when is
common practice."""
import hashlib
import os
import signal
import sys
import time
from uart_bench import DC1, DC3, EVERY, FIFO, LONG, PROGRAMS, SOME, STUMP, Bench, line_bits, on_line, told, want
from uart_guest import CTS, DCD, DSR, DTR, RTS, Failed, Guest, Trouble


def port_settings(g):
    return g.settings(r"serial_update_parameters.*baudrate=(\d+) parity='(.)' data=(\d) stop=(\d)")


def framing(framing, code, eob, mark, expect, baud=9600):
    def case(g):
        b = Bench(g, 'port:ttyS1', framing=framing, code=code, eob=eob, baud=baud, leader=5, trailer=5, wait_dc1='yes')
        port_settings(g)
        b.send('every')
        g.says('set it to read')
        want(not g.line.hear(1, patience=.3), 'sent before DC1')
        g.line.say(DC1)
        length = 10 + len(on_line(EVERY, mark))
        heard = g.line.hear(length, baud / line_bits(framing), quiet=3)
        told_by_port = port_settings(g)
        b.done()
        heard += g.line.hear(1, patience=.3)
        if code == 'iso':
            want(all(bin(c).count('1') % 2 == 0 for c in heard), 'a character without even parity')
        # The eighth bit does not leave a port of 7 bits, but QEMU hands it on.
        if code == 'iso' or framing[0] == '7':
            heard = bytes(c & 0x7f for c in heard)
        want(heard == bytes(5) + on_line(EVERY, mark) + bytes(5), 'other characters arrived', heard)
        want(told_by_port and told_by_port[-1] == expect, 'the registers of the port', told_by_port)
        return 'at the registers: %s bit/s, parity %s, %s bits, stop %s' % expect
    case.label = f'{baud} {framing} {code} {eob}: every printable character arrives, the port is set so'
    return case


def brake(reserve, dc3, baud, name):
    """The control's own count of what came after its DC3 has on top what the line carried while the guest was reached:
    a tenth of a second here. An uncapped queue of the kernel would give over 4000."""
    text = PROGRAMS[name]

    def case(g):
        b = Bench(g, 'port:ttyS1', reserve=reserve, baud=baud, framing='7e1', code='iso')
        cps = baud / 10
        b.send(name)
        heard = g.line.hear(len(text) // 4, cps)
        status, terminal = g.run('stty -a -F /dev/ttyS1')
        for word in ('-ixon', '-ixoff', '-ixany', '-crtscts', 'cs7', 'parenb', '-parodd', 'inpck', 'parmrk', '-ignpar', '-ignbrk'):
            want(word in terminal.split(), f'{word} is not set', terminal)
        heard += g.line.hear(reserve, cps)
        g.line.say(dc3)
        after = g.line.hear(10000, cps, quiet=1.5)
        want(after, 'the line stood still before')
        want(len(after) <= reserve + 2 + cps / 10, f'{len(after)} characters after DC3, reserve {reserve}')
        g.line.say(DC1)
        heard += after + g.line.hear(len(text) - len(heard) - len(after), cps, quiet=3)
        figures = b.done()
        want(bytes(c & 0x7f for c in heard) == on_line(text), 'other characters arrived')
        figure = told(figures, r'at most (\d+) characters left after it was held')
        want(figure and int(figure) <= reserve, 'the figure', figures)
        return f'{len(after)} characters after DC3, {figure} in our figures'
    case.label = f'DC3 as {dc3.hex()} at {baud} bit/s, reserve {reserve}: held by us, in time'
    return case


def held_for_ever(g):
    """Output that is held by DC3 must not hold the carrier's end."""
    b = Bench(g, 'port:ttyS1', stall_ms=3000)
    b.send('long')
    g.line.hear(500, 960)
    g.line.say(DC3)
    g.line.hear(10000, 960, quiet=1)
    begin = time.monotonic()
    b.not_done('held the line for too long', STUMP)
    return f'ended {time.monotonic() - begin + 1:.1f} s after DC3, patience 3 s'


held_for_ever.label = 'DC3 for ever: a stall, and not done'


def stuck(g):
    """The driver would wait half a minute for what it could not send: nobody is to wait for the port that long."""
    b = Bench(g, 'port:ttyS1', stall_ms=3000)
    b.send('long')
    g.line.hear(500, 960)
    begin = time.monotonic()
    b.not_done('held the line for too long', STUMP)
    took = time.monotonic() - begin
    want(took < 15, f'the port was let go after {took:.0f} s')
    g.line.hear(100000, quiet=.5)
    return f'ended after {took:.1f} s, patience 3 s'


stuck.label = 'a line that takes nothing any more: a stall, not done, and the port is let go'


def fetched(g):
    Bench(g, 'port:ttyS1', read_back='punch', silence_ms=1500)
    g.run('rm -f back')
    g.begin('yoke-carrier fetch M.conf upper=back')
    g.says('punch')
    # The driver doubles FF where wrong characters are marked: here they are rubbed-out places.
    g.line.say_paced(bytes(20) + b'\xff\xff' + on_line(EVERY, b'\r\n') + bytes(20), 960)
    status, said = g.end()
    want(status == 0, f'status {status}', said)
    sum_there = g.run('sha256sum back')[1].split()[0]
    want(sum_there == hashlib.sha256(EVERY.encode()).hexdigest(), 'another program came', g.run('cat back')[1])


fetched.label = 'fetch: every printable character comes, equal to the byte'


def in_use(g):
    b = Bench(g, 'port:ttyS1')
    g.run('stty clocal -F /dev/ttyS1; sleep 1000 </dev/ttyS1 & echo $! >user')
    b.send('every')
    try:
        b.not_done('used by sleep')
        want(not g.line.hear(1, patience=.5), 'something was sent')
    finally:
        g.run('kill $(cat user)')


in_use.label = 'a port that another program has open: refused, its name told, nothing sent'


def ready_line(flow, off, what, most):
    """The driver stops at CTS by itself, before its queue; DSR is looked at by us, every 5 ms."""
    def case(g):
        b = Bench(g, 'port:ttyS2', flow=flow, reserve=32)
        g.drive(CTS | DSR | DCD)
        b.send('long')
        heard = g.modem_line.hear(1000)
        want(g.driven() == RTS | DTR, 'RTS and DTR are not on', g.driven())
        status, terminal = g.run('stty -a -F /dev/ttyS2')
        want(('crtscts' in terminal.split()) == (off == CTS) and '-ixon' in terminal.split(), 'flow control', terminal)
        heard += g.modem_line.hear(200)
        g.drive((CTS | DSR | DCD) & ~off)
        after = g.modem_line.hear(10000, quiet=1.5, patience=1)
        want(len(after) <= most + 96, f'{len(after)} characters after {what} went off')
        if flow == 'both':
            g.modem_line.say(DC3)
        g.drive(CTS | DSR | DCD)
        if flow == 'both':
            held = g.modem_line.hear(10000, quiet=1.5, patience=1)
            want(len(held) <= 32 + FIFO, f'{len(held)} characters after DC3 although CTS is on')
            after += held
            g.modem_line.say(DC1)
        heard += after + g.modem_line.hear(len(LONG) - len(heard) - len(after), quiet=3)
        b.done()
        want(heard == on_line(LONG), 'other characters arrived')
        return f'{len(after)} characters after {what} went off'
    case.label = f'flow {flow}: {what} off stops it, nothing is lost'
    return case


def never_clear(g):
    b = Bench(g, 'port:ttyS2', flow='rtscts', reserve=32, stall_ms=3000)
    b.send('long')
    g.modem_line.hear(500)
    g.drive(DSR | DCD)
    begin = time.monotonic()
    try:
        b.not_done('held the line for too long', STUMP)
        took = time.monotonic() - begin
        want(took < 15, f'the port was closed after {took:.0f} s: it waits for its output')
    finally:
        g.drive(CTS | DSR | DCD)
    g.modem_line.hear(10000, quiet=.5, patience=.5)
    return f'ended after {took:.1f} s, patience 3 s'


never_clear.label = 'CTS off for ever: a stall, not done, and the port is let go'


def too_fast(g):
    """A 16550 on a clock of 1.8432 MHz has 115200 bit/s at most. The driver takes more without a word and sets another
    speed."""
    b = Bench(g, 'port:ttyS1', baud=230400)
    b.send('every')
    b.not_done("does not have the speed 230400", 'what it held before')
    want(not g.line.hear(1, patience=.3), 'something was sent')


too_fast.label = 'a speed that the port does not have: refused, nothing sent'


def both_channels(g):
    b = Bench(g, 'port:ttyS1', code='iso', framing='7e2')
    b.lower('port:ttyS2')
    b.send('every', 'some')
    upper = g.line.hear(len(EVERY), 9600 / 11, quiet=3)
    lower = g.modem_line.hear(len(SOME), quiet=3)
    said = b.done()
    want(said.count('holds the new program') == 2, 'not both', said)
    want(bytes(c & 0x7f for c in upper) == on_line(EVERY), 'other characters at the upper channel', upper)
    want(bytes(c & 0x7f for c in lower) == on_line(SOME), 'other characters at the lower channel', lower)
    b.lower('usb:YOKE0001')
    b.send('every', 'some')
    b.not_done('YOKE0001', 'upper: the machine holds what it held before')
    want(not g.line.hear(1, patience=.5), 'something was sent')


both_channels.label = 'a port for each channel: both arrive; where one is missing nothing is sent over the other'


def listed(g):
    cable = plugged(g, 'c')
    status, said = g.run('yoke ports')
    g.unplug('c')
    del cable
    for word in ('port:ttyS1', 'port:ttyS2', 'usb:YOKE0001'):
        want(word in said.split(), f'{word} is not listed', said)
    want('usb-0:' in said, 'the place of the adapter', said)


listed.label = 'yoke ports: lists the ports and the adapter with the address that the carrier takes'


def pulled_while_fetched(g):
    cable = plugged(g, 'd')
    Bench(g, 'usb:YOKE0001', framing='7e2', silence_ms=20000)
    g.run('rm -f back')
    g.begin('yoke-carrier fetch M.conf upper=back')
    g.says('punch')
    cable.say_paced(bytes(20) + on_line(LONG[:1000]), 960)
    g.unplug('d')
    status, said = g.end()
    want(status == 1 and 'unplugged' in said, f'status {status}', said)
    want(g.run('ls back')[0] != 0, 'a part was stored as a program')


pulled_while_fetched.label = 'USB: the adapter is pulled while the control punches: told, no program stored'


def switched_off(g):
    b = Bench(g, 'port:ttyS2', watch='dsr')
    b.send('long')
    g.modem_line.hear(1000)
    g.drive(CTS | DCD)
    try:
        b.not_done('the control went off, or the cable is out', STUMP)
    finally:
        g.drive(CTS | DSR | DCD)
    g.modem_line.hear(10000, quiet=.5, patience=.5)


switched_off.label = 'DSR is watched and goes off in the middle: told, a part, not done'


def broken_off(g):
    b = Bench(g, 'port:ttyS1')
    b.send('long')
    g.line.hear(1000, 960)
    g.send_break()
    g.line.hear(10000, 960, quiet=1)
    b.not_done('the line gave a break', '1 break', STUMP)


broken_off.label = 'a break in the middle: told with its count, a part, not done'


def not_there(g):
    b = Bench(g, 'usb:YOKE0001')
    b.send('every')
    b.not_done('YOKE0001', 'what it held before')


not_there.label = 'an adapter that is not plugged in: refused, nothing was sent'


def plugged(g, name):
    there = 'grep -lx YOKE0001 /sys/bus/usb/devices/*/serial'
    g.becomes(there, False)  # one that was pulled is still on its way out
    cable = g.plug(name, 'YOKE0001')
    g.becomes(f'{there} && ls /dev/ttyUSB*', True)
    return cable


def pulled(g):
    cable = plugged(g, 'a')
    b = Bench(g, 'usb:YOKE0001', framing='7e2')
    b.send('long')
    heard = cable.hear(1500)
    want(on_line(LONG).startswith(heard), 'other characters arrived')
    g.unplug('a')
    begin = time.monotonic()
    b.not_done('unplugged', STUMP)
    return f'told {time.monotonic() - begin:.1f} s after it went'


pulled.label = 'USB: the adapter is pulled in the middle: lost, a part, not done'


def again(g):
    cable = plugged(g, 'b')
    b = Bench(g, 'usb:YOKE0001', framing='7e2')
    wanted = ['parity E, data bits 7, stop bits 2', 'baud rate 9600']
    g.settings('^')
    b.send('every')
    heard = cable.hear(len(on_line(EVERY)), quiet=3)
    b.done()
    want(heard == on_line(EVERY), 'other characters arrived', heard)
    g.unplug('b')
    asked = g.settings(r'usb_serial_set_(?:data|baud) dev \S+ (.*)')
    want(asked[-2:] in (wanted, wanted[::-1]), 'what the adapter was asked for', asked)


again.label = 'USB: plugged in again, found by its serial number, set so; every printable character arrives'

SHORT = [
    framing('7e2', 'iso', 'lf', b'\n', ('9600', 'E', '7', '2')),
    brake(64, b'\x93', 9600, 'some'),
    ready_line('rtscts', CTS, 'CTS', FIFO),
    not_there,
    pulled,
]
CASES = [
    framing('7e1', 'ascii', 'lf', b'\n', ('9600', 'E', '7', '1')),
    framing('7e2', 'iso', 'crlf', b'\r\n', ('9600', 'E', '7', '2')),
    framing('7o1', 'ascii', 'lf', b'\n', ('9600', 'O', '7', '1')),
    framing('8n1', 'ascii', 'lfcrcr', b'\n\r\r', ('9600', 'N', '8', '1')),
    framing('8n2', 'iso', 'lf', b'\n', ('9600', 'N', '8', '2')),
    framing('8e1', 'ascii', 'lf', b'\n', ('9600', 'E', '8', '1')),
    framing('7e2', 'iso', 'lf', b'\n', ('300', 'E', '7', '2'), 300),
    framing('8n1', 'ascii', 'lf', b'\n', ('115200', 'N', '8', '1'), 115200),
    too_fast,
    both_channels,
    brake(64, DC3, 9600, 'long'),
    brake(64, b'\x93', 1200, 'some'),
    brake(16, b'\x93', 4800, 'long'),
    held_for_ever,
    stuck,
    fetched,
    broken_off,
    in_use,
    ready_line('rtscts', CTS, 'CTS', FIFO),
    ready_line('both', CTS, 'CTS', FIFO),
    ready_line('dtrdsr', DSR, 'DSR', 32),
    never_clear,
    switched_off,
    not_there,
    pulled,
    again,
    pulled_while_fetched,
    listed,
]


def run(short, scratch, kernel, initrd, modem):
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    g = Guest(scratch, kernel, initrd, modem)
    passed = failed = 0
    try:
        g.until(b'GUEST READY', 300)
        print(f'the guest is up after {time.monotonic() - g.begun:.0f} s, {g.cpu():.0f} s of processor', flush=True)
        for case in SHORT if short else CASES:
            try:
                figure = case(g)
                print(f'pass  {case.label}' + (f' ({figure})' if figure else ''), flush=True)
                passed += 1
            except Failed as why:
                print(f'FAIL  {case.label}\n      {why}', flush=True)
                failed += 1
                g.stop()
                g.drive(CTS | DSR | DCD)
                g.modem_line.hear(100000, quiet=.3, patience=.3)
                g.line.hear(100000, quiet=.3, patience=.3)
    except Trouble as why:
        print(f'FAIL  {why}')
        failed += 1
    finally:
        print(f'{g.cpu() if g.process.poll() is None else 0:.0f} s of processor, '
              f'{time.monotonic() - g.begun:.0f} s in all')
        g.close()
    print(f'{passed} passed, {failed} failed')
    return 0 if passed and not failed else 1


def main(arguments):
    if arguments[0] == 'programs':
        for name, text in PROGRAMS.items():
            with open(os.path.join(arguments[1], name), 'w') as f:
                f.write(text)
        return 0
    short = arguments[1] == '--short'
    return run(short, *arguments[1 + short:])


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
