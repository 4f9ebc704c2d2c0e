"""Runs a program on a pseudo terminal of a size: terminal.py ROWS COLUMNS PROGRAM ARGUMENT...

What it writes there goes to standard output. Lines on standard input: "size ROWS COLUMNS", "type HEX". Its number is the first line
on standard error. Ends as it does; one that a signal ended as 128 and the signal's number, as a shell tells it. What the
terminal's settings are when it has ended is told on standard error: "cooked" or "changed".
"""
import fcntl, os, pty, select, struct, sys, termios


def size(fd, rows, columns):
    fcntl.ioctl(fd, termios.TIOCSWINSZ, struct.pack("HHHH", int(rows), int(columns), 0, 0))


parent, child = pty.openpty()
size(child, sys.argv[1], sys.argv[2])
before = termios.tcgetattr(child)
pid = os.fork()
if pid == 0:
    os.close(parent)
    os.login_tty(child) if hasattr(os, "login_tty") else (os.setsid(), fcntl.ioctl(child, termios.TIOCSCTTY, 0),
                                                           [os.dup2(child, fd) for fd in (0, 1, 2)])
    os.execvp(sys.argv[3], sys.argv[3:])
print(pid, file=sys.stderr, flush=True)
asked = b""
inputs = [parent, 0]
while True:
    ready = select.select(inputs, [], [], 0.05)[0]
    if parent in ready:
        os.write(1, os.read(parent, 65536))
    if 0 in ready:
        some = os.read(0, 65536)
        if some == b"":
            inputs.remove(0)
        asked += some
        *lines, asked = asked.split(b"\n")
        for line in lines:
            what, *rest = line.decode().split()
            if what == "size":
                size(parent, *rest)
            else:
                os.write(parent, bytes.fromhex(rest[0]))
    if not ready:
        ended, status = os.waitpid(pid, os.WNOHANG)
        if ended != 0:
            break
print("cooked" if termios.tcgetattr(child) == before else "changed", file=sys.stderr, flush=True)
code = os.waitstatus_to_exitcode(status)
sys.exit(code if code >= 0 else 128 - code)
