import { expect, test } from 'vitest';
import { withProxies } from '../../../src/core/assess/group-proxies.ts';
import { proxyPlayback, readingOf, useOf } from '../../../src/core/assess/group-use.ts';
import { sampleClip, sampleGroup } from '../samples.ts';

const PROJECT = 'Tidewater Sessions';
const original = (camera: string) =>
  sampleClip({ unit: `${PROJECT}/${camera}001.mov`, name: `${camera}001.mov`, paths: [`${PROJECT}/${camera}001.mov`] });
const proxy = (camera: string, essenceBytes = 5e7, durationSeconds = 10) =>
  sampleClip(
    {
      unit: `${PROJECT}/Proxy/${camera}001_Proxy.mov`,
      kind: 'proxy',
      name: `${camera}001_Proxy.mov`,
      paths: [`${PROJECT}/Proxy/${camera}001_Proxy.mov`],
      essenceBytes,
    },
    { durationSeconds },
  );
const GROUP = sampleGroup();
const FIVE = ['A', 'B', 'C', 'D', 'E'];

test('each angle has the proxy that was made of it, of several the heaviest', () => {
  const larger = {
    ...proxy('A', 8e7),
    unit: `${PROJECT}/Proxy2/A001_Proxy.mov`,
    paths: [`${PROJECT}/Proxy2/A001_Proxy.mov`],
  };
  const clips = [...FIVE.map(original), proxy('A'), larger, proxy('B'), proxy('C', 5e7, 99)];
  const [group] = withProxies([GROUP], clips, PROJECT);
  expect(group?.members.map((member) => member.proxy?.bps ?? null)).toEqual([8e6, 5e6, null, null, null]);
  expect(group === undefined ? null : proxyPlayback(group)).toBeNull();
});

test('with all of them there is a playback of proxies; without any the groups are as they were', () => {
  const [group] = withProxies([GROUP], [...FIVE.map(original), ...FIVE.map((camera) => proxy(camera))], PROJECT);
  if (group === undefined) throw new Error('a group');
  expect(proxyPlayback(group)).toEqual({ streams: 5, meanBps: 25e6, spreadBps: 0, largestBps: 5e6 });
  expect(withProxies([GROUP], FIVE.map(original), PROJECT)).toEqual([GROUP]);
  expect(proxyPlayback({ ...group, members: [] })).toBeNull();

  const paths = group.members.map(({ path }) => path);
  const proxies = group.members.map((member) => member.proxy?.path ?? '');
  expect(readingOf(group, new Set(paths.slice(0, 2)))).toBe('originals');
  expect(readingOf(group, new Set([...paths.slice(0, 1), ...proxies.slice(0, 2)]))).toBe('proxies');
  expect(readingOf(group, new Set([...paths.slice(0, 1), ...proxies.slice(0, 1)]))).toBeNull();
  const edit = { declared: true, plannedCameras: 5, beingRead: new Set(proxies) };
  expect(useOf(group, edit)).toBe('played');
  expect(useOf(group, { ...edit, beingRead: new Set() })).toBe('declared');
  expect(useOf(group, { ...edit, declared: false, beingRead: new Set() })).toBe('planned');
  expect(useOf(group, { declared: false, plannedCameras: null, beingRead: new Set() })).toBeNull();
});
