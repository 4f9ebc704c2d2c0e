import type { Severity } from '../model.ts';

/** What a drive, or the system of it, tells that is no good sign. */
export type SignKind =
  | 'says-failing' // its own verdict
  | 'spare-used-up' // NVMe: spare blocks below its own threshold
  | 'worn-out' // NVMe: rated endurance is used up
  | 'media-errors' // NVMe: reads that could not be corrected
  | 'read-only' // NVMe: it takes no more writes
  | 'sectors-pending' // cannot be read, waits to be written over
  | 'sectors-uncorrectable'
  | 'sectors-replaced'
  | 'hot' // above its own warning temperature
  | 'throttled' // slowed itself for heat since it was looked at last
  | 'errors-counted'; // by the array, the file system or the kernel

/** One failing sign of one drive. */
export interface DriveSign {
  /** Kernel name, or what names the member. */
  drive: string;
  model: string | null;
  serial: string | null;
  kind: SignKind;
  severity: Severity;
  /** In words, with the figure. */
  words: string;
}

/** What `smartctl --json -a` told; only what is looked at (smartmontools' JSON schema, from memory). */
export interface SmartReport {
  smart_status?: { passed?: boolean };
  temperature?: { current?: number };
  ata_smart_attributes?: { table?: { id: number; raw?: { value?: number } }[] };
  nvme_smart_health_information_log?: {
    critical_warning?: number;
    available_spare?: number;
    available_spare_threshold?: number;
    percentage_used?: number;
    media_errors?: number;
    warning_temp_time?: number;
  };
  nvme_composite_temperature_threshold?: { warning?: number };
}

type Sign = Pick<DriveSign, 'kind' | 'severity' | 'words'>;

/** ATA attributes that count sectors (SMART attributes 5, 197, 198: common practice, no standard has their meaning). */
const SECTORS: readonly { id: number; kind: SignKind; severity: Severity; words: (count: number) => string }[] = [
  { id: 197, kind: 'sectors-pending', severity: 'critical', words: (count) => `${count} sectors cannot be read now` },
  {
    id: 198,
    kind: 'sectors-uncorrectable',
    severity: 'critical',
    words: (count) => `${count} sectors could not be read`,
  },
  { id: 5, kind: 'sectors-replaced', severity: 'warning', words: (count) => `${count} bad sectors were replaced` },
];

/** Bits of the NVMe critical warning (NVM Express Base Specification, SMART / Health Information log, byte 0). */
const NVME_SPARE = 1;
const NVME_HOT = 2;
const NVME_DEGRADED = 4;
const NVME_READ_ONLY = 8;

/** Failing signs in what a drive tells of itself. A drive without any may still die: most do so without a sign. */
export function smartSigns(report: SmartReport): Sign[] {
  const nvme = report.nvme_smart_health_information_log ?? {};
  const warning = nvme.critical_warning ?? 0;
  const sign = (holds: boolean, kind: SignKind, severity: Severity, words: string): Sign[] =>
    holds ? [{ kind, severity, words }] : [];
  const failing = report.smart_status?.passed === false || (warning & NVME_DEGRADED) !== 0;
  const spare = nvme.available_spare ?? 100;
  const used = nvme.percentage_used ?? 0;
  const errors = nvme.media_errors ?? 0;
  return [
    ...sign(failing, 'says-failing', 'critical', 'it says of itself that it is failing'),
    ...sign((warning & NVME_READ_ONLY) !== 0, 'read-only', 'critical', 'it takes no more writes'),
    ...sign(
      (warning & NVME_SPARE) !== 0 || spare < (nvme.available_spare_threshold ?? 0),
      ...(['spare-used-up', 'critical', `its spare blocks are down to ${spare} %`] as const),
    ),
    ...sign(errors > 0, 'media-errors', 'critical', `${errors} times it could not read what was written`),
    ...sign(used >= 100, 'worn-out', 'warning', `${used} % of the writes it is rated for are used`),
    ...SECTORS.flatMap(({ id, kind, severity, words }) => {
      const count = report.ata_smart_attributes?.table?.find((one) => one.id === id)?.raw?.value ?? 0;
      return count > 0 ? [{ kind, severity, words: words(count) }] : [];
    }),
    ...hotSign(report, (warning & NVME_HOT) !== 0),
  ];
}

function hotSign({ temperature, nvme_composite_temperature_threshold: limit }: SmartReport, warned: boolean): Sign[] {
  if (warned) return [{ kind: 'hot', severity: 'warning', words: 'it says of itself that it is too hot' }];
  const [celsius, warning] = [temperature?.current, limit?.warning];
  return celsius === undefined || warning === undefined ? [] : heatSign(celsius, warning);
}

/** A drive that is as warm as it warns of itself, °C. */
export function heatSign(celsius: number, limit: number): Sign[] {
  if (celsius < limit) return [];
  return [{ kind: 'hot', severity: 'warning', words: `it is at ${celsius} °C, its own warning is at ${limit}` }];
}

/** It has slowed itself for heat since the last look: minutes above its warning temperature rose. */
export function throttledSign(before: SmartReport | null, now: SmartReport): Sign[] {
  const minutes = (report: SmartReport | null) => report?.nvme_smart_health_information_log?.warning_temp_time;
  const [then, since] = [minutes(before), minutes(now)];
  if (then === undefined || since === undefined || since <= then) return [];
  return [
    {
      kind: 'throttled',
      severity: 'warning',
      words: `it was too hot for ${since - then} more minutes, and slows itself then`,
    },
  ];
}
