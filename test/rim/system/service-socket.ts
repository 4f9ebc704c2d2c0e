import { spawn } from 'node:child_process';
import { closeSync, existsSync, openSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';

/** Receives as a service manager does: a datagram socket, and what the kernel says of each sender (unix(7), SO_PASSCRED). */
const RECEIVER = `
import json, socket, struct, sys
taker = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
taker.setsockopt(socket.SOL_SOCKET, socket.SO_PASSCRED, 1)
taker.bind(sys.argv[1])
while True:
    text, extra, _, _ = taker.recvmsg(65536, socket.CMSG_SPACE(12))
    pid = next(struct.unpack("iii", data)[0] for level, kind, data in extra if kind == socket.SCM_CREDENTIALS)
    print(json.dumps({"pid": pid, "assignments": text.decode().split("\\n")}), flush=True)
`;

interface Told {
  pid: number;
  assignments: string[];
}

export interface ServiceSocket {
  path: string;
  /** What was told so far, in order; that a sender waits for its words to be taken (BARRIER) left out. */
  told(): Told[];
  close(): void;
}

/** A socket as systemd has it, read by the Python of the system: Node knows no datagram sockets of this kind. */
export async function serviceSocket(folder: string): Promise<ServiceSocket> {
  const path = join(folder, 'notify');
  const file = join(folder, 'told');
  const out = openSync(file, 'w');
  const receiver = spawn('/usr/bin/python3', ['-c', RECEIVER, path], { stdio: ['ignore', out, 'inherit'] });
  closeSync(out);
  for (let tries = 0; !existsSync(path); tries++) {
    if (tries > 200) throw new Error('the receiver did not begin');
    await sleep(50);
  }
  return {
    path,
    told: () =>
      readFileSync(file, 'utf8')
        .split('\n')
        .slice(0, -1)
        .map((line) => JSON.parse(line) as Told)
        .filter(({ assignments }) => assignments[0] !== 'BARRIER=1'),
    close: () => void receiver.kill(),
  };
}
