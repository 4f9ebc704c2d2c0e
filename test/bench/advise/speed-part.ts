import type { ProjectAssessment } from '../../../src/core/assess/assessment.ts';
import { assessSpeed, readBudget } from '../../../src/core/assess/speed-budget.ts';
import { groupLoad, playbackOf } from '../../../src/core/assess/stream-load.ts';
import { type VolumeGives, volumeGives } from '../../../src/core/assess/volume-speed.ts';
import { NOTHING_MADE, sampleGroup, sampleSum } from '../../core/samples.ts';
import type { Dice } from './dice.ts';
import { DAY, HOUR, type Trouble } from './kinds.ts';
import { agenda, type Part } from './part.ts';

const RESERVE = 0.3;
/** A sitting of the edit, in looks ten seconds apart. */
const LOOKS = 240;
const LOOK_MS = 10_000;
const STAYS_DAYS = 14;

interface Angles {
  project: string;
  rates: { meanBps: number; sdBps: number }[];
}

/**
 * Projects of several cameras, edited on days after they came. What the volume gives is known by a measurement in half of the houses,
 * else by its layout; both err as they do (core/assess/speed-belief.ts). The plain threshold: at one look more is read than the budget.
 */
export function speedPart(seed: number, days: number, dice: Dice): Part {
  const truth = dice.about(700e6, 0.4);
  const gives = believed(truth, seed % 2 === 0, dice);
  const changes = agenda();
  const drops: Trouble[] = [];
  let projects: ProjectAssessment[] = [];
  const budget = gives === null ? 0 : readBudget(gives, RESERVE, 1);
  const keep = (now: ProjectAssessment[]) => {
    projects = now;
  };
  let count = 0;
  for (let day = 1; day < days; day += 4 + Math.floor(dice.uniform() * 14)) {
    const angles = anglesOf(`Tidewater Sessions ${++count}`, truth, dice);
    const came = day * DAY + 18 * HOUR;
    const project = projectOf(angles, came);
    changes.add(
      { at: came, run: () => keep([...projects, project]) },
      { at: came + STAYS_DAYS * DAY, run: () => keep(projects.filter((one) => one !== project)) },
    );
    let hasDropped = false;
    for (let later = 1; later < STAYS_DAYS; later++) {
      if ((day + later) % 7 >= 5 || !dice.happens(0.5)) continue;
      const begin = (day + later) * DAY + 14 * HOUR;
      const asked = sitting(angles, truth, dice);
      if (!hasDropped && asked.some((bps) => bps > truth)) {
        hasDropped = true;
        drops.push({ subject: `stripe/${angles.project}`, at: begin, until: begin + LOOKS * LOOK_MS });
      }
      changes.add({
        at: begin,
        run: (naive) => {
          for (const [index, bps] of [...asked, 0].entries())
            naive.tell('speed-overrun', `stripe/${angles.project}`, bps > budget, begin + index * LOOK_MS);
        },
      });
    }
  }
  return {
    step: (now, naive) => changes.run(now, naive),
    show(scene) {
      scene.projects.push(...projects);
      const heaviest = projects.flatMap(({ multicam }) => multicam)[0];
      const demand =
        heaviest === undefined ? null : { playback: playbackOf(heaviest), from: 'playing the angles at once' };
      scene.volume.speed = assessSpeed(gives, RESERVE, demand, null);
    },
    next: changes.next,
    troubles: { 'speed-overrun': drops },
  };
}

function believed(truth: number, isMeasured: boolean, dice: Dice): VolumeGives | null {
  const source = isMeasured ? 'benchmark' : 'layout';
  const bps = truth * Math.exp((isMeasured ? 0.08 : 0.35) * dice.normal());
  const evidence = [{ bps, source, at: isMeasured ? 0 : null } as const];
  const nothing = { declared: null, layout: null, filled: null, points: [] };
  return volumeGives({ ...nothing, read: evidence, write: evidence }, 0);
}

function anglesOf(project: string, truth: number, dice: Dice): Angles {
  const cameras = 2 + Math.floor(dice.uniform() * 6);
  const all = truth * dice.about(0.35, 0.5);
  const rates = Array.from({ length: cameras }, () => {
    const meanBps = (all / cameras) * dice.about(1, 0.15);
    return { meanBps, sdBps: meanBps * dice.between(0.03, 0.2) };
  });
  return { project, rates };
}

function projectOf({ project, rates }: Angles, readyAt: number): ProjectAssessment {
  const demandBps = rates.reduce((sum, { meanBps }) => sum + meanBps, 0);
  const group = sampleGroup({
    ...{ readyAt, startsAt: readyAt, endsAt: readyAt, angles: rates.length, demandBps, peakBps: groupLoad(rates) },
    cameras: rates.map((_, index) => String.fromCharCode(65 + index)),
    largestBps: Math.max(...rates.map(({ meanBps }) => meanBps)),
    members: [],
  });
  const edit = { ...NOTHING_MADE.edit, declared: true };
  return { ...NOTHING_MADE, edit, sum: sampleSum({ project }), multicam: [group] };
}

/** What is read at each look: the angles, now and then a transition or scrubbing, and caches that are written in bursts. */
function sitting({ rates }: Angles, truth: number, dice: Dice): number[] {
  const mean = rates.reduce((sum, { meanBps }) => sum + meanBps, 0);
  const largest = Math.max(...rates.map(({ meanBps }) => meanBps));
  let burst = 0;
  return Array.from({ length: LOOKS }, () => {
    const scene = dice.normal();
    const angles = rates.reduce(
      (sum, { meanBps, sdBps }) => sum + meanBps + sdBps * Math.SQRT1_2 * (scene + dice.normal()),
      0,
    );
    burst = burst > 0 ? burst - 1 : dice.happens(0.02) ? 1 + Math.floor(dice.uniform() * 8) : 0;
    const others = truth * (burst > 0 ? dice.between(0.1, 0.25) : 0.03);
    return angles + (dice.happens(0.1) ? largest : 0) + (dice.happens(0.1) ? mean / 10 : 0) + others;
  });
}
