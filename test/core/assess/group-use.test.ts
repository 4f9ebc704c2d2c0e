import { expect, test } from 'vitest';
import { proxyPlayback, readingOf, useOf } from '../../../src/core/assess/group-use.ts';
import { sampleGroup } from '../samples.ts';

const GROUP = sampleGroup();
const withProxies = {
  ...GROUP,
  members: GROUP.members.map((member) => ({ ...member, proxy: { path: `Proxy/${member.path}`, bps: 5e6 } })),
};

test('with a proxy of every angle there is a playback of proxies', () => {
  expect(proxyPlayback(withProxies)).toEqual({ streams: 5, meanBps: 25e6, spreadBps: 0, largestBps: 5e6 });
  expect(
    proxyPlayback({ ...withProxies, members: [...withProxies.members.slice(1), ...GROUP.members.slice(0, 1)] }),
  ).toBeNull();
  expect(proxyPlayback({ ...GROUP, members: [] })).toBeNull();
});

test('what is read of a group, and why it is taken to be played', () => {
  const group = withProxies;
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
