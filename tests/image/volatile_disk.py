"""A disk that forgets at a power cut what it was not told to keep: a server of the network block device protocol, for qemu.

Writes stay in memory until the machine flushes; at a cut each sector that waits gets one of its states since then at random, the one
before included, so that writes are lost, torn and out of order, as a disk's own cache may leave them. Within a sector nothing is torn.

Outside source: the protocol as described in doc/proto.md of the network block device project (fixed newstyle negotiation, simple replies).
"""
import os
import socket
import struct
import threading

SECTOR = 512
LARGEST = 1 << 24  # a write above 2 GiB is taken in part by Linux (write(2))
OPTION_MAGIC, REPLY_MAGIC, REQUEST, RESPONSE = 0x49484156454F5054, 0x3E889045565A9, 0x25609513, 0x67446698
FLAGS = 1 | 1 << 2 | 1 << 3  # has flags, can flush, can force a write out
FORCE = 1
READ, WRITE, END, FLUSH = 0, 1, 2, 3
EINVAL = 22


class VolatileDisk:
    def __init__(self, path, at, chance):
        self.file = os.open(path, os.O_RDWR)
        self.size = os.fstat(self.file).st_size
        self.chance = chance
        self.waiting = {}  # number of the sector: its states since the last flush
        self.lock = threading.Lock()
        self.aside = None  # number of the sector: what was kept since mark(); the file stays as it was
        self.guarded, self.trespasses = [], 0
        self.flushes = 0
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(at)
        self.listener.listen(1)
        threading.Thread(target=self.serve, daemon=True).start()

    # ---- what the machine asks ----
    def serve(self):
        while True:
            connection, _ = self.listener.accept()
            try:
                self.converse(connection)
            except (ConnectionError, EOFError, struct.error):
                pass
            connection.close()

    @staticmethod
    def take(connection, size):
        data = bytearray()
        while len(data) < size:
            some = connection.recv(size - len(data))
            if not some:
                raise EOFError
            data += some
        return bytes(data)

    def converse(self, connection):
        connection.sendall(b"NBDMAGIC" + struct.pack(">QH", OPTION_MAGIC, 1))  # fixed newstyle
        self.take(connection, 4)
        while True:
            _, option, length = struct.unpack(">QII", self.take(connection, 16))
            data = self.take(connection, length)
            if option == 1:  # the export's name, by the older way
                connection.sendall(struct.pack(">QH", self.size, FLAGS) + bytes(124))
                break
            if option in (6, 7):  # information, or go
                info = struct.pack(">HQH", 0, self.size, FLAGS)
                connection.sendall(struct.pack(">QIII", REPLY_MAGIC, option, 3, len(info)) + info)
                connection.sendall(struct.pack(">QIII", REPLY_MAGIC, option, 1, 0))
                if option == 7:
                    break
                continue
            connection.sendall(struct.pack(">QIII", REPLY_MAGIC, option, 1 if option == 2 else 0x80000001, 0))
            if option == 2:
                raise EOFError
            del data
        while self.answer(connection):
            pass

    def answer(self, connection):
        magic, flags, kind, handle, offset, length = struct.unpack(">IHHQQI", self.take(connection, 28))
        if magic != REQUEST or kind == END:
            return False
        error, data = 0, b""
        if kind in (READ, WRITE) and (offset % SECTOR or length % SECTOR or offset + length > self.size):
            error = EINVAL
        body = self.take(connection, length) if kind == WRITE else b""
        with self.lock:
            if error:
                pass
            elif kind == READ:
                data = self.read(offset, length)
            elif kind == WRITE:
                self.trespasses += any(offset < end and begin < offset + length for begin, end in self.guarded)
                for at in range(0, length, SECTOR):
                    self.waiting.setdefault((offset + at) // SECTOR, []).append(body[at:at + SECTOR])
                if flags & FORCE:
                    self.keep(range(offset // SECTOR, (offset + length) // SECTOR))
            elif kind == FLUSH:
                self.flushes += 1
                self.keep(list(self.waiting))
            else:
                error = EINVAL
        connection.sendall(struct.pack(">IIQ", RESPONSE, error, handle) + data)
        return True

    def read(self, offset, length):
        data = bytearray(os.pread(self.file, length, offset))
        first = offset // SECTOR
        for layer in (self.aside, self.waiting):
            for n in range(length // SECTOR) if layer else ():
                states = layer.get(first + n)
                if states:
                    data[n * SECTOR:(n + 1) * SECTOR] = states[-1]
        return bytes(data)

    def put(self, sector, data):
        if self.aside is None:
            for at in range(0, len(data), LARGEST):
                piece = data[at:at + LARGEST]
                if os.pwrite(self.file, piece, sector * SECTOR + at) != len(piece):
                    raise OSError("the file of the disk took a write in part")
        else:
            for n in range(len(data) // SECTOR):
                self.aside[sector + n] = (data[n * SECTOR:(n + 1) * SECTOR],)

    def keep(self, sectors):
        """Runs of sectors in one write each."""
        run, begun = [], None
        for n in sorted(sectors):
            states = self.waiting.pop(n, None)
            if not states:
                continue
            if begun is None or n != begun + len(run):
                if run:
                    self.put(begun, b"".join(run))
                run, begun = [], n
            run.append(states[-1])
        if run:
            self.put(begun, b"".join(run))

    # ---- the same disk again ----
    def guard(self, ranges):
        """Writes into these bytes are counted as trespasses."""
        self.guarded = ranges

    def mark(self):
        """From here on the file stays as it is, and what is kept lies beside it."""
        with self.lock:
            self.keep(list(self.waiting))
            self.aside = {}

    def rewind(self):
        """As it was at mark()."""
        with self.lock:
            self.waiting.clear()
            self.aside.clear()

    def settle(self):
        """What was kept beside the file goes into it."""
        with self.lock:
            aside, self.aside = self.aside or {}, None
            for n, (data,) in sorted(aside.items()):
                self.put(n, data)

    # ---- the cut ----
    def cut(self):
        """How many sectors waited, and how many of them lost their last state."""
        with self.lock:
            waited, lost = len(self.waiting), 0
            share = self.chance.choice((0.0, 0.1, 0.5, 0.9, 1.0))
            for n, states in self.waiting.items():
                if self.chance.random() < share:
                    state = self.chance.randrange(len(states))
                    self.put(n, states[state])
                    lost += state != len(states) - 1
                else:
                    lost += 1
            self.waiting.clear()
            return waited, lost
