import * as nodeFs from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import type { DriveIdentity } from '../../../src/rim/watch/drive.ts';
import {
  judgeRoot,
  lookAtRoot,
  type MountView,
  type RootFound,
  type RootLook,
} from '../../../src/rim/watch/root-check.ts';

const mount = (id: number, mountPoint: string): MountView => ({
  id,
  mountPoint,
  fileSystem: 'ext4',
  source: '/dev/sdb1',
  remote: false,
});
const found = (over: Partial<RootFound> = {}): RootFound => ({
  base: '/media/stripe',
  device: 7n,
  ino: 2n,
  mount: mount(40, '/media/stripe'),
  ...over,
});
const there = (over: Partial<RootFound> = {}): RootLook => ({ present: true, root: found(over) });

test.each([
  ['nothing watched yet', there(), null, null, 'renewed'],
  ['unchanged', there(), found(), '/media/stripe', 'same'],
  [
    'unmounted: the folder below comes to light',
    there({ device: 1n, mount: mount(27, '/') }),
    found(),
    '/media/stripe',
    'absent',
  ],
  [
    'the same at the start, when the mount point is known',
    there({ mount: mount(27, '/') }),
    null,
    '/media/stripe',
    'absent',
  ],
  ['mounted again', there({ mount: mount(51, '/media/stripe') }), null, '/media/stripe', 'renewed'],
  [
    'mounted again between two looks',
    there({ mount: mount(51, '/media/stripe') }),
    found(),
    '/media/stripe',
    'renewed',
  ],
  ['another device at the same place', there({ device: 9n }), found(), '/media/stripe', 'renewed'],
  [
    'folder removed and made again',
    there({ ino: 3n, mount: mount(27, '/') }),
    found({ mount: mount(27, '/') }),
    '/',
    'renewed',
  ],
  ['a volume mounted where only a folder was', there(), found({ mount: mount(27, '/') }), '/', 'renewed'],
  ['a link that now leads elsewhere', there({ base: '/media/other' }), found(), '/media/stripe', 'renewed'],
  ['gone', { present: false, detail: 'x' } as RootLook, found(), '/media/stripe', 'absent'],
  ['no mount table', there({ mount: null }), found({ mount: null }), null, 'same'],
] as const)('%s', (_, look, watched, mountPoint, verdict) => {
  expect(judgeRoot(look, watched, { mountPoint, drive: null }, () => null).is).toBe(verdict);
});

const drive = (uuid: string): DriveIdentity => ({ uuid, born: null, source: null });

test.each([
  ['the same drive', drive('A'), '/media/stripe', 'renewed'],
  ['another drive', drive('B'), '/media/stripe', 'absent'],
  ['a drive that tells nothing', null, '/media/stripe', 'renewed'],
  ['another drive at a place that was only a folder', drive('B'), '/', 'renewed'],
] as const)('mounted anew, %s', (_, found, mountPoint, verdict) => {
  const known = { mountPoint, drive: drive('A') };
  expect(judgeRoot(there({ mount: mount(51, '/media/stripe') }), null, known, () => found)).toMatchObject({
    is: verdict,
    ...(verdict === 'absent' ? { detail: expect.stringContaining('(expected the one with UUID A, found') } : {}),
  });
});

test('looks through a link, and says in words why there is no root', () => {
  const dir = nodeFs.realpathSync(nodeFs.mkdtempSync(join(tmpdir(), 'headroomd-root-')));
  nodeFs.writeFileSync(join(dir, 'file'), '');
  nodeFs.symlinkSync(dir, join(dir, 'link'));
  const look = (name: string, fs = nodeFs) => lookAtRoot(fs, join(dir, name), () => null);
  expect(look('link')).toMatchObject({ present: true, root: { base: dir } });
  expect(look('none')).toEqual({ present: false, detail: 'the folder does not exist' });
  expect(look('file')).toEqual({ present: false, detail: 'there is a file in place of the folder' });
  const failing = {
    ...nodeFs,
    statSync: (() => {
      throw Object.assign(new Error("ENOTCONN: socket is not connected, stat '/media/x'"), { code: 'ENOTCONN' });
    }) as unknown as typeof nodeFs.statSync,
  };
  expect(look('x', failing)).toEqual({
    present: false,
    detail: 'the folder cannot be reached: ENOTCONN: socket is not connected',
  });
  nodeFs.rmSync(dir, { recursive: true });
});

test('a root that is where it was is not followed through its path again; one that is not, is', () => {
  const folder = nodeFs.mkdtempSync(join(tmpdir(), 'headroomd-root-'));
  const root = join(folder, 'stripe');
  for (const name of ['a', 'b']) nodeFs.mkdirSync(join(folder, name));
  nodeFs.symlinkSync('a', root);
  let followed = 0;
  const native = (path: string): string => {
    followed += 1;
    return nodeFs.realpathSync.native(path);
  };
  const fs = { ...nodeFs, realpathSync: { native } as unknown as typeof nodeFs.realpathSync };
  const look = (watched: RootFound | null, id = 40) => lookAtRoot(fs, root, () => mount(id, '/'), watched);
  try {
    const first = look(null);
    const watched = first.present ? first.root : null;
    expect([look(watched), followed]).toEqual([first, 1]);
    expect([look(watched, 41).present, followed]).toEqual([true, 2]);
    nodeFs.unlinkSync(root);
    nodeFs.symlinkSync('b', root);
    expect(look(watched)).toMatchObject({ root: { base: join(folder, 'b') } });
  } finally {
    nodeFs.rmSync(folder, { recursive: true });
  }
});
