import { describe, expect, test } from 'vitest';
import {
  type DeclaredLayout,
  type DetectedLayout,
  detectedLayout,
  knownLayout,
  layoutContradiction,
} from '../../../src/core/assess/detected-layout.ts';
import type { Drive, StorageNode } from '../../../src/core/assess/storage-stack.ts';

const drive = (name: string, over: Partial<Drive> = {}): StorageNode => ({
  kind: 'drive',
  drive: {
    ...{ name, model: 'FLASH', serial: name, bytes: 4e12, rotational: false, transport: 'sata' },
    link: { name: 'sata', bps: 560e6 },
    ...over,
  },
});
const array = (members: StorageNode[], over: Partial<Extract<StorageNode, { kind: 'array' }>> = {}): StorageNode => ({
  ...{ kind: 'array', by: 'md', level: '0', members, missing: 0, sync: null },
  wanted: members.length + (over.missing ?? 0),
  ...over,
});
function seen(root: StorageNode, notSeen: string[] = []): DetectedLayout {
  const layout = detectedLayout({ root, errors: [], heat: [], notSeen });
  if (layout === null) throw new Error('a layout');
  return layout;
}
const FOUR = seen(array(['a', 'b', 'c', 'd'].map((name) => drive(name))));
const DECLARED: DeclaredLayout = { level: '5', members: 5, drive: 'nvme', link: 'usb-10g' };

describe('which layout counts', () => {
  test('what is seen, with the link that is declared for all of it', () => {
    expect(knownLayout(null, FOUR)).toEqual({
      ...{ basis: 'detected', level: '0', members: 4, drive: 'ssd', link: 'sata' },
      speed: { level: '0', members: 4, drive: 'ssd', link: null, each: 560e6 },
    });
    expect(knownLayout(DECLARED, FOUR)).toMatchObject({
      ...{ basis: 'detected', level: '0', link: 'usb-10g' },
      speed: { link: { bps: 1000e6, lanes: false } },
    });
  });

  test('what is declared, where too little is seen, or many drives show themselves as one', () => {
    const unknown = [
      seen(array([drive('a'), drive('b')], { level: null })),
      seen(drive('vda', { rotational: null, transport: 'virtual' })),
    ];
    // Level and members of virtual drives are seen; what these lie on is not.
    const virtual = { rotational: null, transport: 'virtual' } as const;
    const pair = seen(array([drive('vda', virtual), drive('vdb', virtual)]));
    expect(knownLayout(DECLARED, pair)).toMatchObject({ basis: 'detected', level: '0', members: 2, drive: 'nvme' });
    expect(knownLayout(null, pair)).toBeNull();
    for (const detected of [...unknown, seen(drive('sda')), null]) {
      expect(knownLayout(DECLARED, detected)).toMatchObject({
        basis: 'declared',
        level: '5',
        members: 5,
        link: 'usb-10g',
      });
    }
    expect(knownLayout(null, unknown[0] ?? null)).toBeNull();
    expect(knownLayout(null, null)).toBeNull();
    expect(knownLayout({ ...DECLARED, level: 'single', members: 1 }, seen(drive('sda')))?.basis).toBe('detected');
  });

  test('mixed drives are of no one kind; an array of one member is that drive', () => {
    expect(seen(array([drive('a'), drive('b', { rotational: true })]))).toMatchObject({ drive: null });
    expect(seen(array([drive('a'), drive('b', { link: null })])).link).toBeNull();
    expect(seen(array([drive('a')]))).toMatchObject({ level: 'single', by: 'drive' });
    expect(seen(array([drive('a')], { missing: 1 }))).toMatchObject({ members: 2, health: { state: 'degraded' } });
    expect(seen(array([], { level: null })).drive).toBeNull();
  });

  test('the worst of nested arrays is told', () => {
    const sync = { action: 'resync', done: 0.5 };
    const nested = seen(array([array([drive('a'), drive('b')], { level: '1', sync }), drive('c')]));
    expect(nested).toMatchObject({ level: null, health: { state: 'resyncing', action: 'resync', done: 0.5 } });
    expect(nested.drives.map(({ name }) => name)).toEqual(['a', 'b', 'c']);
  });
});

describe('a contradiction', () => {
  const of = (over: Partial<DeclaredLayout>, detected: DetectedLayout | null = FOUR) =>
    layoutContradiction({ level: '0', members: 4, drive: 'ssd', link: null, ...over }, detected);

  test('is told by what differs, and only that', () => {
    expect(of({})).toBeNull();
    expect(of({ level: '5' })).toBe('level 5 is declared, and level 0 is seen');
    expect(of({ members: 5 })).toBe('5 members are declared, and 4 are seen');
    expect(of({ level: '5', members: 5, drive: 'hdd' })).toMatch(
      /^level 5 .*; 5 members .*; drives are declared as hdd, and ssd is seen$/,
    );
    expect(of({ level: '5' }, seen(array([drive('a'), drive('b')], { level: 'linear' })))).toMatch(
      /one drive after the other is seen/,
    );
  });

  test('is none where nobody can tell', () => {
    expect(layoutContradiction(null, FOUR)).toBeNull();
    expect(of({}, null)).toBeNull();
    // A box of many drives that shows itself as one; what hangs on USB tells of itself what it likes.
    expect(of({}, seen(drive('sda')))).toBeNull();
    expect(of({}, seen(drive('sda', { transport: 'usb', rotational: true })))).toBeNull();
    expect(of({}, seen(drive('sda', { rotational: true })))).toMatch(/declared as ssd, and hdd is seen/);
    expect(of({}, seen(array([drive('a'), drive('b'), drive('c'), drive('d')], { level: null })))).toBeNull();
  });
});
