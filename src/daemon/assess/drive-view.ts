import { type DetectedLayout, detectedLayout } from '../../core/assess/detected-layout.ts';
import {
  type DriveSign,
  heatSign,
  type SmartReport,
  smartSigns,
  throttledSign,
} from '../../core/assess/drive-signs.ts';
import type { Drive, DriveHeat, MemberErrors } from '../../core/assess/storage-stack.ts';
import type { DrivePort } from '../../core/drive-port.ts';
import type { Clock } from '../../core/ports.ts';

/** The layout is looked at so often: an array that is degraded must be told at once. */
const LOOK_MS = 60_000;
/** Drives are asked how they are so often: their own answer costs them a moment. */
const SMART_MS = 3_600_000;

/** What is known of what a volume lies on. */
export interface VolumeDrives {
  detected: DetectedLayout | null;
  signs: DriveSign[];
}

export interface DriveView {
  start(): Promise<void>;
  of(volume: string): VolumeDrives;
  stop(): void;
}

export interface DriveViewDeps {
  volumes: readonly string[];
  drives: DrivePort;
  clock: Clock;
  /** Something is different from before. */
  changed: () => void;
}

const NOTHING: VolumeDrives = { detected: null, signs: [] };

/** Looks at what the volumes lie on, in even steps. */
export function createDriveView({ volumes, drives, clock, changed }: DriveViewDeps): DriveView {
  const known = new Map<string, VolumeDrives>();
  const smart = new Map<
    string,
    { at: number; signs: Pick<DriveSign, 'kind' | 'severity' | 'words'>[]; report: SmartReport }
  >();
  /** What the kernel had counted at the last look: only what comes on top is a sign. */
  const counted = new Map<string, number>();
  let cancel = () => {};
  let stopped = false;

  async function look(): Promise<void> {
    const before = JSON.stringify([...known]);
    for (const volume of volumes) known.set(volume, await lookAt(volume));
    if (stopped) return;
    cancel = clock.after(LOOK_MS, () => void look());
    if (JSON.stringify([...known]) !== before) changed();
  }

  async function lookAt(volume: string): Promise<VolumeDrives> {
    const stack = await drives.stack(volume);
    // A mount that is away for a moment does not make its drives unknown.
    if (stack === null) return known.get(volume) ?? NOTHING;
    const detected = detectedLayout(stack);
    if (detected === null) return { detected, signs: [] };
    const signs: DriveSign[] = [];
    for (const drive of detected.drives) signs.push(...(await signsOf(drive)));
    for (const errors of detected.errors) signs.push(...countedSigns(errors, detected.drives));
    for (const heat of stack.heat) signs.push(...heatSigns(heat, detected.drives, signs));
    return { detected, signs };
  }

  async function signsOf({ name, model, serial, transport }: Drive): Promise<DriveSign[]> {
    if (transport === 'virtual') return [];
    const last = smart.get(name);
    if (last === undefined || clock.ticks() - last.at >= SMART_MS) {
      const report = await drives.smart(name);
      if (report !== null) {
        const signs = [...smartSigns(report), ...throttledSign(last?.report ?? null, report)];
        smart.set(name, { at: clock.ticks(), signs, report });
      }
    }
    return (smart.get(name)?.signs ?? []).map((sign) => ({ ...sign, drive: name, model, serial }));
  }

  function countedSigns({ name, by, errors }: MemberErrors, all: readonly Drive[]): DriveSign[] {
    const key = `${by} ${name}`;
    const before = counted.get(key) ?? errors;
    if (by === 'kernel' && !counted.has(key)) counted.set(key, errors);
    const more = by === 'kernel' ? errors - before : errors;
    if (more <= 0) return [];
    const drive = all.find((one) => isOn(name, one.name));
    const words = `${COUNTED_BY[by]} counted ${more} ${more === 1 ? 'error' : 'errors'} of it`;
    const { model = null, serial = null } = drive ?? {};
    return [{ drive: name, model, serial, kind: 'errors-counted', severity: 'warning', words }];
  }

  /** Not what the drive has said of itself already. */
  function heatSigns(
    { name, celsius, limit }: DriveHeat,
    all: readonly Drive[],
    told: readonly DriveSign[],
  ): DriveSign[] {
    const drive = all.find((one) => one.name === name);
    if (drive === undefined || told.some((sign) => sign.drive === name && sign.kind === 'hot')) return [];
    const { model, serial } = drive;
    return heatSign(celsius, limit).map((sign) => ({ ...sign, drive: name, model, serial }));
  }

  return {
    start: look,
    of: (volume) => known.get(volume) ?? NOTHING,
    stop() {
      stopped = true;
      cancel();
    },
  };
}

/** Whether a member is this drive or a partition of it, by the kernel's names: `sda1` is on `sda`, `nvme0n1p1` on `nvme0n1`. */
function isOn(member: string, drive: string): boolean {
  if (member === drive) return true;
  const rest = member.startsWith(drive) ? member.slice(drive.length) : '';
  return (/\d$/.test(drive) ? /^p\d+$/ : /^\d+$/).test(rest);
}

const COUNTED_BY: Readonly<Record<MemberErrors['by'], string>> = {
  md: 'the array has',
  btrfs: 'the file system has',
  kernel: 'since headroomd began the kernel has',
};
