#!/usr/bin/env python3
"""A device on a serial line, on a pseudo-terminal: prints the line's name, then does as it is told on standard input.

Usage: pty_peer.py lines HZ NAME=FIGURE... | registers UNIT ADDRESS=WORD...

'lines' writes a heading and rows as a logger does; 'registers' answers function 3. Told 'silent' it says nothing more, 'close' takes the
line away. Modbus application protocol 1.1b3, 6.3, and Modbus over serial line 1.02, 2.5.1.2 (the frame) and 6.2.2 (the check of a frame)."""
import os
import select
import sys
import termios
import time
import tty

kind, first, figures = sys.argv[1], sys.argv[2], dict(word.rsplit("=", 1) for word in sys.argv[3:])
master, slave = os.openpty()
tty.setraw(slave, termios.TCSANOW)
print(os.ttyname(slave), flush=True)  # kept open here: a line that nobody holds would be gone


def check_of(frame):
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return crc.to_bytes(2, "little")


def answer(question):
    """To a question for holding registers of this device; None: not one."""
    if len(question) != 8 or check_of(question[:6]) != question[6:] or question[0] != int(first) or question[1] != 3:
        return None
    at, count = int.from_bytes(question[2:4], "big"), int.from_bytes(question[4:6], "big")
    words = b"".join(int(figures.get(str(at + i), "0")).to_bytes(2, "big") for i in range(count))
    frame = question[:2] + bytes([len(words)]) + words
    return frame + check_of(frame)


silent, begun, due, got = False, time.monotonic(), 0.0, b""
while True:
    ready = select.select([0, master], [], [], 0.005)[0]
    if 0 in ready:
        told = os.read(0, 100).decode().split()
        if not told or "close" in told:
            break
        silent = silent or "silent" in told
    if master in ready:
        got = (got + os.read(master, 1000))[-8:]
        reply = answer(got) if kind == "registers" and not silent else None
        if reply:
            got = b""
            os.write(master, reply)
    now = time.monotonic() - begun
    if kind == "lines" and not silent and now >= due:
        if due == 0:
            os.write(master, ("Time [s]," + ",".join(figures) + "\n").encode())
        os.write(master, (f"{now:.3f}," + ",".join(figures.values()) + "\n").encode())
        due = now + 1 / float(first)
