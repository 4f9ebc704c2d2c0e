import { messageOf } from '../../src/core/fault.ts';
import { type Figure, notMeasured } from './figure.ts';
import { openGround } from './intake/ground.ts';
import { measurePage } from './running/page.ts';

export const runningFigures: readonly string[] = ['page'];

/** The page of a daemon that has run for years. A few minutes, and 100,000 small files below the temporary folder. */
export async function benchRunning(): Promise<Figure[]> {
  const ground = openGround();
  const onSignal = (): void => void ground.clear().finally(() => process.exit(1));
  process.once('SIGINT', onSignal).once('SIGTERM', onSignal);
  try {
    return await measurePage(ground).catch((error: unknown) => [notMeasured('page', messageOf(error))]);
  } finally {
    process.off('SIGINT', onSignal).off('SIGTERM', onSignal);
    await ground.clear();
  }
}
