import { execFileSync } from 'node:child_process';
import { rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, type TestContext, test } from 'vitest';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { faultOf, stateFolders, storedAndRecounted } from './state-folder.ts';

const { folder, open, cleanup } = stateFolders();

/** A real file system of 2 MiB. Without the right to mount, the test is skipped and says so. */
function smallDisk(context: TestContext): string {
  const mountPoint = folder();
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=2M,mode=0700', 'none', mountPoint], { stdio: 'pipe' });
  } catch (error) {
    const reason = `NOT CHECKED: "${context.task.name}" needs the right to mount a tmpfs (${error})`;
    console.warn(reason);
    context.skip(reason);
  }
  cleanup(() => void execFileSync('umount', ['-l', mountPoint]));
  return mountPoint;
}

function fill(dir: string): string {
  const filler = join(dir, 'filler');
  for (const size of [1 << 20, 1 << 16, 1 << 12]) {
    try {
      for (;;) writeFileSync(filler, Buffer.alloc(size), { flag: 'a' });
    } catch (error) {
      expect(error).toMatchObject({ code: 'ENOSPC' });
    }
  }
  return filler;
}

const batch = (n: number) =>
  Array.from({ length: 100 }, (_, i) => someFile(`Saltmarsh/${n}/frame-${i}.dpx`, { project: 'Saltmarsh', size: i }));

test('a disk that fills up rejects the call whole; reading goes on, and writing when there is room again', async (context) => {
  const disk = smallDisk(context);
  const stateDir = join(disk, 'state');
  const store = await open(stateDir);
  const clipFile = someFile('Saltmarsh/A001.mov', { project: 'Saltmarsh' });
  await store.catalogue.finishUnit('stripe', clipFile.unit, [clipFile], [clipOf([clipFile], PRORES_UHD25)]);
  await store.ledger.putAdvisories([{ id: 'before', json: '{}' }]);
  const filler = fill(disk);

  let stored = 0;
  const fault = await faultOf(
    (async () => {
      for (; stored < 1000; stored += 1) await store.catalogue.putFiles(batch(stored));
    })(),
  );
  expect(fault).toMatchObject({ code: 'state-full', cause: { code: 'ERR_SQLITE_ERROR' } });
  expect(fault.message).toContain(join(stateDir, 'catalogue.db'));
  const big = [{ id: 'big', json: JSON.stringify('x'.repeat(100_000)) }];
  const ledgerFault = await faultOf(store.ledger.putAdvisories(big));
  expect(ledgerFault).toMatchObject({ code: 'state-full', message: expect.stringContaining('ledger.db') });
  for (let again = 0; again < 3; again += 1) {
    expect(await faultOf(store.catalogue.putFiles(batch(stored)))).toMatchObject({ code: 'state-full' });
    expect(await store.catalogue.counts()).toEqual({ files: 1 + 100 * stored, clips: 1 });
  }
  expect(await store.ledger.advisories()).toEqual([{ id: 'before', json: '{}' }]);

  rmSync(filler);
  await store.catalogue.putFiles(batch(stored));
  await store.ledger.putAdvisories(big);
  expect(await store.catalogue.counts()).toEqual({ files: 101 + 100 * stored, clips: 1 });
  expect(await store.ledger.advisories()).toEqual(big);
  await store.close();
  const { stored: sums, recounted } = storedAndRecounted(join(stateDir, 'catalogue.db'));
  expect(sums).toEqual(recounted);
  expect((await open(stateDir)).notices).toEqual([]);
});

test('a start on a full disk says so and leaves a state that starts when there is room', async (context) => {
  const disk = smallDisk(context);
  const stateDir = join(disk, 'state');
  const filler = fill(disk);
  const fault = await faultOf(open(stateDir));
  expect(fault).toMatchObject({ code: 'state-full', message: expect.stringContaining(stateDir) });
  rmSync(filler);
  const store = await open(stateDir);
  expect(await store.catalogue.counts()).toEqual({ files: 0, clips: 0 });
  expect(await store.ledger.condition()).toBe('sound');
});

test('a start on a read-only disk says that it cannot write', async (context) => {
  const disk = smallDisk(context);
  const stateDir = join(disk, 'state');
  await (await open(stateDir)).close();
  execFileSync('mount', ['-o', 'remount,ro', disk]);
  for (const dir of [stateDir, join(disk, 'other')]) {
    const fault = await faultOf(open(dir));
    expect(fault).toMatchObject({ code: 'state-unwritable', message: expect.stringContaining(dir) });
  }
});
