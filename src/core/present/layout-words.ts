import { formatCount } from '../units.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';

const DRIVE_WORDS: Readonly<Record<string, string>> = { nvme: 'NVMe drive', ssd: 'flash drive', hdd: 'rotating drive' };

/** How the volume is built, and how that is known; `null`: nothing is. A snapshot stored by an earlier version may not tell. */
export function layoutSentence({ layout }: VolumeSnapshot): string | null {
  const { detected = null } = layout;
  const parts = [
    ...(layout.basis === null
      ? []
      : [`${builtWords(layout.level, layout.members, layout.drive, layout.link)} (${BASIS_WORDS[layout.basis]}).`]),
    ...(detected === null ? [] : layout.basis !== 'detected' ? [seenWords(detected)] : kindWords(detected)),
    ...(detected === null || detected.notSeen.length === 0 ? [] : [`Not seen: ${detected.notSeen.join('; ')}.`]),
  ];
  return parts.length === 0 ? null : parts.join(' ');
}

function kindWords({ drive }: NonNullable<VolumeSnapshot['layout']['detected']>): string[] {
  return drive === null ? ['What kind of drives they are is declared.'] : [];
}

const BASIS_WORDS = { declared: 'declared', detected: 'as the system shows it' } as const;

function builtWords(level: string | null, members: number | null, drive: string | null, link: string | null): string {
  const kind = DRIVE_WORDS[drive ?? ''] ?? 'drive';
  const on = link === null ? '' : ` on ${link}`;
  if (level === 'single') return `Built of one ${kind}${on}`;
  return `Built at level ${level ?? 'unknown'} of ${formatCount(members ?? 0, kind)}${on}`;
}

function seenWords({ level, members, drive, by }: NonNullable<VolumeSnapshot['layout']['detected']>): string {
  const kind =
    drive === null
      ? ', and does not tell of what kind'
      : ` (${DRIVE_WORDS[drive] ?? drive}${by === 'drive' ? '' : 's'})`;
  if (by === 'drive') return `The system shows one drive${kind}.`;
  const how =
    level === null
      ? 'at a level that it does not tell'
      : level === 'linear'
        ? 'one after the other'
        : `at level ${level}`;
  return `The system shows ${formatCount(members, 'member')} ${how}, by ${by}${kind}.`;
}
