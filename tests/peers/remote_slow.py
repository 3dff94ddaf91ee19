"""A slow line in front of a server: remote_slow.py PORT TO RATE; so many bytes a second each way, for each of those
who connect to PORT. Whatever one side has ended is ended at the other."""
import socket
import sys
import threading
import time

port, to, rate = map(int, sys.argv[1:])
listener = socket.socket()
listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
listener.bind(("127.0.0.1", port))
listener.listen(8)


def pump(source, target):
    piece = max(1, min(4096, rate // 20))
    try:
        while data := source.recv(piece):
            target.sendall(data)
            time.sleep(len(data) / rate)
    except OSError:
        pass
    for s in (source, target):
        try:
            s.shutdown(socket.SHUT_RDWR)
        except OSError:
            pass


while True:
    one, _ = listener.accept()
    # Small, so that the sender notices the line's pace and not its buffers'.
    one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    try:
        other = socket.create_connection(("127.0.0.1", to))
    except OSError:
        one.close()
        continue
    for pair in ((one, other), (other, one)):
        threading.Thread(target=pump, args=pair, daemon=True).start()
