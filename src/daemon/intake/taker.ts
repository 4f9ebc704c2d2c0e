import type { Clip, FileRecord, PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { lackSentences } from '../../core/present/clip-words.ts';
import { display } from '../../core/present/escape.ts';
import type { RootPort } from '../../core/root-port.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import type { VolumeSettings } from '../../settings/settings.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import { type Understanding, type Understood, understand } from './understand.ts';

export interface TakerDeps {
  volume: VolumeSettings;
  root: RootPort;
  catalogue: CataloguePort;
  trouble: StoreTrouble;
  clock: Clock;
  log: Log;
  touched: (project: string | null) => void;
}

/** Reads and keeps what has settled: the last stages of the ingest flow. */
export interface Taker {
  read(unit: string, records: readonly FileRecord[], evidence: Clip['evidence']): Promise<Understanding>;
  /** Rejects when the store refuses. */
  keep(unit: string, understood: Understood): Promise<void>;
  refused(records: readonly FileRecord[]): Promise<void>;
}

export function createTaker({ volume, root, catalogue, trouble, clock, log, touched }: TakerDeps): Taker {
  /** A unit is read whole: with the files that settled earlier, as the records at hand say newer things of their own. */
  async function filesToRead(unit: string, records: readonly FileRecord[]): Promise<FileRecord[]> {
    const files = new Map<PathText, FileRecord>();
    for (const file of await catalogue.filesOfUnits(volume.name, [unit])) {
      if (file.state === 'ready') files.set(file.path, file);
    }
    for (const record of records) files.set(record.path, record);
    return [...files.values()];
  }

  function tell(clip: Clip): void {
    const file = clip.paths[0] ?? '';
    const folder = file.slice(0, file.lastIndexOf('/') + 1);
    const fields = { event: 'clip-ready', volume: volume.name, project: clip.project, file: `${volume.path}/${file}` };
    const where = display(`${folder}${clip.name}`);
    const lacks = lackSentences(clip);
    if (clip.state === 'not-decoded') {
      log.warn(fields, `Not decoded: ${where}. Its bytes count; check that it plays, and keep the card.`);
    } else if (lacks.length > 0) {
      log.warn(fields, `Ready, but not complete: ${where}: ${display(lacks.join(' '))}`);
    } else log.info({ ...fields, evidence: clip.evidence }, `Ready: ${where}.`);
  }

  return {
    async read(unit, records, evidence) {
      const seen = new Set(records.map(({ path }) => path));
      return understand(await filesToRead(unit, records), seen, evidence, { root, log, at: clock.now });
    },
    async keep(unit, { files, clips, fresh, beside, lists }) {
      try {
        if (lists.length > 0) await catalogue.putCardLists(volume.name, lists);
        const [looked, others] = [false, true].map((wanted) => files.filter(({ path }) => beside.has(path) === wanted));
        await catalogue.finishUnit(volume.name, unit, looked ?? [], clips, others);
      } catch (error) {
        trouble.refused(error);
        throw error;
      }
      trouble.worked();
      for (const clip of clips) if (fresh.has(clip.name)) tell(clip);
      for (const project of new Set(files.map((file) => file.project))) touched(project);
    },
    async refused(records) {
      try {
        await catalogue.putFiles(records.map((record) => ({ ...record, state: 'refused' })));
      } catch (error) {
        trouble.refused(error);
      }
      for (const project of new Set(records.map((record) => record.project))) touched(project);
    },
  };
}
