import { replaceable } from '../intake/take-source.ts';
import type { MulticamGroup } from './assessment.ts';
import { type SignClip, sourceKeys } from './project-signs.ts';
import { clipRateBps } from './stream-load.ts';

/** The groups, with the proxy of each angle that has one: of several the heaviest. `clips`: of the same project, all of them. */
export function withProxies(
  groups: readonly MulticamGroup[],
  clips: Iterable<SignClip>,
  project: string,
): MulticamGroup[] {
  const units = new Set(groups.flatMap(({ members }) => members.map(({ unit }) => unit)));
  const made: SignClip[] = [];
  const sources = new Map<string, SignClip[]>();
  for (const clip of clips) {
    if (clip.kind === 'proxy') made.push(clip);
    if (!units.has(clip.unit)) continue;
    for (const key of sourceKeys(clip)) sources.set(key, [...(sources.get(key) ?? []), clip]);
  }
  const proxies = new Map<string, NonNullable<MulticamGroup['members'][number]['proxy']>>();
  for (const clip of made) {
    const bps = clipRateBps(clip);
    const near = new Set(sourceKeys(clip).flatMap((key) => sources.get(key) ?? []));
    const known = [...near].map((source) => ({ ...source, project }));
    const { source } = replaceable({ ...clip, project }, known);
    if (source === null || bps === null || bps <= (proxies.get(source)?.bps ?? 0)) continue;
    proxies.set(source, { path: clip.paths[0] ?? clip.unit, bps });
  }
  if (proxies.size === 0) return [...groups];
  const proxyOf = (unit: string) => proxies.get(unit) ?? null;
  return groups.map((group) => ({
    ...group,
    members: group.members.map((member) => ({ ...member, proxy: proxyOf(member.unit) })),
  }));
}
