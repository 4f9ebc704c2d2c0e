import { ensurePackages } from '../packages.ts';
import { type Figure, ratioOf, sentence } from './figure.ts';
import { benchIntake } from './intake.ts';
import { benchProbe } from './probe.ts';

/** `npm run bench -- ROOM [--json]`: measures both sides in one go and says whether each goal holds. */
const rooms: Readonly<Record<string, () => Promise<Figure[]>>> = { intake: benchIntake, probe: benchProbe };

/** Rooms whose bench comes with what it will measure. */
const waiting: readonly string[] = ['speed', 'forecast', 'backup', 'running'];

async function main(args: string[]): Promise<number> {
  const json = args.includes('--json');
  const [room, ...more] = args.filter((arg) => arg !== '--json');
  const bench = room === undefined ? undefined : rooms[room];
  if (room !== undefined && waiting.includes(room)) {
    console.error(`The room ${room} has no bench yet; there are: ${Object.keys(rooms).join(', ')}.`);
    return 1;
  }
  if (bench === undefined || more.length > 0) {
    console.error(`usage: npm run bench -- ROOM [--json]; rooms: ${[...Object.keys(rooms), ...waiting].join(', ')}`);
    return 2;
  }
  if (!ensurePackages()) return 1;
  const figures = await bench();
  if (json) {
    const rows = figures.map((one) => ({
      name: one.name,
      value: one.value,
      peer: one.peer?.value ?? null,
      ratio: ratioOf(one),
      goal: one.goal,
      holds: one.holds,
    }));
    console.log(JSON.stringify({ figures: rows }));
  } else {
    for (const figure of figures) console.log(sentence(figure));
  }
  return 0;
}

process.exitCode = await main(process.argv.slice(2));
