import { parseArgs } from 'node:util';
import { ensurePackages } from '../packages.ts';
import { adviseFigures, benchAdvise } from './advise.ts';
import { backupFigures, benchBackup } from './backup.ts';
import { type Figure, ratioOf, sentence } from './figure.ts';
import { benchForecast, forecastFigures } from './forecast.ts';
import { benchIntake, intakeFigures } from './intake.ts';
import { benchProbe, probeFigures } from './probe.ts';
import { benchRunning, runningFigures } from './running.ts';
import { benchSpeed, speedFigures } from './speed.ts';

/** `npm run bench -- ROOM [--only NAME] [--traces FILE] [--json]`: measures both sides in one go and says whether each goal holds. */
interface Room {
  /** Names of what can be measured alone. */
  parts: readonly string[];
  bench: (only: string | null, traces: string | null) => Promise<Figure[]>;
}

const rooms: Readonly<Record<string, Room>> = {
  intake: { parts: intakeFigures, bench: benchIntake },
  probe: { parts: probeFigures, bench: benchProbe },
  speed: { parts: speedFigures, bench: benchSpeed },
  forecast: { parts: forecastFigures, bench: benchForecast },
  backup: { parts: backupFigures, bench: benchBackup },
  running: { parts: runningFigures, bench: benchRunning },
  advise: { parts: adviseFigures, bench: benchAdvise },
};

async function main(args: string[]): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    options: { json: { type: 'boolean' }, only: { type: 'string' }, traces: { type: 'string' } },
    allowPositionals: true,
    strict: false,
  });
  const [name, ...more] = positionals;
  const only = typeof values.only === 'string' ? values.only : null;
  const traces = typeof values.traces === 'string' ? values.traces : null;
  const room = name === undefined ? undefined : rooms[name];
  if (room === undefined || more.length > 0 || values.only === true) return usage();
  if (only !== null && !room.parts.includes(only)) {
    console.error(`${name} has no part ${only}; ${room.parts.length === 0 ? 'none' : room.parts.join(', ')}.`);
    return 2;
  }
  if (!ensurePackages()) return 1;
  const figures = await room.bench(only, traces);
  tell(figures, values.json === true);
  return figures.some(({ value }) => Number.isNaN(value)) ? 1 : 0;
}

function usage(): number {
  const names = Object.keys(rooms).join(', ');
  console.error(`usage: npm run bench -- ROOM [--only NAME] [--json] [--traces FILE, of forecast]; rooms: ${names}`);
  return 2;
}

function tell(figures: readonly Figure[], json: boolean): void {
  if (!json) {
    for (const figure of figures) console.log(sentence(figure));
    return;
  }
  const rows = figures.map((one) => ({
    name: one.name,
    value: one.value,
    unit: one.unit,
    peer: one.peer?.value ?? null,
    ratio: ratioOf(one),
    goal: one.goal,
    holds: one.holds,
  }));
  console.log(JSON.stringify({ figures: rows }));
}

process.exitCode = await main(process.argv.slice(2));
