/** How members are put together: `single`, or a RAID level. Level 10 is a stripe over mirrored pairs. */
export type ArrayLevel = 'single' | '0' | '1' | '4' | '5' | '6' | '10';

/** Members whose room holds data, and which one long stream is read from or written to at once. */
export function dataMembers(level: ArrayLevel, members: number): number {
  switch (level) {
    case 'single':
    case '1':
      return 1;
    case '0':
      return members;
    case '10':
      return members / 2;
    case '4':
    case '5':
      return members - 1;
    case '6':
      return members - 2;
  }
}

/** What is asked of an array: requests of one stripe unit, or of whole stripes, by so many askers that every member is busy. */
export type Access = 'small-read' | 'small-write' | 'large-read' | 'large-write';

/**
 * Throughput of a busy array for each member, beside a level 0 of as many members (1). Chen, Lee, Gibson, Katz, Patterson, "RAID:
 * High-Performance, Reliable Secondary Storage", ACM Computing Surveys 26(2), 1994, Table 3 and section 4.1, with G members;
 * level 4 is as 5 there but for its one parity member, which gives no data and takes part in every small write. `1` and `10`
 * are pairs.
 */
export function shareOfStripe(level: ArrayLevel, members: number, access: Access): number {
  const G = members;
  switch (level) {
    case 'single':
    case '0':
      return 1;
    case '1':
    case '10':
      return access.endsWith('read') ? 1 : 1 / 2;
    case '4':
      return access === 'small-write' ? Math.min(1 / (2 * G), 1 / 4) : (G - 1) / G;
    case '5':
      if (access === 'small-write') return Math.max(1 / G, 1 / 4);
      return access === 'large-write' ? (G - 1) / G : 1;
    case '6':
      if (access === 'small-write') return Math.max(1 / G, 1 / 6);
      return access === 'large-write' ? (G - 2) / G : 1;
  }
}
