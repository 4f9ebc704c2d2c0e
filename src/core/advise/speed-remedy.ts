import type { MulticamGroup, VolumeAssessment } from '../assess/assessment.ts';
import { expectedSpeed, type SpeedLayout } from '../assess/expected-speed.ts';
import { needBps, type Playback, withMoreStreams } from '../assess/playback-need.ts';
import { asReading, readBudget } from '../assess/speed-budget.ts';
import { display } from '../present/escape.ts';
import type { FormatSum } from '../store-ports.ts';
import { formatCount, formatFrameRate, formatRate } from '../units.ts';
import type { Remedy } from './advisory.ts';

/** More than this is no help but a list. */
const AT_MOST = 4;

/** What is too much for a volume. */
export interface SpeedCase {
  playback: Playback;
  /** What else goes on there counts as well. */
  withAmbient: boolean;
  /** `null`: it is a single clip, or a shoot that is to come. */
  group: MulticamGroup | null;
  /** Of the project. */
  formats: readonly FormatSum[];
}

/** Ways to make it play, the easiest first; each by the same formula, run on what would be changed. */
export function speedRemedies(
  what: SpeedCase,
  volume: VolumeAssessment,
  others: readonly VolumeAssessment[],
): Remedy[] {
  const remedies = [
    ...pauseOthers(what, volume),
    ...proxies(what, volume),
    ...fewerAngles(what, volume),
    ...lighterFormat(what, volume),
    ...oneMoreMember(what, volume),
    ...anotherLevel(what, volume),
  ];
  return [...remedies.slice(0, AT_MOST - 1), anotherVolume(what, volume, others)];
}

function ambientOf({ withAmbient }: SpeedCase, { speed }: VolumeAssessment): number {
  return withAmbient && speed.ambient !== null ? asReading(speed.ambient, speed.gives) : 0;
}

function budgetOf({ speed }: VolumeAssessment, streams: number): number {
  return speed.gives === null ? 0 : readBudget(speed.gives, speed.reserveShare, streams);
}

function needOf(what: SpeedCase, volume: VolumeAssessment, playback = what.playback): number {
  return needBps(playback, ambientOf(what, volume));
}

function effect(need: number, budget: number): string {
  return `needs about ${formatRate(need)} of ${formatRate(budget)}`;
}

function pauseOthers(what: SpeedCase, volume: VolumeAssessment): Remedy[] {
  const ambient = ambientOf(what, volume);
  const need = needOf({ ...what, withAmbient: false }, volume);
  const budget = budgetOf(volume, what.playback.streams);
  if (ambient <= need / 50 || need > budget) return [];
  return [
    {
      action: 'Pause copies, renders and backups while it plays',
      effect: `gives back ${formatRate(ambient)}, and ${effect(need, budget)}`,
    },
  ];
}

/** Those that are there first; each angle's own. */
function proxies(what: SpeedCase, volume: VolumeAssessment): Remedy[] {
  const members = what.group?.members ?? [];
  const have = members.filter(({ proxy }) => proxy !== null);
  if (have.length === 0) return [];
  const meanOf = (all: typeof members) => all.reduce((sum, { proxy, bps }) => sum + (proxy?.bps ?? bps), 0);
  const mean = meanOf(members);
  const largestBps = Math.max(...members.map(({ proxy, bps }) => proxy?.bps ?? bps));
  const need = needOf(what, volume, { streams: members.length, meanBps: mean, spreadBps: 0, largestBps });
  const all = have.length === members.length ? 'all angles have' : `${have.length} of ${members.length} angles have`;
  return [{ action: `Cut with the proxies that ${all}`, effect: effect(need, budgetOf(volume, members.length)) }];
}

function fewerAngles(what: SpeedCase, volume: VolumeAssessment): Remedy[] {
  for (let streams = what.playback.streams - 1; streams >= 1; streams--) {
    const need = needOf(what, volume, withMoreStreams(what.playback, streams - what.playback.streams));
    const budget = budgetOf(volume, streams);
    if (need > budget) continue;
    const action = `Play ${streams} of the ${what.playback.streams} angles at once`;
    return [{ action, effect: effect(need, budget) }];
  }
  return [];
}

/** A format that the project has clips of, as much as would be needed and no lighter. */
function lighterFormat(what: SpeedCase, volume: VolumeAssessment): Remedy[] {
  const { group, playback, formats } = what;
  if (group === null || playback.meanBps <= 0) return [];
  const budget = budgetOf(volume, playback.streams);
  const spread = playback.spreadBps / playback.meanBps;
  const options = formats.flatMap((format) => {
    const { codec, width, height } = format;
    // Without a raster it is sound.
    if (codec === null || width === null || height === null || format.durationSeconds <= 0) return [];
    const rate = format.timedBytes / format.durationSeconds;
    const meanBps = rate * playback.streams;
    const lighter = { ...playback, meanBps, spreadBps: meanBps * spread, largestBps: rate };
    const need = needOf(what, volume, lighter);
    return meanBps < playback.meanBps && need <= budget ? [{ need, format: { ...format, codec } }] : [];
  });
  return options
    .sort((one, other) => other.need - one.need)
    .slice(0, 1)
    .map(({ need, format }) => ({ action: `Cut with angles in ${formatWords(format)}`, effect: effect(need, budget) }));
}

function formatWords({ codec, width, height, frameRate, clips }: FormatSum): string {
  const speed = frameRate === null ? '' : ` at ${formatFrameRate(frameRate)} fps`;
  const have = `${formatCount(clips, 'clip')} of this project already ${clips === 1 ? 'is' : 'are'}`;
  return `${display(codec ?? '')} ${width}x${height}${speed}, as ${have}`;
}

/** What the layout would let expect, in the ratio to what it lets expect now. */
function changedLayout(what: SpeedCase, volume: VolumeAssessment, change: Partial<SpeedLayout>): number | null {
  const layout = layoutOf(volume);
  if (layout === null) return null;
  const ratio = expectedSpeed({ ...layout, ...change }).readBps / expectedSpeed(layout).readBps;
  const budget = budgetOf(volume, what.playback.streams) * ratio;
  return ratio > 1.01 && needOf(what, volume) <= budget ? budget : null;
}

function layoutOf({ layout }: VolumeAssessment): SpeedLayout | null {
  return layout?.speed ?? null;
}

function oneMoreMember(what: SpeedCase, volume: VolumeAssessment): Remedy[] {
  const layout = layoutOf(volume);
  if (layout === null || layout.level === 'single' || layout.level === '1') return [];
  const more = layout.level === '10' ? 2 : 1;
  const budget = changedLayout(what, volume, { members: layout.members + more });
  if (budget === null) return [];
  const members = `${formatCount(layout.members + more, 'member')} in place of ${layout.members}`;
  return [
    {
      action: `Build it of ${members} (it must be filled again from its copies)`,
      effect: effect(needOf(what, volume), budget),
    },
  ];
}

function anotherLevel(what: SpeedCase, volume: VolumeAssessment): Remedy[] {
  const layout = layoutOf(volume);
  if (layout === null || layout.level === '0' || layout.members < 2) return [];
  const budget = changedLayout(what, volume, { level: '0' });
  if (budget === null) return [];
  return [
    {
      action:
        'Build it at level 0, with a verified backup every night: one failed member then loses everything since the last',
      effect: effect(needOf(what, volume), budget),
    },
  ];
}

/** One that is here and gives enough, else what one would have to give. */
function anotherVolume(what: SpeedCase, volume: VolumeAssessment, others: readonly VolumeAssessment[]): Remedy {
  const need = needOf(what, volume);
  const enough = others.find(
    (other) => other.name !== volume.name && other.state === 'live' && budgetOf(other, what.playback.streams) >= need,
  );
  if (enough !== undefined) {
    const action = `Edit it from ${display(enough.name)}`;
    return { action, effect: effect(need, budgetOf(enough, what.playback.streams)) };
  }
  return fasterVolume(need, budgetOf(volume, what.playback.streams), volume.speed.reserveShare);
}

/** What always helps: a volume that gives enough. `reserve` is the share of its speed that is kept free. */
export function fasterVolume(demandBps: number, budgetBps: number, reserve: number): Remedy {
  const needed = demandBps / (1 - reserve);
  return {
    action: `Edit from a volume that reads at least ${formatRate(needed)}`,
    effect: `${formatRate(demandBps)} then stays within what may be asked for, here it is ${formatRate(budgetBps)}`,
  };
}
