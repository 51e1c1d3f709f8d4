"""A peer that passes lines to a real instrument and back, and goes wrong after so many of them."""

import socket
import threading
import time


class WrongPeer:
    def __init__(self, port, how, after):
        self.target = port
        self.how = how
        self.left = after
        self.went_wrong = None
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = self.listening.getsockname()[1]
        self.open = True
        threading.Thread(target=self.serve, daemon=True).start()

    def close(self):
        self.open = False
        self.listening.close()

    def serve(self):
        while self.open:
            try:
                client, _ = self.listening.accept()
            except OSError:
                return
            try:
                self.talk(client)
            except OSError:
                pass  # the program, or the instrument, has hung up

    def talk(self, client):
        """One client at a time; after it went wrong, the next client is served rightly."""
        wrong = self.went_wrong is None
        with client, socket.create_connection(("127.0.0.1", self.target)) as instrument:
            client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            heard = client.makefile("rb")
            answers = instrument.makefile("rb")
            for line in heard:
                instrument.sendall(line)
                if b"?" not in line:
                    continue
                answer = answers.readline()
                if wrong and self.left > 0 and self.how != "split":
                    self.left -= 1
                try:
                    if self.how == "split":
                        self.went_wrong = self.went_wrong or time.monotonic()
                        middle = len(answer) // 2
                        client.sendall(answer[:middle])
                        time.sleep(0.02)
                        client.sendall(answer[middle:-1] + b"\r\n")
                    elif not wrong or self.left > 0:
                        client.sendall(answer)
                    elif not self.misbehave(client, answer):
                        return
                except OSError:
                    return

    def misbehave(self, client, answer):
        """False: the connection is over."""
        first = self.went_wrong is None
        self.went_wrong = self.went_wrong or time.monotonic()
        if self.how == "garbled":
            client.sendall(b"\x00\xff\x80" + answer)
        elif self.how == "half":
            if first:
                client.sendall(answer[:1])
        elif self.how == "closing":
            return False
        elif self.how == "flooding":
            for _ in range(200):
                client.sendall(b"7" * 1000 + (b"\n" if _ % 2 else b""))
        elif self.how == "late":
            time.sleep(0.7)
            client.sendall(answer)
        elif self.how == "wrong":
            client.sendall(b"of course\n")
        return True
