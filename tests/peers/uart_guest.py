"""A PC of QEMU's, without acceleration by hardware, whose serial ports' other ends are held by the test. Its console
takes commands; its kernel is Debian's with the real drivers.

Port 0 is the console. Port 1 ends in a socket that holds only a few characters, so that whoever reads it slowly is a
slow line: QEMU itself knows no speed. Port 2 ends in a pseudo-terminal whose modem lines the test drives. An adapter
on USB can be plugged in and out. QEMU tells how the registers of its ports are set, and no test has to believe the
guest."""
import json
import mmap
import os
import re
import select
import socket
import struct
import subprocess
import termios
import time
import tty

CTS, DSR, DCD, RTS, DTR = termios.TIOCM_CTS, termios.TIOCM_DSR, termios.TIOCM_CAR, termios.TIOCM_RTS, termios.TIOCM_DTR


class Trouble(Exception):
    """The guest or its console does not answer: no verdict about the carrier."""


class Failed(Exception):
    """The carrier does something else than it should."""


class Cable:
    """The test's end of a port: bytes come at a pace and go at once."""

    def __init__(self, fd):
        self.fd = fd
        os.set_blocking(fd, False)

    def say(self, data):
        end = time.monotonic() + 30
        while data:
            try:
                data = data[os.write(self.fd, data):]
            except BlockingIOError:
                if time.monotonic() > end:
                    raise Trouble('the guest takes no characters')
                time.sleep(.002)

    def say_paced(self, data, cps):
        begin = time.monotonic()
        for at in range(0, len(data), 8):
            time.sleep(max(0, begin + at / cps - time.monotonic()))
            self.say(data[at:at + 8])

    def hear(self, most, cps=0, quiet=1.0, patience=30.0):
        """Bytes until there are so many, or none came for quiet seconds after the first; patience is for the first.
        cps: characters that the line carries in a second, 0 for all that are there."""
        heard = b''
        begin = last = time.monotonic()
        while len(heard) < most:
            now = time.monotonic()
            allowed = min(most - len(heard), int((now - begin) * cps) - len(heard) if cps else 65536)
            if allowed <= 0:
                time.sleep(.002)
                continue
            try:
                data = os.read(self.fd, allowed)
            except BlockingIOError:
                data = None
            except OSError:
                break
            if data == b'':
                break
            if data:
                heard += data
                last = now
            elif now - last > (quiet if heard else patience):
                break
            else:
                # A line that stood still has saved up nothing.
                begin = now - len(heard) / cps if cps else begin
                select.select([self.fd], [], [], .02)
        return heard


class Guest:
    def __init__(self, work, kernel, initrd, modem):
        self.work = work
        self.begun = time.monotonic()
        self.heard = b''
        self.trace_at = 0
        ends = {name: socket.socketpair() for name in ('console', 'qmp', 'line')}
        ends['line'][1].setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 1)
        self.console, self.monitor = ends['console'][0], ends['qmp'][0]
        self.line = Cable(ends['line'][0].detach())
        master, self.slave = os.openpty()
        tty.setraw(self.slave)
        self.modem_line = Cable(master)
        with open(f'{work}/modem', 'wb') as f:
            f.write(struct.pack('=II', CTS | DSR | DCD, 0))
        self.modem_file = open(f'{work}/modem', 'r+b')
        self.modem = mmap.mmap(self.modem_file.fileno(), 8)
        with open('/proc/cpuinfo') as f:
            khz = int(float(re.search(r'cpu MHz\s*: ([0-9.]+)', f.read()).group(1)) * 1000)
        # The speed of the clock is told: what a guest on a busy computer finds out by itself can be far off.
        append = (f'console=ttyS0 quiet nokaslr mitigations=off tsc_early_khz={khz} tsc=reliable no_timer_check '
                  'cryptomgr.notests audit=0 selinux=0 apparmor=0 random.trust_cpu=on panic=-1')
        arguments = ['qemu-system-x86_64', '-accel', 'tcg', '-M', 'pc', '-m', '192', '-display', 'none',
                     '-nodefaults', '-no-reboot', '-kernel', kernel, '-initrd', initrd, '-append', append,
                     '-device', 'piix3-usb-uhci,id=uhci', '-D', f'{work}/trace',
                     '-trace', 'serial_update_parameters', '-trace', 'usb_serial_set_data', '-trace',
                     'usb_serial_set_baud', '-mon', 'chardev=qmp,mode=control',
                     '-chardev', f'serial,id=modem,path={os.ttyname(self.slave)}']
        for name, (_, theirs) in ends.items():
            arguments += ['-chardev', f'socket,id={name},fd={theirs.fileno()}']
        for index, name in enumerate(('console', 'line', 'modem')):
            arguments += ['-device', f'isa-serial,chardev={name},index={index}']
        self.process = subprocess.Popen(arguments, pass_fds=[e[1].fileno() for e in ends.values()],
                                        env=dict(os.environ, LD_PRELOAD=modem, YOKE_MODEM=f'{work}/modem'))
        for _, theirs in ends.values():
            theirs.close()
        self.messages = self.monitor.makefile('rwb')
        self.messages.readline()
        self.ask('qmp_capabilities')

    def ask(self, command, **arguments):
        """One command of QEMU's own."""
        self.messages.write(json.dumps({'execute': command, 'arguments': arguments}).encode() + b'\n')
        self.messages.flush()
        for line in self.messages:
            answer = json.loads(line)
            if 'error' in answer:
                raise Trouble(f'{command}: {answer["error"]}')
            if 'return' in answer:
                return answer['return']
        raise Trouble('QEMU ended')

    def until(self, pattern, patience):
        """What the console said before the pattern, and the match."""
        end = time.monotonic() + patience
        while not (found := re.search(pattern, self.heard)):
            if not select.select([self.console], [], [], max(0, end - time.monotonic()))[0]:
                raise Trouble(f'the guest did not say {pattern}: {self.heard[-2000:]!r}')
            data = self.console.recv(65536)
            if not data:
                raise Trouble(f'the guest is gone: {self.heard[-2000:]!r}')
            self.heard += data
        before, self.heard = self.heard[:found.start()], self.heard[found.end():]
        return before.decode(errors='replace').replace('\r', ''), found

    def run(self, command, patience=60):
        """A shell command in the guest: its status and what it said."""
        self.console.sendall(command.encode() + b'\n')
        said, found = self.until(rb'<(\d+)>\r?\n', patience)
        return int(found.group(1)), said

    def becomes(self, command, true, patience=20):
        """Wait until a command succeeds, or fails."""
        end = time.monotonic() + patience
        while (self.run(command)[0] == 0) != true:
            if time.monotonic() > end:
                raise Trouble(f'{command} stays {not true}; the kernel: {self.run("dmesg | tail -20")[1]}')
            time.sleep(.2)

    def begin(self, command):
        """A command beside the console; its end is awaited by end()."""
        self.run(f'rm -f said status; ( {command} >said 2>&1; echo $? >left; mv left status ) &')

    def says(self, words, patience=60):
        """Wait until the command begun last says these words."""
        end = time.monotonic() + patience
        while words not in (said := self.run('cat said')[1]):
            if time.monotonic() > end or self.run('test -e status')[0] == 0:
                raise Failed(f'not said: {words}: {said}')
            time.sleep(.2)

    def end(self, patience=60):
        """Status of the command begun last, and what it said."""
        end = time.monotonic() + patience
        while self.run('test -e status')[0]:
            if time.monotonic() > end:
                raise Failed(f'no end after {patience} s: {self.run("cat said")[1]}')
            time.sleep(.1)
        return int(self.run('cat status')[1]), self.run('cat said')[1]

    def stop(self):
        """End what was begun last, at once."""
        self.run('killall -9 yoke-carrier')
        self.becomes('test -e status', True)

    def drive(self, lines):
        """The modem lines that the control drives."""
        self.modem[0:4] = struct.pack('=I', lines)

    def driven(self):
        """The modem lines that the guest drives."""
        return struct.unpack('=I', self.modem[4:8])[0]

    def settings(self, pattern):
        """Matches of a pattern in what QEMU told about its ports since the last call."""
        with open(f'{self.work}/trace') as f:
            f.seek(self.trace_at)
            told = f.read()
            self.trace_at = f.tell()
        return re.findall(pattern, told)

    def plug(self, name, serial):
        """An adapter with a serial number of its own. The cable at its end."""
        ours, theirs = socket.socketpair()
        socket.send_fds(self.monitor, [b'{"execute": "getfd", "arguments": {"fdname": "%s"}}\n' % name.encode()],
                        [theirs.fileno()])
        self.messages.readline()
        theirs.close()
        self.ask('chardev-add', id=name, backend={
            'type': 'socket', 'data': {'addr': {'type': 'fd', 'data': {'str': name}}, 'server': False}})
        self.ask('device_add', driver='usb-serial', id=f'usb-{name}', bus='uhci.0', chardev=name, serial=serial)
        return Cable(ours.detach())

    def send_break(self):
        """A break on the line of port 1."""
        self.ask('chardev-send-break', id='line')

    def unplug(self, name):
        self.ask('device_del', id=f'usb-{name}')

    def cpu(self):
        """Seconds of processor that the guest cost."""
        with open(f'/proc/{self.process.pid}/stat') as f:
            fields = f.read().rsplit(')', 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf('SC_CLK_TCK')

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
