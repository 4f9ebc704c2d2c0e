import { chmodSync, mkdirSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, until } from './headroomd.ts';

let place: Bench;
beforeEach(() => {
  place = bench();
});
afterEach(async () => {
  await place.clear();
});

function configuration(notify: string): string {
  const file = join(place.folder, 'headroomd.toml');
  const times = '[thresholds]\nraise_after = "1 s"\nclear_after = "2 s"\n[cards]\nlook = false\n';
  writeFileSync(file, `${times}[[volume]]\nname = "stripe"\npath = "${place.volume}"\n${notify}\n`);
  return file;
}

/** A receiver on loopback that notes what arrives, and answers as long as it is told to. */
async function receiver() {
  const arrived: { id: string; subject: string; answered: boolean }[] = [];
  let most = Number.POSITIVE_INFINITY;
  const server = createServer(async (request, response) => {
    let body = '';
    for await (const chunk of request) body += chunk;
    const { id, advisory } = JSON.parse(body);
    const answered = arrived.length < most;
    arrived.push({ id, subject: advisory?.subject ?? '', answered });
    if (answered) response.writeHead(204).end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return {
    arrived,
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/told?key=secret-part`,
    answerOnly(count: number) {
      most = count;
    },
    async close() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}

test('killed while it tells: every message arrives, and only the one without an answer arrives twice', async () => {
  const many = 40;
  const told = await receiver();
  try {
    const footage = join(place.volume, 'Saltmarsh', 'Footage');
    mkdirSync(footage, { recursive: true });
    for (let index = 0; index < many; index++) writeFileSync(join(footage, `no-clip-${index}.mov`), 'no clip at all');
    const config = configuration(
      `[[notify]]\nkind = "webhook"\nseverity = "notice"\nprivate = true\nurl = "${told.url}"`,
    );
    told.answerOnly(12);
    const first = await place.start(['--config', config]);
    await until('the thirteenth waits for its answer', () => told.arrived.length === 13, 60);
    await first.end('SIGKILL');
    told.answerOnly(Number.POSITIVE_INFINITY);
    const second = await place.start(['--config', config]);
    const subjects = () =>
      new Set(told.arrived.map(({ subject }) => subject).filter((name) => name.includes('no-clip')));
    await until('all are told', () => subjects().size === many, 60);
    await second.end();
    const times = Map.groupBy(told.arrived, ({ id }) => id);
    const repeated = [...times].filter(([, tries]) => tries.length > 1);
    expect(repeated.map(([id]) => id)).toEqual([told.arrived[12]?.id]);
    expect(told.arrived.filter(({ answered }) => !answered)).toHaveLength(1);
    // The address may hold a secret.
    expect(first.log() + second.log()).not.toContain('secret-part');
  } finally {
    await told.close();
  }
});

test('check --notify tries each channel, says what became of it, and tells by its exit code', () => {
  const tell = join(place.folder, 'tell');
  writeFileSync(tell, `#!/bin/sh\ncat > "${place.folder}/told"\n`);
  chmodSync(tell, 0o700);
  const good = configuration(`[[notify]]\nkind = "command"\nname = "wall"\ncommand = ["${tell}"]`);
  const fine = place.call('check', '--notify', '--config', good);
  expect(fine.stdout).toMatch(/is fine: .*\nwall: a test message was sent\.\n$/);
  expect(fine.status).toBe(0);
  const bad = configuration(
    `[[notify]]\nkind = "command"\nname = "wall"\ncommand = ["${tell}"]\n[[notify]]\nkind = "webhook"\nurl = "http://127.0.0.1:9/x"`,
  );
  const failed = place.call('check', '--notify', '--config', bad);
  expect(failed.stdout).toMatch(/wall: a test message was sent\.\nwebhook: not sent\. .*private = true/);
  expect(failed.status).toBe(1);
  expect(place.call('check', '--notify', '--config', configuration('')).stdout).toMatch(/No channel is named/);
});

test('a secret that others may read keeps the daemon from starting, and is not told', () => {
  const secret = join(place.folder, 'secret');
  writeFileSync(secret, 'the-word');
  chmodSync(secret, 0o644);
  const file = configuration(
    `[[notify]]\nkind = "webhook"\nurl = "https://told.example.org/"\nsecret_file = "${secret}"`,
  );
  for (const verb of [
    ['run', '--config', file],
    ['check', '--notify', '--config', file],
  ]) {
    const { status, stderr, stdout } = place.call(...verb);
    expect(stderr).toMatch(/\[\[notify\]\] "webhook": The secret in .* others may read or write it \(mode 644\)/);
    expect(stderr + stdout).not.toContain('the-word');
    expect(status).toBe(4);
  }
});
