/** RAID levels that can be declared; `single` is one drive, or a layout that shows itself as one. */
export const LEVELS = ['single', '0', '1', '4', '5', '6', '10'] as const;
export type Level = (typeof LEVELS)[number];

/** What the members are. */
export const DRIVES = ['nvme', 'ssd', 'hdd'] as const;

/** What the volume hangs on: the narrowest part of the way to the computer. */
export const LINKS = [
  ...['sata', 'sas-2', 'sas-3', 'sas-4'],
  ...['usb-5g', 'usb-10g', 'usb-20g', 'usb4'],
  ...['thunderbolt-1', 'thunderbolt-2', 'thunderbolt-3', 'thunderbolt-4', 'thunderbolt-5'],
  ...['pcie-1-x4', 'pcie-2-x4', 'pcie-3-x4', 'pcie-4-x4', 'pcie-5-x4'],
  ...['1gbe', '2.5gbe', '5gbe', '10gbe', '25gbe', '40gbe', '100gbe'],
];

/**
 * Fewest members of each level. Chen, Lee, Gibson, Katz, Patterson, "RAID: High-Performance, Reliable Secondary
 * Storage", ACM Computing Surveys 26(2), 1994: striping and mirroring need two; one parity member beside two of data
 * makes three; two beside two make four. Level 10 is a stripe over pairs: two pairs at least.
 */
const FEWEST: Record<Level, number> = { single: 1, '0': 2, '1': 2, '4': 3, '5': 3, '6': 4, '10': 4 };

/** What `members` should have been for this level, in words; `null` when it can be so. */
export function membersWanted(level: Level, members: number): string | null {
  if (level === 'single') return members === 1 ? null : '1 member with level "single"';
  if (level === '10') {
    return members >= FEWEST[level] && members % 2 === 0
      ? null
      : 'an even number of members, 4 or more, with level "10"';
  }
  return members >= FEWEST[level] ? null : `${FEWEST[level]} or more members with level "${level}"`;
}
