"""Listen for checkpoints. usage: trail_listen.py KIND PORT HEARD: take (a server that keeps what is posted), refuse
(507), silent (never answers), log (/dev/log). The port, or "log", is written to PORT, what comes to HEARD."""
import http.server
import socket
import sys
import time

kind, port_file, heard = sys.argv[1:]


def tell(what):
    with open(port_file, "w") as f:
        f.write(str(what))


def keep(data):
    with open(heard, "ab") as f:
        f.write(data)


class Post(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        data = self.rfile.read(int(self.headers["Content-Length"]))
        if kind == "take":
            keep(data)
        self.send_response(204 if kind == "take" else 507)
        self.end_headers()

    def log_message(self, *_):
        pass


if kind == "log":
    s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    s.bind("/dev/log")
    tell("log")
    while True:
        keep(s.recv(65536) + b"\n")
elif kind == "silent":
    s = socket.create_server(("127.0.0.1", 0))
    tell(s.getsockname()[1])
    time.sleep(600)
else:
    server = http.server.HTTPServer(("127.0.0.1", 0), Post)
    tell(server.server_port)
    server.serve_forever()
